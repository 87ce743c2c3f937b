//! The risk of a meeting on the move, as a plan tells it from expected numbers, beside drives of another seed.
use std::path::Path;

use super::*;
use crate::link::drive::breaks;
use crate::pipeline::rerate::stored::Stored;
use crate::pipeline::{BuildOptions, build};
use crate::progress::Silent;
use crate::trip::plan::probability;

const MEETING_S: f64 = 300.0;
const EVERY_S: f64 = 60.0;

/// Meetings by what was told of them, in tenths: told, seen, how many.
type Tenths = [(f64, f64, f64); 10];

/// Expected long breaks up to a moment; breaks of a stretch are taken to begin evenly along it.
fn until(ends_s: &[f64], beyond: &[f64], at_s: f64) -> f64 {
    let (mut start_s, mut sum) = (0.0, 0.0);
    for (end_s, count) in ends_s.iter().zip(beyond) {
        sum += count * ((at_s - start_s) / (end_s - start_s)).clamp(0.0, 1.0);
        start_s = *end_s;
    }
    sum
}

fn compare(roads: &Roads, skies: &Skies, chain: &Chain, other_seed: &Profile, out: &mut Tenths) {
    let first = &roads.pieces[chain.steps[0].0 as usize];
    let stretches = stretches(roads, chain).unwrap();
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
    let (tape, key, edge_s) = (&skies.of(first).0.tape, chain_key(roads, chain), roads.profile.rating.blips_break_s);
    let stats = simulate(&stretches, tape, skies.grid, roads.profile, key);
    let beyond: Vec<f64> = stats.iter().map(|s| s.beyond[0]).collect();
    let replicates = other_seed.link.replicates;
    let drives: Vec<Vec<f64>> = (0..replicates)
        .map(|r| {
            let all = breaks(&stretches, tape, skies.grid, other_seed, key, r);
            all.iter().filter(|b| b.length_s() > edge_s).map(|b| b.start_s).collect()
        })
        .collect();
    let mut from_s = 0.0;
    while from_s + MEETING_S <= done_s {
        let to_s = from_s + MEETING_S;
        let told = probability(until(&ends_s, &beyond, to_s) - until(&ends_s, &beyond, from_s));
        let broken = drives.iter().filter(|d| d.iter().any(|s| (from_s..to_s).contains(s))).count();
        let tenth = &mut out[((told * 10.0) as usize).min(9)];
        *tenth = (tenth.0 + told, tenth.1 + broken as f64 / f64::from(replicates), tenth.2 + 1.0);
        from_s += EVERY_S;
    }
}

#[test]
fn heavy_the_risk_of_meetings_on_the_move_is_what_other_drives_show() {
    let data = std::env::var_os("WAYMASK_DATA")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"), Into::into)
        .join("andorra");
    if !data.exists() {
        println!("skipped: {} is not there (set WAYMASK_DATA)", data.display());
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let mut profile = Profile::default();
    profile.link.replicates = 128;
    let options = BuildOptions {
        elevation: vec![data.clone()],
        profile,
        ..BuildOptions::new(data.join("andorra-2025.osm.pbf"), folder.path().join("andorra.gpkg"))
    };
    build(&options, &Silent).unwrap();
    let stored = Stored::read(&options.output).unwrap();
    let profile = stored.profile().clone();
    let mut other_seed = profile.clone();
    other_seed.link.seed += 1;
    let skies = skies(&profile, &stored.pieces, stored.masks.grid, &|_| None);
    let masks = |lane: usize| stored.masks.of(lane);
    let roads =
        Roads { profile: &profile, pieces: &stored.pieces, chains: &stored.chains, own: &stored.own, masks: &masks };
    let mut tenths = Tenths::default();
    stored.chains.iter().for_each(|chain| compare(&roads, &skies, chain, &other_seed, &mut tenths));
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
