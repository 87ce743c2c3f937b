//! How fast a loaded vehicle climbs: the speed at which its power is spent on grade, rolling and air.
//!
//! Steady speed, derived here from the balance `P/m = g (sin + c cos) v + (rho A / 2 m) v^3`: run-ups and shifting are
//! left out. Downhill nothing slows the drive but the road itself.
use super::grade::Heights;
use super::model::Network;

/// Standard gravity, m/s^2.
const GRAVITY_M_S2: f64 = 9.806_65;
/// Rolling resistance of lorry and van tyres on asphalt over weight (common practice, no source).
const ROLLING: f64 = 0.012;
/// Half the air's density times drag area over mass, 1/m: 1.2 kg/m^3 and 2.9 m^2 for 3.5 t (assumed: a camper van).
const DRAG_PER_M: f64 = 0.5 * 1.2 * 2.9 / 3500.0;
/// Steepest climb reckoned with: above it the elevation is wrong, not the road (assumed).
const STEEPEST: f64 = 0.25;

/// Fastest steady speed up a climb (rise over run), km/h, for power over mass in watts per kilogram. A climb that
/// is not known counts as level.
pub(crate) fn climb_kmh(climb: f64, power_w_per_kg: f64) -> f64 {
    let climb = if climb.is_nan() { 0.0 } else { climb.min(STEEPEST) };
    let along = 1.0 / (1.0 + climb * climb).sqrt();
    let resistance = GRAVITY_M_S2 * (climb + ROLLING) * along;
    if resistance <= 0.0 {
        return f64::INFINITY;
    }
    // v^3 + p v = q has one real root; its hyperbolic form needs no difference of large numbers.
    let (p, q) = (resistance / DRAG_PER_M, power_w_per_kg / DRAG_PER_M);
    let scale = 2.0 * (p / 3.0).sqrt();
    let v_mps = scale * ((3.0 * q / (p * scale)).asinh() / 3.0).sinh();
    3.6 * v_mps
}

/// Climb of every segment in node order, rise over run, from the road's heights; NaN without elevation at its ends.
pub fn climbs(network: &Network, heights: &Heights) -> Vec<f32> {
    let of = |(segment, z): (&super::model::Segment, &Vec<f32>)| match (z.first(), z.last()) {
        (Some(first), Some(last)) if segment.length_m > 0.0 => (f64::from(last - first) / segment.length_m) as f32,
        _ => f32::NAN,
    };
    network.segments.iter().zip(heights).map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn power_is_spent_exactly() {
        for climb in [-0.005, 0.0, 0.03, 0.06, 0.12, 0.25] {
            for power in [5.0, 8.3, 28.0, 60.0] {
                let v = climb_kmh(climb, power) / 3.6;
                let angle = f64::atan(climb);
                let spent = (9.80665 * (angle.sin() + 0.012 * angle.cos()) + 0.5 * 1.2 * 2.9 / 3500.0 * v * v) * v;
                assert!((spent - power).abs() < 1e-9 * power, "{climb} {power}: {v} m/s spends {spent}");
            }
        }
    }

    #[test]
    fn a_camper_slows_on_grades_and_a_lorry_crawls() {
        // Common practice, no source: a loaded camper keeps the highway's speed on the level and about 90 km/h on 6 %.
        let camper = |climb| climb_kmh(climb, 28.0);
        assert!(camper(0.0) >= 130.0 && (85.0..100.0).contains(&camper(0.06)) && (60.0..75.0).contains(&camper(0.12)));
        // A lorry of 120 kg/kW (8.3 W/kg), the design lorry of AASHTO and the Highway Capacity Manual, crawls up a long 6 % at
        // about 35 to 40 km/h (their curves, from memory: no free copy of them was found).
        assert!((33.0..44.0).contains(&climb_kmh(0.06, 8.3)), "{}", climb_kmh(0.06, 8.3));
        assert!(climb_kmh(0.04, 28.0) > climb_kmh(0.05, 28.0) && climb_kmh(0.05, 30.0) > climb_kmh(0.05, 28.0));
        assert_eq!((climb_kmh(-0.05, 3.0), climb_kmh(f64::NAN, 28.0)), (f64::INFINITY, camper(0.0)));
        assert_eq!(climb_kmh(3.0, 28.0), climb_kmh(0.25, 28.0), "a cliff in the elevation is not a road");
    }

    #[test]
    fn climbs_come_from_the_ends_of_a_segment() {
        use crate::base::words::RoadClass;
        let road =
            crate::map::network::test_roads::road_along(1, RoadClass::Primary, &[(1, 0.0, 0.0), (2, 200.0, 0.0)]);
        let network = crate::map::network::test_roads::build_anywhere(&[road]);
        let of = |z: Vec<f32>| climbs(&network, &vec![z])[0];
        assert!((of(vec![100.0, 103.0, 112.0]) - 0.06).abs() < 1e-3);
        assert!(of(vec![f32::NAN, 103.0, 112.0]).is_nan() && of(vec![]).is_nan());
    }
}
