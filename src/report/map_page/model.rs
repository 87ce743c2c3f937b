//! What a page is made from.
use crate::ask::portion::Portion;

/// What a map page is made from.
pub struct MapPage<'a> {
    /// What the region is called.
    pub title: &'a str,
    /// The part of the layer.
    pub portion: &'a Portion,
    /// Says which layer it was made from, see [`super::layer_mark`].
    pub mark: &'a str,
}
