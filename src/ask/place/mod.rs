//! The sky over one place of a layer: what blocks it, where satellites are expected, and who passes when.
mod model;
mod over;
mod passing;

pub use model::{FRESH_DAYS, PassesQuestion, Sighted, SkyAnswer, SkyCell, SkyPass, SkyQuestion, SkyShares};
pub use over::sky;
pub(crate) use over::{NO_END_MASKS, expected_under_open_sky, masks_of, no_masks, overheads_of, unpacked_masks};
pub use passing::read_elements;
