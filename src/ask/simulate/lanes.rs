//! StoredLanes of a layer as simulated drives need them.
use std::borrow::Cow;

use crate::ask::corridor::Piece;
use crate::ask::place::{masks_of, overheads_of, unpacked_masks};
use crate::base::error::Result;
use crate::base::words::{Case, Direction};
use crate::layer::model::{EndMaskRow, SegmentRow};
use crate::layer::schema::Row;
use crate::layer::{Layer, damaged_value};
use crate::physics::link::model::Stretch;
use crate::physics::sky::mask::{Mask, SkyGrid};
use crate::rating::pieces::RoadPiece;

/// The lanes of a layer.
pub(super) struct StoredLanes<'a> {
    pub layer: &'a Layer,
    pub grid: SkyGrid,
}

/// A lane under one case of what is assumed about the roadside.
pub(super) struct DrivenLane {
    pub row: SegmentRow,
    pub stretch: Stretch,
}

impl StoredLanes<'_> {
    /// The lane of a piece at the speed the piece is driven at; nothing where the layer holds no masks of it.
    pub fn of(&self, piece: &Piece, case: Case) -> Result<Option<DrivenLane>> {
        let (layer, id, forward) = (self.layer, piece.segment_id, piece.forward);
        let (Some(row), Some(masks)) = (layer.segment(id)?, self.masks(piece, case)?) else { return Ok(None) };
        let overheads = layer.lane(id, forward)?.map_or(Ok(Vec::new()), |lane| overheads_of(layer.path(), &lane))?;
        let as_piece = RoadPiece {
            line: Cow::Borrowed(&row.line),
            length_m: row.length_m,
            stations: masks.len() as u32,
            speeds_kmh: [0.0; 2],
            climb: f32::NAN,
            boarded: false,
        };
        let headings_deg = as_piece.headings_deg(Direction::of(forward));
        let speed_mps = piece.length_m / piece.time_s.max(1e-3);
        let stretch = Stretch { length_m: row.length_m, speed_mps, masks, headings_deg, overheads };
        Ok(Some(DrivenLane { row, stretch }))
    }
    /// Whether its masks at either end of what is assumed about the roadside are others than those as stated.
    pub fn is_apart(&self, piece: &Piece) -> Result<bool> {
        Ok(!self.layer.end_masks(piece.segment_id, piece.forward)?.is_empty())
    }
    fn masks(&self, piece: &Piece, case: Case) -> Result<Option<Vec<Mask>>> {
        let (layer, id, forward) = (self.layer, piece.segment_id, piece.forward);
        if case != Case::Likely
            && let Some(row) = layer.end_masks(id, forward)?.into_iter().find(|row| row.at == case)
        {
            let damaged =
                |fact: String| damaged_value(layer.path(), &EndMaskRow::TABLE, row.end_mask_id, "packed", &fact);
            return unpacked_masks(self.grid, &row.packed, row.stations).map(Some).map_err(damaged);
        }
        layer.masks(id, forward)?.map(|row| masks_of(layer.path(), self.grid, &row)).transpose()
    }
}
