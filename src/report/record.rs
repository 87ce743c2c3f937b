//! The record of a layer, the time its stages took, and what its readers are warned of.
use std::collections::BTreeMap;

use crate::base::caution::Caution;
use crate::base::defect::Defect;
use crate::base::plain::PlainLines;
use crate::base::progress::StageTime;
use crate::base::words::{Cause, DrivingSide, Rating, Words};
use crate::layer::model::{BuildRecord, NO_COUNTRY, NOT_KNOWN};
use crate::profile::presets;

/// What belongs to a layer: what belongs to every road, and to the place of the panel it was built for.
pub fn layer_cautions(record: &BuildRecord) -> Vec<Caution> {
    let mut out = vec![Caution::Passenger, Caution::Signs];
    out.extend(presets::cautions(&record.profile));
    out.extend(Caution::ROAD.iter().filter(|c| !out.contains(c)).copied().collect::<Vec<_>>());
    out
}

/// The record of a build, for people.
pub fn record_lines(out: &mut PlainLines, record: &BuildRecord) {
    heading(out, "read");
    for input in &record.inputs {
        let time = input.data_time.as_deref().map_or(String::new(), |t| format!(", data of {t}"));
        let raster = input.raster.as_ref().map_or(String::new(), |r| {
            let scale = match r.metres_per_value {
                1.0 => "in metres".to_owned(),
                metres => format!("{metres} m per value"),
            };
            format!(", {}, pixels of {:.1} m, {scale}", r.kind, r.pixel_m)
        });
        writeln!(out, "  {:10} {} ({}{time}{raster})", input.role, input.name, bytes(input.bytes));
    }
    counts(out, record, &READ);
    heading(out, "made from it");
    counts(out, record, &MADE);
    stops(out, record);
    ratings(out, record);
    shares(out, "roads by main cause", &by_cause(record));
    evidence(out, record);
    sides(out, record);
    if !record.assumed.is_empty() {
        heading(out, "assumed");
        for line in &record.assumed {
            writeln!(out, "  {line}");
        }
    }
    if !record.defects.is_empty() {
        heading(out, "defects in the input");
        for (code, tally) in &record.defects {
            let text = Defect::ALL.iter().find(|d| d.code() == code).map_or("", |d| d.text());
            writeln!(out, "  {:>9} {code}: {text} (such as {})", thousands(tally.count), tally.examples.join(", "));
        }
    }
    let credits: std::collections::BTreeSet<_> =
        record.inputs.iter().filter_map(|i| i.attribution.as_deref()).collect();
    for credit in credits {
        writeln!(out, "map data: {credit}");
    }
}

/// What is counted in the extract, and what is made of it, in the order of the stages.
const READ: [&str; 7] = ["nodes", "ways", "relations", "roads", "trees and woods", "buildings", "walls and cliffs"];
const MADE: [&str; 5] = ["segments", "edges", "overheads", "masks", "stops"];

fn counts(out: &mut PlainLines, record: &BuildRecord, names: &[&str]) {
    for name in names {
        if let Some(count) = record.counts.get(*name) {
            writeln!(out, "  {:>10} {name}", thousands(*count));
        }
    }
}

/// Places to stop by kind.
fn stops(out: &mut PlainLines, record: &BuildRecord) {
    let count = |name: String| record.counts.get(&name).copied().unwrap_or(0);
    let kinds = record.counts.keys().filter_map(|name| name.strip_prefix("stops: "));
    let kinds: Vec<&str> = kinds.collect();
    if !kinds.is_empty() {
        heading(out, "places to stop");
    }
    for kind in kinds {
        let (all, roofed) = (count(format!("stops: {kind}")), count(format!("stops roofed: {kind}")));
        let unknown = match count(format!("stops roof not known: {kind}")) {
            0 => String::new(),
            n => format!(", roof not known at {}", thousands(n)),
        };
        writeln!(out, "  {:>10} {kind}, {} under a roof{unknown}", thousands(all), thousands(roofed));
    }
}

/// Time per stage, rates and memory of the run just made.
pub fn stages_lines(out: &mut PlainLines, stages: &[StageTime], peak_memory_bytes: Option<u64>) {
    heading(out, "time");
    for stage in stages {
        let rate = stage.rate().map_or(String::new(), |r| format!("  {} {}/s", thousands(r as u64), stage.unit));
        writeln!(out, "  {:10} {:7.2} s{rate}", stage.name, stage.seconds);
    }
    let total: f64 = stages.iter().map(|s| s.seconds).sum();
    writeln!(out, "  {:10} {total:7.2} s", "all");
    if let Some(peak) = peak_memory_bytes {
        writeln!(out, "  {:10} {}", "memory", bytes(peak));
    }
}

fn heading(out: &mut PlainLines, text: &str) {
    writeln!(out, "{text}");
}

/// Kilometres by name with their share of the whole.
fn shares(out: &mut PlainLines, title: &str, rows: &[(String, f64)]) {
    let total: f64 = rows.iter().map(|r| r.1).sum();
    if rows.is_empty() || total <= 0.0 {
        return;
    }
    heading(out, title);
    for (name, km) in rows {
        writeln!(out, "  {km:9.1} km  {:5.1} %  {name}", 100.0 * km / total);
    }
}

/// Kilometres by rating, with those at best and at worst where what is assumed about the roadside moves them.
fn ratings(out: &mut PlainLines, record: &BuildRecord) {
    let BuildRecord { km_by_rating, km_by_rating_best: best, km_by_rating_worst: worst, .. } = record;
    if best == km_by_rating && worst == km_by_rating || best.is_empty() {
        shares(out, "roads by rating", &by_rating(record));
        return chance(out, record);
    }
    let total: f64 = km_by_rating.values().sum();
    if total <= 0.0 {
        return;
    }
    heading(
        out,
        "roads by rating; at best and at worst: with what is assumed about trees, buildings, walls and banks at \
         either end of its range",
    );
    let at = |km: &BTreeMap<String, f64>, name: &str| km.get(name).copied().unwrap_or(0.0);
    for (name, km) in by_rating(record) {
        let (best, worst) = (at(best, &name), at(worst, &name));
        writeln!(
            out,
            "  {km:9.1} km  {:5.1} %  {name:6}  at best {best:9.1} km, at worst {worst:9.1} km",
            100.0 * km / total
        );
    }
    let not_known = at(worst, NOT_KNOWN);
    if not_known > 0.0 {
        writeln!(out, "  for {not_known:.1} km the worst is not known, because a cause could not be known there");
    }
    chance(out, record);
}

/// How much of the ratings is luck.
fn chance(out: &mut PlainLines, record: &BuildRecord) {
    if record.km_by_chance >= 0.05 {
        writeln!(
            out,
            "  about {:.1} km would be rated differently with another seed of the draws",
            record.km_by_chance
        );
    }
}

/// What the answers are based on, each as a share of all roads.
fn evidence(out: &mut PlainLines, record: &BuildRecord) {
    let total: f64 = record.km_by_rating.values().sum();
    if record.km_by_evidence.is_empty() || total <= 0.0 {
        return;
    }
    heading(out, "what the answers are based on");
    for (name, km) in &record.km_by_evidence {
        let name = match name.split_once(": ") {
            Some((what, word)) => format!("{}: {word}", called(what)),
            None => name.clone(),
        };
        writeln!(out, "  {km:9.1} km  {:5.1} %  {name}", 100.0 * km / total);
    }
}

/// Kilometres by the side traffic keeps to, each with its countries.
fn sides(out: &mut PlainLines, record: &BuildRecord) {
    for side in DrivingSide::NAMES {
        let countries: Vec<(&str, f64)> =
            record.km_by_side.iter().filter_map(|(key, km)| Some((key.strip_prefix(side)?.trim(), *km))).collect();
        if !countries.is_empty() {
            let total: f64 = countries.iter().map(|c| c.1).sum();
            let listed: Vec<String> = countries.iter().map(|(name, km)| format!("{} {km:.1}", place(name))).collect();
            writeln!(out, "traffic keeps {side} on {total:.1} km ({})", listed.join(", "));
        }
    }
}

/// A country as the record names it; what stands for one that is not known, in words.
fn place(name: &str) -> &str {
    if name == NO_COUNTRY { "country not known" } else { name }
}

/// Kilometres by what people call the cause, the longest first.
fn by_cause(record: &BuildRecord) -> Vec<(String, f64)> {
    let mut rows = largest_first(&record.km_by_cause);
    rows.iter_mut().for_each(|row| row.0 = called(&row.0).to_owned());
    rows
}

/// What people call a cause; other words as they are.
pub(super) fn called(word: &str) -> &str {
    Cause::parse(word).map_or(word, |cause| cause.phrase())
}

fn by_rating(record: &BuildRecord) -> Vec<(String, f64)> {
    Rating::ALL
        .iter()
        .map(|r| (r.name().to_owned(), record.km_by_rating.get(r.name()).copied().unwrap_or(0.0)))
        .collect()
}

fn in_order(map: &std::collections::BTreeMap<String, f64>) -> Vec<(String, f64)> {
    map.iter().map(|(k, v)| (k.clone(), *v)).collect()
}

fn largest_first(map: &std::collections::BTreeMap<String, f64>) -> Vec<(String, f64)> {
    let mut rows = in_order(map);
    rows.sort_by(|a, b| b.1.total_cmp(&a.1));
    rows
}

/// A count with thin groups of three: `12 345`.
pub fn thousands(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(' ');
        }
        out.push(c);
    }
    out
}

/// A size in decimal units.
pub fn bytes(n: u64) -> String {
    match n {
        0..=999 => format!("{n} B"),
        1_000..=999_999 => format!("{:.1} kB", n as f64 / 1e3),
        1_000_000..=999_999_999 => format!("{:.1} MB", n as f64 / 1e6),
        _ => format!("{:.2} GB", n as f64 / 1e9),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_layer_warns_of_the_place_of_its_panel() {
        for (preset, third) in
            [("roof", Caution::Fastening), ("windscreen", Caution::Windscreen), ("hood", Caution::Hood)]
        {
            let profile = presets::find(preset).unwrap().profile().unwrap();
            let cautions = layer_cautions(&BuildRecord { profile, ..BuildRecord::default() });
            assert_eq!(cautions[..3], [Caution::Passenger, Caution::Signs, third], "{preset}");
            assert!(Caution::ROAD.iter().all(|c| cautions.contains(c)), "{preset}");
        }
    }

    #[test]
    fn numbers_read_well() {
        assert_eq!(thousands(1234567), "1 234 567");
        assert_eq!(thousands(12), "12");
        assert_eq!(bytes(3_164_295), "3.2 MB");
    }
}
