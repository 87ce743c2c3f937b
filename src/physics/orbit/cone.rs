//! The part of the sky a panel can use: its scan cone, its lowest elevation, and not what the vehicle itself blocks.
use super::geometry::SkyDirection;
use crate::profile::{Bearings, BlockedSector, Terminal};

/// Slack at the edge of the cone, degrees, for rounding of directions.
const EDGE_SLACK_DEG: f64 = 1e-6;

/// The usable sky of a terminal, in the axes its bearings count from.
///
/// Sectors the vehicle blocks shrink the usable sky as the edge of the cone does: they are not an obstruction of the
/// road, whose open share is a share of what the panel could use there.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cone {
    lowest_elevation_deg: f64,
    scan_half_angle_deg: f64,
    /// The panel's normal (east, north, up) with the bearing's axis pointing north; `None` for a flat panel.
    normal: Option<[f64; 3]>,
    cos_scan: f64,
    bearings: Bearings,
    blocked: Vec<BlockedSector>,
}

impl Cone {
    /// The usable sky of a terminal.
    pub fn new(terminal: &Terminal) -> Self {
        let tilted = terminal.tilt_deg != 0.0;
        let normal = SkyDirection::new(terminal.tilt_towards_deg, 90.0 - terminal.tilt_deg).unit();
        Self {
            lowest_elevation_deg: terminal.lowest_elevation_deg,
            scan_half_angle_deg: terminal.scan_half_angle_deg,
            normal: tilted.then_some(normal),
            cos_scan: (terminal.scan_half_angle_deg + EDGE_SLACK_DEG).to_radians().cos(),
            bearings: terminal.bearings_from,
            blocked: terminal.blocked.clone(),
        }
    }
    /// Whether the usable sky turns with the vehicle.
    pub fn turns(&self) -> bool {
        self.bearings == Bearings::Heading && (self.normal.is_some() || !self.blocked.is_empty())
    }
    /// Whether a panel on a vehicle of a heading can use a direction, degrees.
    pub fn sees(&self, heading_deg: f64, azimuth_deg: f64, elevation_deg: f64) -> bool {
        if elevation_deg < self.lowest_elevation_deg - EDGE_SLACK_DEG {
            return false;
        }
        let bearing_deg = match self.bearings {
            Bearings::Heading => azimuth_deg - heading_deg,
            Bearings::North => azimuth_deg,
        };
        let scanned = match self.normal {
            None => 90.0 - elevation_deg <= self.scan_half_angle_deg + EDGE_SLACK_DEG,
            Some(normal) => {
                let to = SkyDirection::new(bearing_deg, elevation_deg).unit();
                normal.iter().zip(to).map(|(a, b)| a * b).sum::<f64>() >= self.cos_scan
            }
        };
        scanned && !self.blocked.iter().any(|sector| sector.holds(bearing_deg, elevation_deg))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sector(from: f64, to: f64, low: f64, high: f64) -> BlockedSector {
        BlockedSector { bearing_from_deg: from, bearing_to_deg: to, elevation_from_deg: low, elevation_to_deg: high }
    }

    #[test]
    fn what_the_vehicle_blocks_turns_with_it() {
        let blocked = vec![sector(120.0, 240.0, 0.0, 50.0), sector(-20.0, 10.0, 60.0, 70.0)];
        let cone = Cone::new(&Terminal { blocked, ..Terminal::default() });
        assert!(cone.turns());
        for heading_deg in [0.0, 75.0, 300.0, -45.0] {
            let sees = |bearing: f64, elevation: f64| cone.sees(heading_deg, heading_deg + bearing, elevation);
            assert!(!sees(180.0, 40.0) && sees(180.0, 51.0) && sees(119.0, 40.0) && sees(241.0, 40.0));
            assert!(!sees(350.0, 65.0) && !sees(5.0, 65.0) && sees(11.0, 65.0) && sees(0.0, 59.0) && sees(0.0, 71.0));
        }
    }

    #[test]
    fn a_stand_keeps_to_true_north() {
        let stand = Terminal { tilt_deg: 20.0, bearings_from: Bearings::North, ..Terminal::default() };
        let cone = Cone::new(&Terminal { blocked: vec![sector(80.0, 100.0, 0.0, 90.0)], ..stand });
        assert!(!cone.turns());
        for heading_deg in [0.0, 90.0, 217.0] {
            assert!(cone.sees(heading_deg, 0.0, 25.5) && !cone.sees(heading_deg, 180.0, 54.5));
            assert!(!cone.sees(heading_deg, 90.0, 80.0));
        }
    }

    #[test]
    fn a_flat_panel_or_a_whole_ring_needs_no_heading() {
        assert!(!Cone::new(&Terminal::default()).turns());
        let ring = Cone::new(&Terminal { blocked: vec![sector(0.0, 360.0, 70.0, 90.0)], ..Terminal::default() });
        assert!((0..72).all(|k| !ring.sees(0.0, 5.0 * f64::from(k), 75.0) && ring.sees(0.0, 5.0 * f64::from(k), 60.0)));
    }
}
