//! The sky over a place, for people and for programs.
use super::words::ROSE;
use crate::ask::place::{FRESH_DAYS, SkyAnswer};
use crate::base::caution::{self, Caution};
use crate::base::count::counted;
use crate::base::error::{Error, Result};
use crate::base::geodesy::eighth;
use crate::base::plain::PlainLines;
use crate::base::words::{Cause, Evidence, Units};

/// Everything as JSON.
///
/// # Errors
/// A figure that cannot be written, which is a fault of the program.
pub fn place_json(answer: &SkyAnswer) -> Result<String> {
    let failed = |e: serde_json::Error| Error::failed("sky", e.to_string(), "leave out --json");
    let mut value = serde_json::to_value(answer).map_err(failed)?;
    value["cautions"] = caution::texts(&Caution::SKY).into();
    Ok(serde_json::to_string_pretty(&value).map_err(failed)? + "\n")
}

/// The table for people; passes where they were asked for.
pub fn place_table(answer: &SkyAnswer, with_passes: bool, units: Units) -> String {
    let mut out = PlainLines::new();
    writeln!(
        out,
        "{}, {} away, heading {:.0}\u{b0}: segment {} is rated {}, outage p95 {:.1} s",
        answer.road,
        units.near(answer.distance_m),
        answer.heading_deg,
        answer.segment_id,
        answer.rating_name,
        answer.outage_p95_s
    );
    writeln!(out, "usable sky, weighted by {:.1} expected satellites", answer.expected_satellites);
    writeln!(out, "  {:5.1} %  open{}", 100.0 * answer.shares.open, spread(answer));
    for (cause, share) in answer.shares.blocked.iter().filter(|(_, share)| **share >= 0.000_5) {
        writeln!(out, "  {:5.1} %  {}", 100.0 * share, cause.phrase());
    }
    let rests = (answer.evidence_terrain, answer.evidence_canopy, answer.evidence_building);
    let not_known = if answer.evidence == Evidence::Unknown {
        "; a cause could not be known, and unknown is not clear"
    } else {
        ""
    };
    writeln!(out, "based on: terrain {}, trees {}, buildings {}{not_known}", rests.0, rests.1, rests.2);
    writeln!(out, "by direction: expected satellites, share of them in open sky, what blocks most");
    for (k, name) in ROSE.iter().enumerate() {
        writeln!(out, "  {name:2}  {}", direction(answer, k));
    }
    if with_passes {
        passes(&mut out, answer);
    }
    out.text()
}

/// The open share at best and at worst, where what is assumed about the roadside moves it or something could not be known.
fn spread(answer: &SkyAnswer) -> String {
    let best = 100.0 * answer.open_best;
    match answer.open_worst {
        Some(worst) if answer.open_best - worst < 0.000_5 => String::new(),
        Some(worst) => {
            format!(" ({:.1} to {best:.1} % if trees and buildings differ from what is assumed)", 100.0 * worst)
        }
        None => format!(" (at best {best:.1} %; the worst is not known)"),
    }
}

/// One eighth of the sky, centred on its direction.
fn direction(answer: &SkyAnswer, nth: usize) -> String {
    let cells = || answer.cells.iter().filter(|c| eighth(c.azimuth_deg) == nth);
    let weight: f64 = cells().map(|c| c.weight).sum();
    let open: f64 = cells().map(|c| c.weight * (1.0 - c.blocked)).sum();
    let by = |cause: Cause| cells().filter(|c| c.cause == cause).map(|c| c.weight * c.blocked).sum::<f64>();
    let blocking = Cause::ALL.iter().copied().filter(|c| by(*c) > 0.0);
    let worst = blocking.max_by(|a, b| by(*a).total_cmp(&by(*b))).unwrap_or(Cause::None);
    let share = if weight > 0.0 { 100.0 * open / weight } else { 0.0 };
    format!("{:5.2}  {share:5.1} %  {}", weight * answer.expected_satellites, worst.phrase())
}

fn passes(out: &mut PlainLines, answer: &SkyAnswer) {
    writeln!(out, "passes (UTC): rise, highest, set, seconds in open usable sky");
    for pass in &answer.passes {
        let clock = |time: &str| time.get(11..19).unwrap_or(time).to_owned();
        writeln!(
            out,
            "  {:18} {} {:3.0}\u{b0}  {:2.0}\u{b0} at {}  {} {:3.0}\u{b0}  {:4.0} of {:4.0} s",
            pass.satellite,
            clock(&pass.rise.time),
            pass.rise.azimuth_deg,
            pass.peak.elevation_deg,
            clock(&pass.peak.time),
            clock(&pass.set.time),
            pass.set.azimuth_deg,
            pass.open_s,
            pass.seconds
        );
    }
    if answer.passes.is_empty() {
        writeln!(out, "  none");
    }
    let oldest_days = answer.passes.iter().map(|p| p.elements_age_days).fold(0.0, f64::max);
    if oldest_days > FRESH_DAYS {
        writeln!(
            out,
            "  elements are up to {oldest_days:.0} days from these passes, which may be off by many seconds: get \
             newer elements"
        );
    }
    if answer.lost > 0 {
        writeln!(out, "  left out, position not known at this time: {}", counted(answer.lost, "satellite"));
    }
    for told in &answer.left_out {
        writeln!(out, "  {told}");
    }
}
