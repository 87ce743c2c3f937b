//! Constructed roads through the program's own crowns: how long the link is lost on each, against what people on the road report.
//!
//! No distribution of outage lengths by type of road is published. What stands beside these figures is common practice, no source: about
//! a quarter of a second under an overpass, a blip to a few seconds on narrow roads with close trees, half a minute to a minute in
//! really dense trees, none on open road.
use waymask::base::words::OverheadKind;
use waymask::map::extract::model::LeafType;
use waymask::physics::link::model::{OutageStats, Stretch};
use waymask::physics::link::simulate::{outages_under, simulate};
use waymask::physics::link::sky::LinkSky;
use waymask::physics::orbit::model::Timeline;
use waymask::physics::orbit::timeline::shell_timeline;
use waymask::physics::scene::overheads::overhead::Overhead;
use waymask::physics::scene::trees::stack::CrownStack;
use waymask::physics::sky::canopy::{CanopyCaster, CanopyScratch};
use waymask::physics::sky::ground::Eye;
use waymask::physics::sky::mask::{AZIMUTH_BINS, Mask, SkyGrid, azimuth_deg};
use waymask::profile::Profile;

use crate::link::kit::deck;
use crate::scene::support::{ANTENNA_M, World, square};

/// The sky of the default panel.
const SKY: SkyGrid = SkyGrid { floor_deg: 35.0 };
/// Six kilometres in pieces of 250 m.
const PIECES: usize = 24;
const PIECE_M: f64 = 250.0;
/// Pieces looked at: not those near the ends.
const LOOKED_AT: std::ops::Range<usize> = 4..20;
/// The one with something overhead.
const COVERED: usize = 12;

/// A kind of road.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Open,
    /// A deck 12 m wide across.
    Overpass,
    /// Two lanes of 3.5 m through a wood whose trees stand this far from the carriageway, metres.
    TwoLanes(f64),
    /// One lane of 3.5 m in dense wood; this share of the gap between trees is free of crowns.
    OneLane(f64),
    /// Walls of 20 m, 12 m apart.
    Street,
    /// A tunnel of 300 m.
    Tunnel,
}

const KINDS: [(&str, Kind, f64); 10] = [
    ("open road", Kind::Open, 90.0),
    ("overpass", Kind::Overpass, 110.0),
    ("two lanes, trees at 4 m", Kind::TwoLanes(4.0), 80.0),
    ("two lanes, trees at 8 m", Kind::TwoLanes(8.0), 80.0),
    ("two lanes, trees at 12 m", Kind::TwoLanes(12.0), 80.0),
    ("one lane, crowns open", Kind::OneLane(1.0), 40.0),
    ("one lane, half closed", Kind::OneLane(0.5), 40.0),
    ("one lane, closed", Kind::OneLane(0.0), 40.0),
    ("slit street", Kind::Street, 40.0),
    ("tunnel", Kind::Tunnel, 80.0),
];

/// A wood with a road through it that heads north, or another way by right angles.
fn wood(quarter_turns: u32, width_m: f32, clear_m: f64, gap_m: Option<f64>) -> World {
    let mut world = World::turned(quarter_turns);
    world.add_wood(&square(0.0, 0.0, 95.0), LeafType::Broadleaved);
    world.add_road(&[(0.0, -90.0), (0.0, 90.0)], width_m, clear_m as f32, gap_m.map(|m| m as f32));
    world
}

/// The road, its sky everywhere that of one place.
fn road(kind: Kind, speed_kmh: f64, quarter_turns: u32, profile: &Profile) -> Vec<Stretch> {
    let heading_deg = 90.0 * f64::from(quarter_turns);
    let mut mask = Mask::open(SKY);
    let (world, lane_m) = match kind {
        Kind::TwoLanes(clear_m) => (Some(wood(quarter_turns, 7.0, clear_m, None)), 1.75),
        Kind::OneLane(free) => (Some(wood(quarter_turns, 3.5, 1.0, Some(5.5 * free))), 0.0),
        _ => (None, 0.0),
    };
    if let Some(world) = world {
        let (canopy, eye) = (world.canopy_with(profile, None), Eye::level(world.point(lane_m, 0.0), ANTENNA_M));
        let caster = CanopyCaster::new(SKY, profile);
        caster.cast(&CrownStack::of([&canopy]), &eye, &mut CanopyScratch::default(), [&mut mask.canopy]);
    }
    if kind == Kind::Street {
        for bin in 0..AZIMUTH_BINS {
            let across = (azimuth_deg(bin) - heading_deg).to_radians().sin().abs();
            mask.solid_deg[bin] = (18.0 / 6.0 * across).atan().to_degrees() as f32;
        }
    }
    let piece = |nth: usize| {
        let mut overheads = Vec::new();
        if nth == COVERED && kind == Kind::Overpass {
            overheads.push(deck(120.0, 12.0, heading_deg));
        }
        if nth == COVERED && kind == Kind::Tunnel {
            let (left_m, right_m, left_closed, right_closed) = (5.0, 5.0, true, true);
            let deck = deck(0.0, 300.0, heading_deg);
            overheads.push(Overhead { kind: OverheadKind::Tunnel, left_m, right_m, left_closed, right_closed, ..deck });
        }
        let headings_deg = vec![heading_deg as f32; 26];
        Stretch {
            length_m: PIECE_M,
            speed_mps: speed_kmh / 3.6,
            masks: vec![mask.clone(); 26],
            headings_deg,
            overheads,
        }
    };
    (0..PIECES).map(piece).collect()
}

/// What drives in four directions say of the pieces looked at.
fn driven(kind: Kind, speed_kmh: f64, profile: &Profile, sky: &Timeline) -> Vec<OutageStats> {
    let in_direction = |turns: u32| {
        let stats = simulate(&road(kind, speed_kmh, turns, profile), sky, SKY, profile, u64::from(turns));
        let alone = matches!(kind, Kind::Overpass | Kind::Tunnel);
        if alone { vec![stats[COVERED]] } else { stats[LOOKED_AT].to_vec() }
    };
    (0..4).flat_map(in_direction).collect()
}

fn sky_at(latitude_deg: f64, profile: &Profile) -> Timeline {
    shell_timeline(latitude_deg, &profile.constellation, SKY.floor_deg, 3 * 3600)
}

fn median(stats: &[OutageStats], of: impl Fn(&OutageStats) -> f64) -> f64 {
    let mut all: Vec<f64> = stats.iter().map(of).collect();
    all.sort_by(f64::total_cmp);
    all[all.len() / 2]
}

#[test]
fn outages_last_as_long_as_people_on_the_road_say() {
    let profile = Profile::default();
    let sky = sky_at(46.0, &profile);
    // Median over stations of the 95th percentile of outages, seconds.
    let p95_s = |kind: Kind, speed_kmh: f64| median(&driven(kind, speed_kmh, &profile, &sky), |s| s.outage_p95_s);
    for (kind, speed_kmh, least_s, most_s) in [
        (Kind::Overpass, 110.0, 0.2, 1.0),
        (Kind::TwoLanes(4.0), 80.0, 1.0, 8.0),
        (Kind::OneLane(0.5), 40.0, 15.0, 60.0),
        (Kind::Tunnel, 80.0, 13.0, 16.0),
    ] {
        let found_s = p95_s(kind, speed_kmh);
        println!("{kind:?}: {found_s:.2} s");
        assert!((least_s..=most_s).contains(&found_s), "{kind:?}: {found_s} s");
    }
    // Closed crowns leave no link to speak of.
    let closed = driven(Kind::OneLane(0.0), 40.0, &profile, &sky);
    assert!(closed.iter().all(|s| s.outage_share > 0.98));
}

#[test]
fn open_road_is_steady_from_the_equator_to_65_degrees_and_at_most_blips_to_75() {
    use waymask::base::words::Rating;
    use waymask::physics::link::rating::rating;
    let profile = Profile::default();
    for (latitude_deg, worst) in [0, 10, 20, 30, 40, 46, 50, 53, 57, 60, 62, 65]
        .map(|l| (l, Rating::Steady))
        .into_iter()
        .chain([(70, Rating::Blips), (75, Rating::Blips)])
    {
        let stats = driven(Kind::Open, 90.0, &profile, &sky_at(f64::from(latitude_deg), &profile));
        let rated = |s: &OutageStats| rating(s.outage_p95_s, s.outage_share, s.outage_share_window, &profile.rating);
        let found = stats.iter().map(rated).max().unwrap();
        assert!(found <= worst, "{latitude_deg} degrees: {found}");
    }
}

#[test]
fn heavy_more_awareness_never_costs_more_than_luck() {
    let mut profile = Profile::default();
    let sky = sky_at(46.0, &profile);
    for (name, kind, speed_kmh) in KINDS {
        let mut before: Option<(f64, f64)> = None;
        for awareness in [0.0, 0.5, 1.0] {
            profile.link.awareness = awareness;
            let sky = LinkSky::new(&sky, SKY, &profile);
            let roads: Vec<_> = (0..4).map(|turns| road(kind, speed_kmh, turns, &profile)).collect();
            let of_drive = |nth: u32| {
                let lost = |(turns, road): (u64, &Vec<Stretch>)| {
                    let found = outages_under(road, &sky, &profile, turns, nth);
                    found.iter().map(|o| o.length_s()).sum::<f64>()
                };
                (0..).zip(&roads).map(lost).sum::<f64>() / (4.0 * PIECES as f64 * PIECE_M / speed_kmh * 3.6)
            };
            let shares: Vec<f64> = (0..profile.link.drives).map(of_drive).collect();
            let n = shares.len() as f64;
            let mean = shares.iter().sum::<f64>() / n;
            let error = (shares.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt();
            println!("{name}: awareness {awareness}: {mean:.4} +- {error:.4}");
            if let Some((blinder, blinder_error)) = before {
                assert!(mean <= blinder + 2.0 * error.max(blinder_error), "{name}: {blinder} to {mean}");
            }
            before = Some((mean, error));
        }
    }
}

#[test]
fn heavy_constructed_roads_of_three_latitudes() {
    let profile = Profile::default();
    for latitude_deg in [0.0, 46.0, 65.0] {
        let sky = sky_at(latitude_deg, &profile);
        println!(
            "| at {latitude_deg} degrees | outage share | median | 95th percentile | over 2 s an hour | over 5 s | over 30 s |"
        );
        println!("| --- | --- | --- | --- | --- | --- | --- |");
        for (name, kind, speed_kmh) in KINDS {
            let stats = driven(kind, speed_kmh, &profile, &sky);
            let share = stats.iter().map(|s| s.outage_share).sum::<f64>() / stats.len() as f64;
            let hour = 3600.0 * speed_kmh / 3.6 / PIECE_M;
            let an_hour = |k: usize| hour * stats.iter().map(|s| s.beyond[k]).sum::<f64>() / stats.len() as f64;
            println!(
                "| {name} | {share:.3} | {:.1} s | {:.1} s | {:.1} | {:.1} | {:.1} |",
                median(&stats, |s| s.outage_p50_s),
                median(&stats, |s| s.outage_p95_s),
                an_hour(0),
                an_hour(1),
                an_hour(2)
            );
            assert!(stats.iter().all(|s| s.outage_p50_s <= s.outage_p95_s && s.outage_share <= 1.0));
            assert_eq!(kind == Kind::Open, share < 0.002, "{name}: {share}");
        }
    }
}
