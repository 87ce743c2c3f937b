//! What a page is made from.
use crate::ask::portion::Portion;
use crate::base::words::Units;

/// What a map page is made from.
pub struct MapPage<'a> {
    /// What the region is called.
    pub title: &'a str,
    /// The part of the layer.
    pub portion: &'a Portion,
    /// Units of lengths.
    pub units: Units,
    /// Says which layer it was made from, see [`super::layer_mark`].
    pub mark: &'a str,
}
