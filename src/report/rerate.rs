//! A layer rated again, for people and for programs.
use crate::ask::rerate::{Change, Outcome, RerateAnswer};
use crate::base::error::{Error, Result};
use crate::base::plain::PlainLines;
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
pub fn rerate_table(answered: &RerateAnswer, sweep: bool) -> String {
    let mut out = PlainLines::new();
    let head: Vec<String> = Rating::ALL.iter().map(|r| format!("{:>8}", r.name())).collect();
    writeln!(out, "km by rating    {}  outage  better   worse  assumption", head.join(""));
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
    out.text()
}

fn line(out: &mut PlainLines, outcome: &Outcome, change: Option<&Change>, what: &str) {
    let km = |r: &Rating| outcome.km_by_rating.get(r).copied().unwrap_or(0.0);
    let km: String = Rating::ALL.iter().map(|r| format!("{:8.1}", km(r))).collect();
    let moved = change.map_or(" ".repeat(16), |c| format!("{:8.1}{:8.1}", c.better_km, c.worse_km));
    writeln!(out, "                {km} {:5.2} %{moved}  {what}", 100.0 * outcome.outage_share);
}

fn moves(out: &mut PlainLines, change: &Change) {
    writeln!(out, "roads whose rating changes");
    for (from, to, km) in &change.moves {
        writeln!(out, "  {km:9.1} km  {from} -> {to}");
    }
    if change.moves.is_empty() {
        writeln!(out, "  none");
    }
}

fn notes(out: &mut PlainLines, answered: &RerateAnswer) {
    writeln!(
        out,
        "The rows of link.seed show what the luck of the draws alone moves; what moves less is not told apart from it."
    );
    if let Some(km) = answered.not_reproduced_km.filter(|km| *km > 0.0) {
        writeln!(
            out,
            "{km:.1} km are not rated as stored even under the unchanged profile: the layer comes from another version."
        );
    }
    writeln!(out, "not answered from stored masks (build again to see)");
    for (key, why) in &answered.refused {
        writeln!(out, "  {key:38} {why}");
    }
}
