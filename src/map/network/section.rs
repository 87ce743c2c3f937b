//! The road's cross-section: lanes, widths, clear width and where the panel travels in it.
//!
//! Lane widths follow the ranges of the FHWA (Mitigation Strategies for Design Exceptions, chapter 3:
//! freeway 3.6 m, arterial 3.3 to 3.6 m, collector 3.0 to 3.6 m, local 2.7 to 3.6 m). Distances to
//! trees follow the suggested clear zones of the AASHTO Roadside Design Guide (4th edition, 2011), table 3-1:
//! middle of each range, flat foreslope. The title of the table was checked, its figures are from memory (the
//! guide is not free, and no free copy of the table was found): a prior for where trees stand, marked assumed.
use super::model::{CrossSection, FreeWidth, Sourced};
use crate::base::words::{Case, DrivingSide, PerCase, RoadClass, ValueFrom};
use crate::map::extract::model::{Oneway, Road};
use crate::profile::{CanopyProfile, Cases, Lane, Roadside};

/// Default lane width of a class, metres.
pub(crate) fn lane_width_m(class: RoadClass) -> f32 {
    match class {
        RoadClass::Motorway | RoadClass::Trunk => 3.6,
        RoadClass::Primary => 3.5,
        RoadClass::Secondary => 3.3,
        RoadClass::Tertiary => 3.1,
        RoadClass::Unclassified | RoadClass::Residential => 2.8,
        RoadClass::LivingStreet | RoadClass::Service => 3.0,
        RoadClass::Track => 2.6,
        RoadClass::Ferry => 8.0,
        RoadClass::ShuttleTrain => 4.0,
    }
}

/// Default number of lanes of a way, both directions together.
fn default_lanes(class: RoadClass, link: bool, one_way: bool) -> u8 {
    use RoadClass::*;
    match class {
        _ if link => 1,
        Motorway | Trunk if one_way => 2,
        Service | Track | LivingStreet | Ferry | ShuttleTrain => 1,
        _ if one_way => 1,
        _ => 2,
    }
}

/// Lanes in and against node order: tags first, then an even split (an odd one goes forward).
fn split_lanes(road: &Road, lanes: u8) -> (u8, u8) {
    match road.oneway {
        Oneway::Forward => (lanes, 0),
        Oneway::Backward => (0, lanes),
        Oneway::Both => match (road.lanes_forward, road.lanes_backward) {
            (Some(f), Some(b)) => (f, b),
            (Some(f), None) => (f, lanes.saturating_sub(f)),
            (None, Some(b)) => (lanes.saturating_sub(b), b),
            (None, None) => (lanes - lanes / 2, lanes / 2),
        },
    }
}

/// Total lanes with their source.
fn lanes_of(road: &Road) -> Sourced<u8> {
    let by_direction = match (road.lanes_forward, road.lanes_backward) {
        (Some(f), Some(b)) => Some(f.saturating_add(b)),
        (Some(n), None) if road.oneway == Oneway::Forward => Some(n),
        (None, Some(n)) if road.oneway == Oneway::Backward => Some(n),
        _ => None,
    };
    match road.lanes.or(by_direction).filter(|n| *n > 0) {
        Some(value) => Sourced { value, from: ValueFrom::Tag },
        None => {
            let value = default_lanes(road.class, road.link, road.oneway != Oneway::Both);
            Sourced { value, from: ValueFrom::Default }
        }
    }
}

/// From the carriageway's edge to where trees may stand, metres, by class, speed and lanes.
fn clear_m(class: RoadClass, link: bool, speed_kmh: f32, lanes_one_way: u8, roadside: &Roadside) -> f32 {
    // Rows: up to 64, 80, 89, 97 km/h (40, 50, 55, 60 mph) and above; columns: little, some, heavy traffic.
    const TABLE_M: [[f32; 3]; 5] =
        [[2.6, 3.4, 4.6], [3.4, 4.6, 6.4], [4.0, 5.2, 7.0], [5.2, 6.7, 9.4], [5.8, 7.6, 9.8]];
    let row = [64.5, 80.5, 89.5, 97.5].iter().position(|limit| speed_kmh <= *limit).unwrap_or(4);
    let column = match class {
        RoadClass::Motorway | RoadClass::Trunk => 2,
        RoadClass::Primary => 1,
        RoadClass::Secondary | RoadClass::Tertiary => 0,
        // Local roads are not built to the table.
        RoadClass::Unclassified => return roadside.clear_unclassified_m as f32,
        RoadClass::Residential => return roadside.clear_residential_m as f32,
        RoadClass::LivingStreet => return roadside.clear_living_street_m as f32,
        RoadClass::Service => return roadside.clear_service_m as f32,
        RoadClass::Track => return roadside.clear_track_m as f32,
        RoadClass::Ferry => return 1000.0,
        RoadClass::ShuttleTrain => return 4.0,
    };
    let column = if lanes_one_way >= 2 {
        2
    } else if link {
        column.min(1)
    } else {
        column
    };
    TABLE_M[row][column] * roadside.clear_zone_factor as f32
}

/// Free width between the crowns of trees that stand `free_m` apart, metres: none up to where they meet, all of it from where
/// they stay apart on. In between it grows with the square: the first decimetres of a slit open most.
fn crown_gap_m(free_m: f32, canopy: &CanopyProfile) -> f32 {
    let (meet_m, part_m) = (canopy.crowns_meet_m as f32, canopy.crowns_part_m as f32);
    let opened = ((free_m - meet_m) / part_m).max(0.0);
    if opened >= 1.0 { free_m } else { (meet_m + part_m) * opened * opened }
}

/// Distance of the driven lane's middle from the carriageway's middle towards the nearside, metres,
/// for `own` lanes of this direction beside `other` lanes of the opposite one.
fn lane_from_middle_m(own: u8, other: u8, width_m: f32, lane: Lane) -> f32 {
    if own == 0 || own + other == 1 {
        return 0.0;
    }
    let lane_m = width_m / f32::from(own + other);
    // The direction's lanes reach from the dividing line (a share of the width) to the nearside edge.
    let nearside_edge = width_m / 2.0;
    let place = match lane {
        Lane::Nearside => 0.5,
        Lane::Offside => f32::from(own) - 0.5,
        Lane::Middle => f32::from(own) / 2.0,
    };
    nearside_edge - place * lane_m
}

/// The cross-section of a road.
///
/// `speed_kmh` is the speed driven (it decides how far trees are kept away), `side` the traffic side.
pub(crate) fn cross_section(road: &Road, speed_kmh: f32, side: DrivingSide, cases: &Cases) -> CrossSection {
    let lane = cases.likely.vehicle.lane;
    let lanes = lanes_of(road);
    let (mut forward, mut backward) = split_lanes(road, lanes.value);
    if road.oneway == Oneway::Both && lanes.value == 1 {
        // One lane for both directions: each drives in the middle.
        (forward, backward) = (1, 0);
    }
    let width_m = match road.width_m {
        Some(value) => Sourced { value, from: ValueFrom::Tag },
        None => Sourced { value: f32::from(lanes.value) * lane_width_m(road.class), from: lanes.from },
    };
    let free = |case: Case| {
        let profile = cases.profile(case);
        let clear_m = clear_m(road.class, road.link, speed_kmh, forward.max(backward), &profile.roadside);
        FreeWidth { clear_m, crown_gap_m: crown_gap_m(width_m.value + 2.0 * clear_m, &profile.canopy) }
    };
    let towards_nearside = match side {
        DrivingSide::Right => 1.0,
        DrivingSide::Left => -1.0,
    };
    let single = lanes.value == 1 || (road.oneway == Oneway::Both && (forward == 0 || backward == 0));
    let (lane_forward_m, lane_backward_m) = if single && road.oneway == Oneway::Both {
        (0.0, 0.0)
    } else {
        (
            towards_nearside * lane_from_middle_m(forward, backward, width_m.value, lane),
            -towards_nearside * lane_from_middle_m(backward, forward, width_m.value, lane),
        )
    };
    CrossSection {
        lanes,
        lanes_forward: forward,
        lanes_backward: backward,
        width_m,
        free: PerCase::of(free),
        lane_forward_m,
        lane_backward_m,
        side,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::network::test_roads::road;
    use crate::profile::Profile;

    fn cases(profile: &Profile) -> Cases {
        Cases::of(profile).unwrap()
    }

    fn section(road: &Road, side: DrivingSide) -> CrossSection {
        cross_section(road, 80.0, side, &cases(&Profile::default()))
    }

    #[test]
    fn a_two_lane_road_drives_a_quarter_of_its_width_from_the_middle_on_the_traffic_side() {
        let mut r = road(1, RoadClass::Secondary);
        r.width_m = Some(6.0);
        let right = section(&r, DrivingSide::Right);
        assert_eq!((right.lane_forward_m, right.lane_backward_m), (1.5, -1.5));
        let left = section(&r, DrivingSide::Left);
        assert_eq!((left.lane_forward_m, left.lane_backward_m), (-1.5, 1.5));
    }

    #[test]
    fn a_motorway_carriageway_drives_its_outermost_lane() {
        let mut r = road(1, RoadClass::Motorway);
        r.oneway = Oneway::Forward;
        r.lanes = Some(3);
        let s = section(&r, DrivingSide::Right);
        // Three lanes of 3.6 m: the outermost lane's middle is one lane from the carriageway's middle.
        assert!((s.lane_forward_m - 3.6).abs() < 1e-6);
        assert_eq!(s.width_m.value, 3.0 * 3.6);
        let mut profile = Profile::default();
        profile.vehicle.lane = Lane::Offside;
        let offside = cross_section(&r, 110.0, DrivingSide::Right, &cases(&profile));
        assert!((offside.lane_forward_m + 3.6).abs() < 1e-6);
    }

    #[test]
    fn one_lane_for_both_directions_is_driven_in_its_middle() {
        let s = section(&road(1, RoadClass::Track), DrivingSide::Right);
        assert_eq!((s.lane_forward_m, s.lane_backward_m), (0.0, 0.0));
        // 2.6 m of track and three quarters of a metre on each side.
        let gap_m = s.free.likely.crown_gap_m;
        assert!((gap_m - 5.0 * (2.1_f32 / 3.0).powi(2)).abs() < 0.01, "{gap_m}");
    }

    #[test]
    fn wide_roads_keep_trees_farther_away() {
        let free = |class, speed| {
            let s = cross_section(&road(1, class), speed, DrivingSide::Right, &cases(&Profile::default()));
            s.width_m.value / 2.0 + s.free.likely.clear_m
        };
        let widths = [
            free(RoadClass::Motorway, 120.0),
            free(RoadClass::Primary, 90.0),
            free(RoadClass::Tertiary, 60.0),
            free(RoadClass::Unclassified, 50.0),
            free(RoadClass::Track, 15.0),
        ];
        assert!(widths.windows(2).all(|w| w[0] > w[1]), "{widths:?}");
    }

    #[test]
    fn the_gap_between_crowns_opens_steadily() {
        let canopy = Profile::default().canopy;
        let gap = |free_m: f32| crown_gap_m(free_m, &canopy);
        // They meet up to 2 m and stay apart from 5 m on.
        assert_eq!((gap(0.0), gap(2.0), gap(5.0), gap(12.0)), (0.0, 0.0, 5.0, 12.0));
        assert!((gap(3.5) - 5.0 / 4.0).abs() < 1e-6, "halfway a quarter is open");
        let widths: Vec<f32> = (0..240).map(|i| gap(0.05 * i as f32)).collect();
        assert!(widths.windows(2).all(|w| w[1] >= w[0] && w[1] - w[0] < 0.18));
    }

    #[test]
    fn lanes_by_direction_are_taken_from_their_tags() {
        let mut r = road(1, RoadClass::Primary);
        r.lanes = Some(3);
        r.lanes_forward = Some(2);
        let s = section(&r, DrivingSide::Right);
        assert_eq!((s.lanes_forward, s.lanes_backward), (2, 1));
        assert_eq!(s.lanes.from, ValueFrom::Tag);
        // Three lanes of 3.5 m: both directions drive one lane from the middle.
        assert!((s.lane_forward_m - 3.5).abs() < 1e-6 && (s.lane_backward_m + 3.5).abs() < 1e-6);
    }
}
