//! The part of a profile that a drive obeys, and which satellites a panel can use.
use crate::physics::orbit::cone::Cone;
use crate::physics::sky::mask::SkyGrid;
use crate::profile::Profile;

/// Shortest gap length and slot reckoned with, metres and seconds: bound the work of a drive.
const SHORTEST: f64 = 0.25;

/// What a drive obeys.
#[derive(Debug, Clone)]
pub(super) struct LinkRules {
    pub grid: SkyGrid,
    pub lowest_elevation_deg: f64,
    pub cone: Cone,
    /// Whether the cone turns with the vehicle.
    pub turns: bool,
    pub slot_s: f64,
    pub reselection_s: f64,
    pub glimpse_s: f64,
    pub hold_s: f64,
    pub reacquire_s: f64,
    pub reacquire_from_s: f64,
    pub awareness: f64,
    pub usable_share: f64,
    pub elevation_preference: f64,
    pub gap_length_m: f64,
}

impl LinkRules {
    pub fn new(grid: SkyGrid, profile: &Profile) -> Self {
        let (terminal, link) = (&profile.terminal, &profile.link);
        let cone = Cone::new(terminal);
        Self {
            grid,
            lowest_elevation_deg: terminal.lowest_elevation_deg,
            turns: cone.turns(),
            cone,
            slot_s: link.slot_s.max(SHORTEST),
            reselection_s: link.reselection_s.max(0.0),
            glimpse_s: link.glimpse_s.max(0.0),
            hold_s: link.hold_s.max(0.0),
            reacquire_s: link.reacquire_s.max(0.0),
            reacquire_from_s: link.reacquire_from_s.max(SHORTEST),
            awareness: link.awareness,
            usable_share: link.usable_share,
            elevation_preference: link.elevation_preference,
            gap_length_m: profile.canopy.gap_length_m.max(SHORTEST),
        }
    }
    /// How much a satellite is preferred over others: sin(elevation) to the power of the preference.
    pub fn preference(&self, elevation_deg: f64) -> f64 {
        elevation_deg.to_radians().sin().powf(self.elevation_preference)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(rules: &LinkRules, azimuth_deg: f32, elevation_deg: f32, heading_deg: f64) -> bool {
        rules.cone.sees(heading_deg, f64::from(azimuth_deg), f64::from(elevation_deg))
    }

    #[test]
    fn a_flat_panel_sees_down_to_its_scan_cone() {
        let rules = LinkRules::new(SkyGrid { floor_deg: 35.0 }, &Profile::default());
        assert!(seen(&rules, 10.0, 35.1, 0.0) && !seen(&rules, 10.0, 34.9, 0.0));
    }

    #[test]
    fn a_tilted_panel_sees_lower_on_the_side_it_leans_to() {
        // Normal 8 degrees off the zenith to the right: cone edge at 90 - 55 - 8 = 27 there, 43 on the left.
        let mut profile = Profile::default();
        profile.terminal.tilt_deg = 8.0;
        profile.terminal.tilt_towards_deg = 90.0;
        let rules = LinkRules::new(SkyGrid { floor_deg: 27.0 }, &profile);
        for heading_deg in [0.0, 200.0] {
            let right = (heading_deg as f32 + 90.0) % 360.0;
            let left = (heading_deg as f32 + 270.0) % 360.0;
            assert!(seen(&rules, right, 27.1, heading_deg) && !seen(&rules, right, 26.9, heading_deg));
            assert!(seen(&rules, left, 43.1, heading_deg) && !seen(&rules, left, 42.9, heading_deg));
        }
    }

    #[test]
    fn the_lowest_elevation_cuts_the_cone() {
        let mut profile = Profile::default();
        profile.terminal.scan_half_angle_deg = 80.0;
        let rules = LinkRules::new(SkyGrid { floor_deg: 25.0 }, &profile);
        assert!(seen(&rules, 0.0, 25.0, 0.0) && !seen(&rules, 0.0, 24.9, 0.0));
    }
}
