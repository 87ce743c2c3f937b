//! What a simulated drive needs, and what it gives.
use crate::physics::scene::overheads::overhead::Overhead;
use crate::physics::sky::mask::Mask;

/// One segment of a stroke, in the direction driven.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Length, metres.
    pub length_m: f64,
    /// Speed, metres per second, above zero.
    pub speed_mps: f64,
    /// Masks of its stations in the order driven, evenly spaced from its start to its end, at least
    /// two; a mask holds until halfway to the next station.
    pub masks: Vec<Mask>,
    /// Heading at each station, degrees.
    pub headings_deg: Vec<f32>,
    /// What stands over it; positions count from the start of the stretch in the direction driven.
    pub overheads: Vec<Overhead>,
}

/// Outage statistics of one segment in one direction.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct OutageStats {
    /// Expected share of driving time without a link.
    pub outage_share: f64,
    /// Expected seconds without a link while on the segment.
    pub outage_s: f64,
    /// The same share over at least the profile's window of driving around the segment.
    pub outage_share_window: f64,
    /// Outages that begin on the segment, expected per 10 km driven on it.
    pub outages_per_10km: f64,
    /// Median over drives of the longest outage that counts on the segment, whole length, seconds; 0 without one. It counts where
    /// it takes half a second, a tenth of the driving time or half of its own.
    pub outage_p50_s: f64,
    /// 95th percentile over drives of the same, seconds.
    pub outage_p95_s: f64,
    /// Mean over drives of the same, seconds.
    pub longest_outage_s: f64,
    /// Outages per drive that begin on the segment and are longer than the edges of blips, gaps and drops; they add up along
    /// a road.
    pub beyond: [f64; 3],
    /// Share of drives in which an outage runs at the start of the segment with more than these edges left.
    pub running: [f64; 3],
    /// Share of drives in which one outage goes on from here into the next segment.
    pub goes_on: f64,
    /// What drives of even and of odd number say by themselves: how far figures of half as many drives lie apart.
    pub halves: [RatedFigures; 2],
}

/// The figures that a rating is made of.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RatedFigures {
    /// 95th percentile outage, seconds.
    pub outage_p95_s: f64,
    /// Share of driving time without a link.
    pub outage_share: f64,
    /// The same over at least the profile's window.
    pub outage_share_window: f64,
}
