//! What a network asks of the places its roads lie at.
use crate::base::geodesy::Position;
use crate::map::place::places::Places;

/// What a network asks of the places its roads lie at.
#[derive(Clone, Copy)]
pub struct Surroundings<'a> {
    /// Countries.
    pub places: &'a Places,
    /// Whether a place is built-up; nothing where that is not known.
    pub built_up: &'a dyn Fn(Position) -> Option<bool>,
}

impl<'a> Surroundings<'a> {
    /// Countries alone: whether places are built-up is not known anywhere.
    pub fn of(places: &'a Places) -> Self {
        Self { places, built_up: &|_| None }
    }
}
