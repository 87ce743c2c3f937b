//! Rows that lie in any of several boxes, which may overlap: each is read once.
use super::checked::Coherent;
use super::geometry::Bounds;
use super::reader::Layer;
use super::schema::{Load, Row};
use crate::base::error::Result;

impl Layer {
    /// How many rows have a box that meets one of some boxes.
    pub(crate) fn count_in<R: Row>(&self, boxes: &[Bounds]) -> Result<u64> {
        Ok(self.keys_in_any(&R::TABLE, boxes)?.len() as u64)
    }
    /// Rows whose boxes meet one of some boxes, by id. Boxes are rounded outwards: a few more may be among them.
    pub(crate) fn rows_in<R: Load + Coherent>(&self, boxes: &[Bounds]) -> Result<Vec<R>> {
        self.rows_of(self.keys_in_any(&R::TABLE, boxes)?)
    }
}
