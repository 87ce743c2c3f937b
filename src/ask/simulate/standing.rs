//! Standing somewhere for a while.
use super::skies::{STANDING_MPS, SkyShelf, Use};
use crate::physics::link::each::each_drive;
use crate::physics::link::model::Stretch;
use crate::physics::link::stats::Outage;
use crate::physics::sky::mask::Mask;

/// A sky that does not move.
pub(super) struct Standing {
    /// What is in it.
    pub mask: Mask,
    /// Heading of the vehicle, degrees.
    pub heading_deg: f32,
    /// Key of the latitude.
    pub latitude: i32,
    /// How the panel is used.
    pub use_: Use,
    /// What its draws are named by.
    pub name: u64,
}

impl Standing {
    /// Outages of every drive over some seconds.
    pub fn outages(&self, seconds: f64, shelf: &SkyShelf) -> Vec<Vec<Outage>> {
        let stretch = Stretch {
            length_m: seconds * STANDING_MPS,
            speed_mps: STANDING_MPS,
            masks: vec![self.mask.clone(); 2],
            headings_deg: vec![self.heading_deg; 2],
            overheads: Vec::new(),
        };
        each_drive(&[stretch], &shelf.of(self.latitude, self.use_), &shelf.profile(self.use_), self.name)
    }
}
