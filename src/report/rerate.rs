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
        let what = if change.what.is_empty() { "the profile of the layer".to_owned() } else { change.what.join(", ") };
        line(&mut out, &change.outcome, Some(change), &what);
    }
    match &answered.changes[..] {
        [change] if !sweep => moves(&mut out, change),
        _ => {}
    }
    if sweep {
        matters(&mut out, answered);
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

/// The three assumptions that matter most, in words.
fn matters(out: &mut PlainLines, answered: &RerateAnswer) {
    let all_km: f64 = answered.stored.km_by_rating.values().sum();
    let key = |change: &Change| change.what.first().and_then(|w| w.split(' ').next()).unwrap_or_default().to_owned();
    let mut moved = vec![(answered.roadside_km, "what is assumed about trees, buildings, walls and banks".to_owned())];
    for change in answered.changes.iter().filter(|c| !key(c).is_empty() && key(c) != "link.seed") {
        let km = change.moved_km();
        match moved.iter_mut().find(|(_, name)| *name == key(change)) {
            Some((most, _)) => *most = most.max(km),
            None => moved.push((km, key(change))),
        }
    }
    moved.sort_by(|a, b| b.0.total_cmp(&a.0));
    let told = moved.iter().take(3).map(|(km, name)| format!("{name} moves {km:.1} km"));
    writeln!(out, "Of {all_km:.1} km, most depends on this: {}.", told.collect::<Vec<_>>().join("; "));
}

fn notes(out: &mut PlainLines, answered: &RerateAnswer) {
    writeln!(
        out,
        "The rows of link.seed show what chance alone moves; an assumption that moves less cannot be told apart from \
         chance."
    );
    if let Some(km) = answered.not_reproduced_km.filter(|km| *km > 0.0) {
        writeln!(
            out,
            "{km:.1} km do not get their stored rating even under the unchanged profile: the layer comes from \
             another version."
        );
    }
    writeln!(
        out,
        "The best and worst ratings of a road include none of the rows above: they cover only what stands beside it."
    );
    writeln!(out, "not answered by stored masks (build again to see)");
    for refused in &answered.refused {
        let held = if refused.in_best_and_worst { "; included in best and worst" } else { "" };
        writeln!(out, "  {:38} {}{held}", refused.key, refused.why);
    }
}
