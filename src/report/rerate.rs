//! A layer rated again, for people and for programs.
use std::fmt::Write;

use crate::ask::rerate::{Change, Outcome, RerateAnswer};
use crate::base::error::{Error, Result};
use crate::base::words::Rating;

/// Everything as JSON.
///
/// # Errors
/// A figure that cannot be written, which is a fault of the program.
pub fn rerate_json(answered: &RerateAnswer) -> Result<String> {
    let json = serde_json::to_string_pretty(answered);
    json.map(|j| j + "\n").map_err(|e| Error::failed("sensitivity", e.to_string(), "leave out --json"))
}

/// The answer for people.
pub fn rerate_table(answered: &RerateAnswer, sweep: bool, caution: &str) -> String {
    let mut out = String::new();
    let head: Vec<String> = Rating::ALL.iter().map(|r| format!("{:>8}", r.name())).collect();
    let _ = writeln!(out, "km by rating    {}  outage  better   worse  assumption", head.join(""));
    line(&mut out, &answered.stored, None, "as stored");
    for change in &answered.changes {
        let about = if change.near { " (about)" } else { "" };
        let what = if change.what.is_empty() { "the profile of the layer".to_owned() } else { change.what.join(", ") };
        line(&mut out, &change.outcome, Some(change), &(what + about));
    }
    match &answered.changes[..] {
        [change] if !sweep => moves(&mut out, change),
        _ => {}
    }
    if sweep {
        notes(&mut out, answered);
    }
    out += caution;
    out + "\n"
}

fn line(out: &mut String, outcome: &Outcome, change: Option<&Change>, what: &str) {
    let km = |r: &Rating| outcome.km_by_rating.get(r).copied().unwrap_or(0.0);
    let km: String = Rating::ALL.iter().map(|r| format!("{:8.1}", km(r))).collect();
    let moved = change.map_or(" ".repeat(16), |c| format!("{:8.1}{:8.1}", c.better_km, c.worse_km));
    let _ = writeln!(out, "                {km} {:5.2} %{moved}  {what}", 100.0 * outcome.outage_share);
}

fn moves(out: &mut String, change: &Change) {
    let _ = writeln!(out, "roads whose rating changes");
    for (from, to, km) in &change.moves {
        let _ = writeln!(out, "  {km:9.1} km  {from} -> {to}");
    }
    if change.moves.is_empty() {
        let _ = writeln!(out, "  none");
    }
}

fn notes(out: &mut String, answered: &RerateAnswer) {
    let _ = writeln!(
        out,
        "The rows of link.seed show what the luck of the draws alone moves; what moves less is not told apart from it."
    );
    if let Some(km) = answered.not_reproduced_km.filter(|km| *km > 0.0) {
        let _ = writeln!(
            out,
            "{km:.1} km are not rated as stored even under the unchanged profile: the layer comes from another version."
        );
    }
    let _ = writeln!(out, "not answered from stored masks (build again to see)");
    for (key, why) in &answered.refused {
        let _ = writeln!(out, "  {key:38} {why}");
    }
}
