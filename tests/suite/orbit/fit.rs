//! Shells found again in patterns written as two-line sets.
use waymask::physics::orbit::density::expected_above;
use waymask::physics::orbit::elements::fit::{ShellFit, loose_shells, mean_altitude_km, shells};
use waymask::physics::orbit::elements::satellite::Satellite;
use waymask::physics::orbit::elements::track::after;
use waymask::physics::orbit::elements::{MeanElements, read};
use waymask::physics::orbit::frames::{Observer, length};

use crate::elements_writer::*;

/// What a shell fit must keep: degrees and kilometres.
const INCLINATION_DEG: f64 = 0.1;
const ALTITUDE_KM: f64 = 5.0;
const EPOCH: &str = "2026-06-30T00:00:00Z";

/// Draws in 0..1, the same on every machine (SplitMix64, Steele and others 2014).
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
    /// In -1..1.
    fn around(&mut self) -> f64 {
        2.0 * self.next() - 1.0
    }
}

/// Patterns numbered one after another.
fn all_of(patterns: &[Pattern]) -> Vec<MeanElements> {
    let mut sets = Vec::new();
    for pattern in patterns {
        sets.extend(pattern.elements(10_000 + sets.len() as u64, time(EPOCH)));
    }
    sets
}

/// Through two-line sets and the fit.
fn fit_of(sets: &[MeanElements]) -> ShellFit {
    let read = read(two_line_file(sets).as_bytes()).unwrap();
    assert!(read.defects.is_empty() && read.objects.len() == sets.len());
    shells(&read.objects)
}

/// Each pattern is a shell of the fit, and nothing else is.
fn assert_found(fit: &ShellFit, patterns: &[Pattern]) {
    assert_eq!(fit.shells.len(), patterns.len(), "{:#?}", fit.shells.iter().map(|s| s.shell).collect::<Vec<_>>());
    for p in patterns {
        let near = |s: &&waymask::physics::orbit::elements::fit::FittedShell| {
            (s.shell.inclination_deg - p.inclination_deg).abs() <= INCLINATION_DEG
                && (s.shell.altitude_km - p.altitude_km).abs() <= ALTITUDE_KM
        };
        let found: Vec<_> = fit.shells.iter().filter(near).collect();
        assert_eq!(
            found.len(),
            1,
            "{} km, {} degrees: {:?}",
            p.altitude_km,
            p.inclination_deg,
            fit.shells.iter().map(|s| s.shell).collect::<Vec<_>>()
        );
        assert_eq!((found[0].shell.planes, found[0].shell.per_plane), (p.planes, p.per_plane));
        assert_eq!(found[0].members.len() as u32, p.count());
    }
}

#[test]
fn one_shell_is_found_exactly() {
    for pattern in [
        Pattern::new(550.0, 53.0, 40, 25),
        Pattern::new(1200.0, 87.9, 18, 36),
        Pattern::new(500.0, 97.4, 7, 11),
        Pattern::new(630.0, 51.9, 34, 34),
        Pattern::new(8062.0, 0.04, 1, 20),
        Pattern::new(780.0, 45.0, 66, 1),
        Pattern::new(560.0, 127.0, 1, 30),
    ] {
        assert_found(&fit_of(&all_of(&[pattern])), &[pattern]);
    }
}

#[test]
fn planes_over_half_the_equator_are_counted_as_they_are() {
    let star = Pattern { spread_deg: 180.0, ..Pattern::new(781.0, 86.4, 6, 11) };
    assert_found(&fit_of(&all_of(&[star])), &[star]);
}

#[test]
fn several_shells_at_once() {
    let patterns = [
        Pattern::new(550.0, 53.0, 72, 22),
        Pattern::new(570.0, 53.0, 36, 20),
        Pattern::new(530.0, 53.0, 28, 30),
        Pattern::new(550.0, 43.0, 30, 28),
        Pattern::new(550.0, 53.8, 20, 15),
        Pattern::new(560.0, 97.6, 10, 43),
    ];
    let fit = fit_of(&all_of(&patterns));
    assert_found(&fit, &patterns);
    assert_eq!((fit.eccentric, fit.moving, fit.stray), (0, 0, 0));
    // The largest first; every object in one shell.
    assert!(fit.shells.windows(2).all(|w| w[0].members.len() >= w[1].members.len()));
    let mut members: Vec<usize> = fit.shells.iter().flat_map(|s| s.members.clone()).collect();
    members.sort_unstable();
    assert_eq!(members, (0..patterns.iter().map(Pattern::count).sum::<u32>() as usize).collect::<Vec<_>>());
}

/// A pattern as it is kept in life: scatter, and epochs up to five days apart with the nodes gone on.
fn kept_loosely(pattern: Pattern, draws: &mut Draws) -> Vec<MeanElements> {
    let mut sets = all_of(&[pattern]);
    for set in &mut sets {
        set.inclination_deg += 0.04 * draws.around();
        set.mean_motion_rev_day *= 1.0 + 1.5 * (2.5 * draws.around()) / (6371.0 + pattern.altitude_km);
        set.node_deg += 0.3 * draws.around();
        let days = 5.0 * draws.next();
        set.epoch = waymask::physics::orbit::elements::track::after(time(EPOCH), -86_400.0 * days);
        // Nodal regression by J2, textbook: -9.9641 (R/a)^3.5 cos i degrees a day.
        let a = 6378.137 / (6371.0 + pattern.altitude_km);
        set.node_deg += 9.964_1 * a.powf(3.5) * set.inclination_deg.to_radians().cos() * days;
        set.node_deg = set.node_deg.rem_euclid(360.0);
    }
    sets
}

#[test]
fn stragglers_do_not_blur_shells() {
    let (main, polar) = (Pattern::new(550.0, 53.0, 72, 22), Pattern::new(560.0, 97.6, 10, 43));
    let mut draws = Draws(7);
    let mut sets = kept_loosely(main, &mut draws);
    sets.extend(kept_loosely(polar, &mut draws));
    let mut add = |altitude_km: f64, inclination_deg: f64| {
        let mut set = circular(0, altitude_km, inclination_deg, time(EPOCH));
        set.node_deg = 360.0 * draws.next();
        set.anomaly_deg = 360.0 * draws.next();
        sets.push(set);
        sets.len() - 1
    };
    // Raising, one by one and as a train in one plane; parked; eccentric; coming down; climbing fast.
    for k in 0..120 {
        add(290.0 + 2.0 * f64::from(k), 53.0);
    }
    let train: Vec<usize> = (0..45).map(|_| add(350.0, 53.05)).collect();
    (0..12).for_each(|_| _ = add(564.0, 53.0));
    let eccentric: Vec<usize> = (0..9).map(|_| add(600.0, 63.0)).collect();
    let climbing: Vec<usize> = (0..14).map(|_| add(460.0, 53.0)).collect();
    (0..5).for_each(|_| _ = add(230.0, 97.6));
    train.iter().for_each(|k| sets[*k].node_deg = 77.0);
    eccentric.iter().for_each(|k| sets[*k].eccentricity = 0.02);
    climbing.iter().for_each(|k| sets[*k].half_motion_rate_rev_day2 = -0.01);
    for (k, set) in sets.iter_mut().enumerate() {
        set.catalogue_number = 10_000 + k as u64;
    }
    let fit = fit_of(&sets);
    assert_found(&fit, &[main, polar]);
    assert_eq!((fit.eccentric, fit.moving, fit.stray), (9, 14 + 5, 120 + 45 + 12));
}

#[test]
fn planes_that_are_not_full_keep_the_count() {
    let pattern = Pattern::new(550.0, 53.0, 72, 22);
    let mut sets = all_of(&[pattern]);
    // A sixth lost, at random.
    let mut draws = Draws(3);
    sets.retain(|_| draws.next() > 1.0 / 6.0);
    let fit = fit_of(&sets);
    assert_eq!(fit.shells.len(), 1);
    let shell = fit.shells[0].shell;
    assert_eq!(fit.shells[0].members.len(), sets.len());
    assert!((f64::from(shell.count()) / sets.len() as f64 - 1.0).abs() <= 0.01, "{shell:?} of {}", sets.len());
    assert!(shell.planes.abs_diff(72) <= 7, "{shell:?}");
    // Satellites without any planes: the count stays.
    sets.iter_mut().for_each(|s| s.node_deg = 360.0 * draws.next());
    let shell = fit_of(&sets).shells[0].shell;
    assert_eq!(shell.count() as usize, sets.len());
}

#[test]
fn altitude_is_the_mean_distance_from_the_centre() {
    // Oracle: SGP4's own distance, sampled over many revolutions (all arguments of latitude).
    for (altitude_km, inclination_deg) in [(550.0, 0.01), (550.0, 30.0), (550.0, 53.0), (560.0, 97.6), (1200.0, 87.9)] {
        let set = circular(1, altitude_km, inclination_deg, time(EPOCH));
        let satellite = Satellite::new(set.clone()).unwrap();
        let samples = 20_000;
        let sum: f64 = (0..samples).map(|k| length(satellite.teme(f64::from(k) * 0.731).unwrap().0)).sum();
        let sampled_km = sum / f64::from(samples) - 6371.0;
        let fitted_km = mean_altitude_km(&set).unwrap();
        // Second order of the flattening, and what the long-period terms leave: tens of metres.
        assert!((fitted_km - sampled_km).abs() < 0.1, "{inclination_deg}: {fitted_km}, sampled {sampled_km}");
        // What Kepler's law alone would make of the mean motion is off by the flattening's share.
        assert!((fitted_km - altitude_km).abs() < 4.0, "{inclination_deg}: {fitted_km}");
    }
}

/// Oracle: SGP4 over a day, counted by loops.
#[test]
fn shells_of_satellites_in_none_say_how_many_are_expected() {
    let mut draws = Draws(11);
    let sets: Vec<MeanElements> = (0..300)
        .map(|k| {
            let mut set =
                circular(20_000 + k, 480.0 + 150.0 * draws.around(), 52.0 + 2.0 * draws.around(), time(EPOCH));
            set.node_deg = 360.0 * draws.next();
            set.anomaly_deg = 360.0 * draws.next();
            set.eccentricity = 0.01 * draws.next();
            set
        })
        .collect();
    let loose = loose_shells(&sets);
    assert_eq!(loose.iter().map(|s| s.count()).sum::<u32>(), 300);
    let satellites: Vec<Satellite> = sets.into_iter().map(|s| Satellite::new(s).unwrap()).collect();
    for latitude_deg in [0.0, 30.0, 45.0] {
        let observer = Observer::at(latitude_deg, 11.0, 0.0);
        let expected: f64 = loose.iter().map(|s| expected_above(s, latitude_deg, 25.0)).sum();
        let looks = 1_000;
        let mut seen = 0;
        for look in 0..looks {
            let t = after(time(EPOCH), 86_400.0 * f64::from(look) / f64::from(looks));
            let up = |s: &&Satellite| observer.look(s.earth_fixed(t).unwrap().0).0.elevation_deg >= 25.0;
            seen += satellites.iter().filter(up).count();
        }
        let mean = seen as f64 / f64::from(looks);
        println!("{latitude_deg}: {mean:.3} seen, {expected:.3} expected");
        assert!((mean / expected - 1.0).abs() < 0.06, "{latitude_deg}: {mean} {expected}");
    }
    // What has no height that a shell may have is in none.
    let mut far = circular(1, 500_000.0, 20.0, time(EPOCH));
    assert_eq!(loose_shells([&far]), []);
    far.mean_motion_rev_day = 1.0;
    assert_eq!(loose_shells([&far]).len(), 1);
}

#[test]
fn a_file_without_shells_gives_none() {
    let mut sets = all_of(&[Pattern::new(550.0, 53.0, 1, 2)]);
    assert_eq!((fit_of(&sets).shells.len(), fit_of(&sets).stray), (0, 2));
    sets.iter_mut().for_each(|s| s.eccentricity = 0.7);
    assert_eq!((fit_of(&sets).shells.len(), fit_of(&sets).eccentric), (0, 2));
    assert_eq!(shells(&[]), ShellFit::default());
}
