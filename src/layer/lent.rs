//! Sky masks read from a layer, or from those that it was joined of.
use rusqlite::params;

use super::model::{END_MASKS, EndMaskRow, MaskRow};
use super::reader::{Layer, LentMasks};
use crate::base::error::Result;

impl Layer {
    /// Hands out the masks of all segments one after another, in the order they were written.
    pub fn each_masks(&self, mut take: impl FnMut(MaskRow) -> Result<()>) -> Result<()> {
        self.each("ORDER BY mask_id", [], &mut take)
    }
    /// Hands out the masks at either end of what is assumed, of all segments that have such.
    pub fn each_end_masks(&self, mut take: impl FnMut(EndMaskRow) -> Result<()>) -> Result<()> {
        self.each("ORDER BY end_mask_id", [], &mut take)
    }
    /// Whether the masks at either end are there, as many as the record says.
    pub fn has_end_masks(&self) -> Result<bool> {
        if let Some(lent) = &self.lent {
            return lent.all_ends();
        }
        let sql = "SELECT count(*) FROM end_masks";
        let there: i64 = self.connection.query_row(sql, [], |r| r.get(0)).map_err(|e| self.broken("end_masks", &e))?;
        let told = self.record().counts.get(END_MASKS).copied().unwrap_or(0);
        Ok(there as u64 >= told)
    }
    /// Whether it holds any sky masks.
    pub fn has_masks(&self) -> Result<bool> {
        if let Some(lent) = &self.lent {
            return lent.any();
        }
        let sql = "SELECT EXISTS (SELECT 1 FROM masks)";
        self.connection.query_row(sql, [], |r| r.get(0)).map_err(|e| self.broken("masks", &e))
    }
    /// Those of a segment in one direction: at best and at worst, or none where nothing is assumed that could move them.
    pub fn end_masks(&self, segment_id: i64, forward: bool) -> Result<Vec<EndMaskRow>> {
        if let Some(lent) = &self.lent {
            return lent.end_masks(segment_id, forward);
        }
        self.query("WHERE segment_id = ? AND forward = ? ORDER BY end_mask_id", params![segment_id, forward])
    }
    /// The masks of a segment in one direction.
    pub fn masks(&self, segment_id: i64, forward: bool) -> Result<Option<MaskRow>> {
        if let Some(lent) = &self.lent {
            return lent.masks(segment_id, forward);
        }
        Ok(self.query("WHERE segment_id = ? AND forward = ?", params![segment_id, forward])?.pop())
    }
}

impl LentMasks {
    /// Of layers, and of the row of every segment: the place of its layer among these, and its id there.
    pub fn new(layers: Vec<Layer>, rows: Vec<Option<(usize, i64)>>) -> Self {
        Self { layers, rows }
    }
    fn row(&self, segment_id: i64) -> Option<(&Layer, i64)> {
        let at = usize::try_from(segment_id).ok()?.checked_sub(1)?;
        let (layer, id) = self.rows.get(at).copied().flatten()?;
        Some((self.layers.get(layer)?, id))
    }
    /// The masks of a segment in one direction.
    pub(super) fn masks(&self, segment_id: i64, forward: bool) -> Result<Option<MaskRow>> {
        let Some((layer, id)) = self.row(segment_id) else { return Ok(None) };
        let mask_id = 2 * segment_id - i64::from(forward);
        Ok(layer.masks(id, forward)?.map(|row| MaskRow { mask_id, segment_id, ..row }))
    }
    /// Those at best and at worst.
    pub(super) fn end_masks(&self, segment_id: i64, forward: bool) -> Result<Vec<EndMaskRow>> {
        let Some((layer, id)) = self.row(segment_id) else { return Ok(Vec::new()) };
        let lane_id = 2 * segment_id - i64::from(forward);
        let own = |row: EndMaskRow| EndMaskRow { end_mask_id: EndMaskRow::id_of(lane_id, row.at), segment_id, ..row };
        Ok(layer.end_masks(id, forward)?.into_iter().map(own).collect())
    }
    /// Whether any layer holds some.
    pub(super) fn any(&self) -> Result<bool> {
        for layer in &self.layers {
            if layer.has_masks()? {
                return Ok(true);
            }
        }
        Ok(false)
    }
    /// Whether those at either end are there in all layers, as many as their records say.
    pub(super) fn all_ends(&self) -> Result<bool> {
        for layer in &self.layers {
            if !layer.has_end_masks()? {
                return Ok(false);
            }
        }
        Ok(true)
    }
}
