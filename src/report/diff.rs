//! Two layers compared, for people and for programs.
use std::collections::{BTreeMap, BTreeSet};

use super::record::{called, thousands};
use crate::ask::diff::{
    BuildsCompared, ChangeKind, ChangedStretch, DiffAnswer, DiffKm, InputChange, InputTold, LayerTold, StopMoved,
    StopsCompared, TimelineChange,
};
use crate::base::caution::{self, Caution};
use crate::base::count::{counted, noun};
use crate::base::error::{Error, Result};
use crate::base::plain::PlainLines;
use crate::base::words::Units;
use crate::base::words::{Cause, Rating, StopKind, Words};

/// Everything as JSON; cautions go along.
///
/// # Errors
/// A figure that cannot be written, which is a fault of the program.
pub fn diff_json(found: &DiffAnswer) -> Result<String> {
    let failed = |e: serde_json::Error| Error::failed("diff", e.to_string(), "leave out --json");
    let mut value = serde_json::to_value(found).map_err(failed)?;
    value["cautions"] = caution::texts(&Caution::ROAD).into();
    Ok(serde_json::to_string_pretty(&value).map_err(failed)? + "\n")
}

/// The answer for people, without cautions.
pub fn diff_table(found: &DiffAnswer) -> String {
    let mut out = PlainLines::new();
    writeln!(out, "{}", first_sentence(found));
    if found.is_same_file {
        return out.text();
    }
    apart(&mut out, &found.km);
    for (name, layer) in [("OLD", &found.old), ("NEW", &found.new)] {
        let time = layer.data_time.as_deref().map_or(String::new(), |t| format!(", map data of {t}"));
        writeln!(out, "{name}  {} (waymask {}{time})", layer.path, layer.waymask_version);
    }
    builds(&mut out, found);
    ratings(&mut out, found);
    by_cause(&mut out, found);
    by_evidence(&mut out, found);
    if found.segments_in_both > 0 {
        largest(&mut out, found);
    }
    stops(&mut out, &found.stops);
    out.text()
}

/// The answer in one sentence.
fn first_sentence(found: &DiffAnswer) -> String {
    let km = &found.km;
    if found.is_same_file {
        return format!("OLD and NEW are the same file, {}: nothing differs.", found.new.path);
    }
    let told = |km: f64| Units::Metric.length(1e3 * km);
    let (both, only_old, only_new) = (told(km.both), told(km.only_old), told(km.only_new));
    if found.segments_in_both == 0 {
        let place = if found.extents_meet {
            "although the boxes around their roads meet".to_owned()
        } else {
            format!("because they cover different regions (OLD {}; NEW {})", span(&found.old), span(&found.new))
        };
        return format!("No segment is in both layers, {place}: {only_old} only in OLD and {only_new} only in NEW.");
    }
    if found.is_equal {
        return format!("Nothing differs: {both} of road are in both layers and rated the same.");
    }
    let mut parts = vec![
        format!("{} rated better", told(km.better)),
        format!("{} worse", told(km.worse)),
        format!("{} the same", told(km.same)),
    ];
    for (more_km, what) in [
        (km.redrawn_new, "redrawn"),
        (km.became_unknown, "where something became unknown"),
        (km.became_known, "where something became known"),
    ] {
        if more_km > 0.0 {
            parts.push(format!("{} {what}", told(more_km)));
        }
    }
    format!(
        "{both} of road are in both layers, {only_old} only in OLD and {only_new} only in NEW; of those in both: {}.",
        parts.join(", ")
    )
}

fn span(layer: &LayerTold) -> String {
    let [west, east, south, north] = layer.extent_deg;
    format!("latitude {south:.4} to {north:.4}, longitude {west:.4} to {east:.4}")
}

/// What is counted neither as better nor as worse, and why.
fn apart(out: &mut PlainLines, km: &DiffKm) {
    if km.redrawn_new > 0.0 || km.redrawn_old > 0.0 {
        writeln!(
            out,
            "redrawn: {} in OLD, {} in NEW; their line or length changed by more than 1 m, so ratings are not compared",
            Units::Metric.length(1e3 * km.redrawn_old),
            Units::Metric.length(1e3 * km.redrawn_new)
        );
    }
    if km.cut_old > 0.0 || km.cut_new > 0.0 {
        writeln!(
            out,
            "cut differently: of the roads only in one layer, {} in OLD and {} in NEW belong to ways that both have",
            Units::Metric.length(1e3 * km.cut_old),
            Units::Metric.length(1e3 * km.cut_new)
        );
    }
    if km.became_unknown > 0.0 || km.became_known > 0.0 {
        out.own("unknown is not clear: where something became unknown or known, ratings are compared apart, see below");
    }
}

/// Whether the two can be compared.
fn builds(out: &mut PlainLines, found: &DiffAnswer) {
    let builds = &found.builds;
    let schema = found.new.schema_version;
    writeln!(out, "can they be compared: {}", verdict(builds));
    if !builds.same_program {
        writeln!(
            out,
            "  program  waymask {} -> {}, both schema {schema}: another version may rate differently",
            found.old.waymask_version, found.new.waymask_version
        );
    }
    for key in &builds.keys {
        let alike = if key.old == key.new { " (with other values)" } else { "" };
        writeln!(out, "  profile  {} {} -> {}{alike}", key.key, key.old, key.new);
    }
    if let Some(TimelineChange { old, new }) = &builds.timeline {
        let told = |t: &Option<String>| t.clone().unwrap_or_else(|| "the shells of the profile".into());
        writeln!(out, "  drives under  {} -> {}", told(old), told(new));
    }
    builds.inputs.iter().for_each(|change| input(out, change));
    let chance_km = found.old.km_by_chance.max(found.new.km_by_chance);
    if chance_km >= 0.05 && !found.is_equal {
        writeln!(out, "  chance   another seed of the draws alone would rate about {chance_km:.1} km differently");
    }
}

fn verdict(builds: &BuildsCompared) -> String {
    let mut differs = Vec::new();
    if !builds.same_program {
        differs.push("the program".to_owned());
    }
    if !builds.is_same_profile() {
        let keys = counted(builds.keys.len(), "key");
        differs.push(if builds.keys.is_empty() { "the satellites".into() } else { format!("{keys} of the profile") });
    }
    if !builds.inputs.is_empty() {
        differs.push(counted(builds.inputs.len(), "input"));
    }
    match (builds.same_program && builds.is_same_profile(), builds.inputs.is_empty()) {
        (true, true) => "yes, program, profile and inputs are the same".into(),
        (true, false) => format!("yes, program and profile are the same; {} changed", differs.concat()),
        (false, _) => format!(
            "with care, since a change of rating may come from more than the roads (different: {})",
            differs.join(", ")
        ),
    }
}

fn input(out: &mut PlainLines, change: &InputChange) {
    let told = |input: &Option<InputTold>| match input {
        None => "none".to_owned(),
        Some(i) => {
            let time = i.data_time.as_deref().map_or(String::new(), |t| format!(", data of {t}"));
            let raster = i
                .raster
                .as_ref()
                .map_or(String::new(), |r| format!(", {}, {} m per value", r.kind, r.metres_per_value));
            let sum: String = i.sha256.chars().take(8).collect();
            format!("{} (SHA-256 {sum}...{time}{raster})", i.name)
        }
    };
    writeln!(out, "  {:8} {} -> {}", change.role, told(&change.old), told(&change.new));
}

/// Kilometres by rating, and which rating became which.
fn ratings(out: &mut PlainLines, found: &DiffAnswer) {
    writeln!(out, "km by rating        {}", heads());
    for (name, layer) in [("OLD", &found.old), ("NEW", &found.new)] {
        let km = Rating::ALL.iter().map(|r| layer.km_by_rating.get(r.name()).copied().unwrap_or(0.0));
        writeln!(out, "  {name:18}{}", cells(km));
    }
    for (evidence, title) in [
        (None, "from OLD to NEW"),
        (Some(ChangeKind::BecameUnknown), "became unknown"),
        (Some(ChangeKind::BecameKnown), "became known"),
    ] {
        let moves: Vec<_> = found.moves.iter().filter(|m| m.evidence == evidence).collect();
        if moves.is_empty() {
            continue;
        }
        writeln!(out, "{:20}{}", format!("km {title}"), heads());
        for from in Rating::ALL {
            let km = |to: &Rating| moves.iter().filter(|m| m.from == *from && m.to == *to).map(|m| m.km).sum::<f64>();
            writeln!(out, "  {from:18}{}", cells(Rating::ALL.iter().map(km)));
        }
    }
}

fn heads() -> String {
    Rating::ALL.iter().map(|r| format!("{:>9}", r.name())).collect()
}

/// Kilometres in columns; a dash where there are none, since 0.0 may be a few metres.
fn cells(km: impl Iterator<Item = f64>) -> String {
    km.map(|km| if km > 0.0 { format!("{km:9.1}") } else { format!("{:>9}", "-") }).collect()
}

fn by_cause(out: &mut PlainLines, found: &DiffAnswer) {
    let name = |cause: &Cause| (cause.name().to_owned(), cause.phrase().to_owned());
    two(out, "km by main cause", Cause::ALL.iter().map(name), &found.old.km_by_cause, &found.new.km_by_cause);
}

fn by_evidence(out: &mut PlainLines, found: &DiffAnswer) {
    let (old, new) = (&found.old.km_by_evidence, &found.new.km_by_evidence);
    let names: BTreeSet<&String> = old.keys().chain(new.keys()).collect();
    let told = |name: &String| match name.split_once(": ") {
        Some((what, word)) => format!("{}: {word}", called(what)),
        None => name.clone(),
    };
    two(out, "km by evidence", names.into_iter().map(|name| (name.clone(), told(name))), old, new);
}

/// Kilometres of either layer by name; names without any are left out.
fn two(
    out: &mut PlainLines,
    title: &str,
    names: impl Iterator<Item = (String, String)>,
    old: &BTreeMap<String, f64>,
    new: &BTreeMap<String, f64>,
) {
    writeln!(out, "{title:24}      OLD      NEW");
    for (name, told) in names {
        let km = [old, new].map(|km| km.get(&name).copied().unwrap_or(0.0));
        if km != [0.0, 0.0] {
            writeln!(out, "  {told:22}{}", cells(km.into_iter()));
        }
    }
}

fn largest(out: &mut PlainLines, found: &DiffAnswer) {
    let n = found.stretches;
    let shown = found.largest.len();
    if n == 0 {
        out.own("the expected time without a link changes by 0.1 s or more on no stretch that both layers have");
        return;
    }
    let told = if shown as u64 == n { String::new() } else { format!("; the {shown} largest changes") };
    let changing = if n == 1 { "1 stretch changes".to_owned() } else { format!("{} stretches change", thousands(n)) };
    writeln!(out, "{changing} by 0.1 s or more of expected time without a link{told}");
    found.largest.iter().for_each(|s| stretch(out, s));
}

fn stretch(out: &mut PlainLines, s: &ChangedStretch) {
    let parts = if s.part_from == s.part_to {
        format!("part {}", s.part_from)
    } else {
        format!("parts {} to {}", s.part_from, s.part_to)
    };
    let evidence = match s.evidence {
        Some(ChangeKind::BecameUnknown) => "; unknown now, which is not clear",
        Some(ChangeKind::BecameKnown) => "; unknown before",
        _ => "",
    };
    let became = |old: &str, new: &str| if old == new { old.to_owned() } else { format!("{old} -> {new}") };
    writeln!(
        out,
        "  {:+7.1} s  {:.5},{:.5}  {}, way {} {parts}, {:.0} m: {:.1} s -> {:.1} s, {}, {}{evidence}",
        s.change_s(),
        s.lat_deg,
        s.lon_deg,
        s.road,
        s.way_id,
        s.length_m,
        s.outage_old_s,
        s.outage_new_s,
        became(s.rating_old.name(), s.rating_new.name()),
        became(s.cause_old.phrase(), s.cause_new.phrase()),
    );
}

fn stops(out: &mut PlainLines, stops: &StopsCompared) {
    let all = |by_kind: &BTreeMap<StopKind, u64>| by_kind.values().sum::<u64>();
    writeln!(
        out,
        "places to stop: {} in both, {} only in OLD, {} only in NEW",
        stops.both,
        all(&stops.only_old),
        all(&stops.only_new)
    );
    let kinds: BTreeSet<&StopKind> = stops.only_old.keys().chain(stops.only_new.keys()).collect();
    for kind in kinds {
        let [old, new] = [&stops.only_old, &stops.only_new].map(|km| km.get(kind).copied().unwrap_or(0));
        writeln!(out, "  {:14} {old:6} only in OLD {new:6} only in NEW", kind.spoken());
    }
    if stops.roof_changed > 0 {
        let n = stops.roof_changed;
        writeln!(out, "  at {} in both, what is known of a roof changed", counted(n, "place"));
    }
    if stops.best_changed > 0 {
        let n = stops.best_changed;
        writeln!(out, "  at {n} {} in both, the best place for the panel changed", noun(n, "place"));
        stops.largest.iter().for_each(|s| stop(out, s));
    }
}

fn stop(out: &mut PlainLines, s: &StopMoved) {
    let called = s.name.as_deref().map_or_else(|| s.road.clone(), |name| format!("{name}, {}", s.road));
    let place = |m: f64| if m == 0.0 { "on the vehicle".to_owned() } else { format!("{m:.0} m away") };
    writeln!(
        out,
        "    {:.5},{:.5}  {called}, {}: {:.0} % open {} -> {:.0} % {}",
        s.lat_deg,
        s.lon_deg,
        s.kind.spoken(),
        100.0 * s.open_share_old,
        place(s.distance_old_m),
        100.0 * s.open_share_new,
        place(s.distance_new_m)
    );
}
