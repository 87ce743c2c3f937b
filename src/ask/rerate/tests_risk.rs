//! The risk of a meeting on the move, as a plan tells it from expected numbers, compared with drives of another seed.
use crate::ask::plan::probability;
use crate::ask::rerate::stored::Stored;
use crate::base::index::LaneIndex;
use crate::base::progress::Silent;
use crate::base::words::Case;
use crate::build::{BuildOptions, build};
use crate::layer::Layer;
use crate::map::network::model::Stroke;
use crate::physics::link::drive::{outages_under, simulate_under};
use crate::physics::link::sky::LinkSky;
use crate::profile::Profile;
use crate::rating::drives::{Roads, Skies, skies, stretches, stroke_key};

#[allow(dead_code)]
#[path = "../../../tests/suite/need.rs"]
mod need;

const MEETING_S: f64 = 300.0;
const EVERY_S: f64 = 60.0;

/// Meetings by what was told of them, in tenths: told, seen, how many.
type Tenths = [(f64, f64, f64); 10];

/// Expected long outages up to a moment; outages of a stretch are assumed to begin evenly along it.
fn until(ends_s: &[f64], beyond: &[f64], at_s: f64) -> f64 {
    let (mut start_s, mut sum) = (0.0, 0.0);
    for (end_s, count) in ends_s.iter().zip(beyond) {
        sum += count * ((at_s - start_s) / (end_s - start_s)).clamp(0.0, 1.0);
        start_s = *end_s;
    }
    sum
}

fn compare(roads: &Roads, skies: &Skies, stroke: &Stroke, other_seed: &Profile, out: &mut Tenths) {
    let first = &roads.pieces[stroke.steps[0].0.at()];
    let stretches = stretches(roads, stroke, Case::Likely).unwrap();
    let mut done_s = 0.0;
    let ends_s: Vec<f64> = stretches
        .iter()
        .map(|s| {
            done_s += s.length_m / s.speed_mps;
            done_s
        })
        .collect();
    if first.boarded || done_s < MEETING_S {
        return;
    }
    let (key, edge_s) = (stroke_key(roads, stroke), roads.profile.rating.blips_outage_s);
    // Prepared once for all drives of the stroke; both profiles differ in their seed alone.
    let sky = LinkSky::new(&skies.of(first).0.timeline, skies.grid, roads.profile);
    let stats = simulate_under(&stretches, &sky, roads.profile, key);
    let beyond: Vec<f64> = stats.iter().map(|s| s.beyond[0]).collect();
    let count = other_seed.link.drives;
    let drives: Vec<Vec<f64>> = (0..count)
        .map(|r| {
            let all = outages_under(&stretches, &sky, other_seed, key, r);
            all.iter().filter(|b| b.length_s() > edge_s).map(|b| b.start_s).collect()
        })
        .collect();
    let mut from_s = 0.0;
    while from_s + MEETING_S <= done_s {
        let to_s = from_s + MEETING_S;
        let told = probability(until(&ends_s, &beyond, to_s) - until(&ends_s, &beyond, from_s));
        let broken = drives.iter().filter(|d| d.iter().any(|s| (from_s..to_s).contains(s))).count();
        let tenth = &mut out[((told * 10.0) as usize).min(9)];
        *tenth = (tenth.0 + told, tenth.1 + broken as f64 / f64::from(count), tenth.2 + 1.0);
        from_s += EVERY_S;
    }
}

#[test]
fn heavy_the_risk_of_meetings_on_the_move_is_what_other_drives_show() {
    let Some(data) = need::data("andorra") else { return };
    let folder = tempfile::tempdir().unwrap();
    let mut profile = Profile::default();
    profile.link.drives = 128;
    let options = BuildOptions {
        elevation: vec![data.clone()],
        profile,
        ..BuildOptions::new(data.join("andorra-2025.osm.pbf"), folder.path().join("andorra.gpkg"))
    };
    build(&options, &Silent).unwrap();
    let stored = Stored::read(&Layer::open(&options.output).unwrap()).unwrap();
    let profile = stored.profile.clone();
    let mut other_seed = profile.clone();
    other_seed.link.seed += 1;
    let skies = skies(&profile, &stored.pieces, stored.masks.grid, &|_| None);
    let masks = |lane: LaneIndex, case: Case| stored.masks.of(lane, case);
    let roads = Roads {
        profile: &profile,
        pieces: &stored.pieces,
        strokes: &stored.strokes,
        own: &stored.own,
        masks: &masks,
        apart: &|_| false,
    };
    let mut tenths = Tenths::default();
    stored.strokes.iter().for_each(|stroke| compare(&roads, &skies, stroke, &other_seed, &mut tenths));
    let all = tenths.iter().fold((0.0, 0.0, 0.0), |a, t| (a.0 + t.0, a.1 + t.1, a.2 + t.2));
    println!("meetings of five minutes: told, seen, how many");
    for (told, seen, count) in tenths.iter().chain([&all]).filter(|t| t.2 > 0.0) {
        println!("  {:.3}  {:.3}  {count}", told / count, seen / count);
    }
    assert!(all.2 > 100.0, "{} meetings", all.2);
    assert!(((all.0 - all.1) / all.2).abs() < 0.05, "told {}, seen {}", all.0 / all.2, all.1 / all.2);
    for (told, seen, count) in tenths.into_iter().filter(|t| t.2 >= 10.0) {
        assert!(((told - seen) / count).abs() < 0.15, "told {}, seen {} of {count}", told / count, seen / count);
    }
}
