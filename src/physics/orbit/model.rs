//! What the sky holds at one latitude.

/// Expected usable satellites per cell of a [`crate::physics::sky::mask::SkyGrid`] at one latitude.
#[derive(Debug, Clone, PartialEq)]
pub struct SkyWeights {
    /// Expected number per cell, in the order of [`crate::physics::sky::mask::SkyGrid::cell`].
    pub expected: Vec<f32>,
}

/// A satellite above the lowest elevation at one second of a timeline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sighting {
    /// Identity within the constellation.
    pub satellite: u32,
    /// Azimuth, degrees clockwise from true north.
    pub azimuth_deg: f32,
    /// Elevation, degrees.
    pub elevation_deg: f32,
}

/// The satellites above a lowest elevation at one latitude, second by second.
#[derive(Debug, Clone, PartialEq)]
pub struct Timeline {
    /// Latitude, degrees.
    pub latitude_deg: f64,
    /// All sightings, second by second, by satellite within a second.
    pub sightings: Vec<Sighting>,
    /// Start of each second in `sightings`, with one more entry at the end.
    pub starts: Vec<u32>,
}

impl Timeline {
    /// Length, whole seconds.
    pub fn seconds(&self) -> usize {
        self.starts.len() - 1
    }
    /// What stands in the sky at a second; seconds beyond the end start over.
    pub fn at(&self, second: usize) -> &[Sighting] {
        let s = second % self.seconds();
        &self.sightings[self.starts[s] as usize..self.starts[s + 1] as usize]
    }
}
