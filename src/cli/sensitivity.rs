//! `sensitivity`: which assumption matters, from a layer alone.
use std::fmt::Write;

use super::args::Sensitivity;
use super::{show, watch};
use crate::ask::rerate::{self, Answered, Change, Outcome, Question, Wanted};
use crate::base::error::{Error, Result};
use crate::physics::link::rating::Rating;
use crate::profile::source;

/// Runs the command; the text to print.
pub fn run(args: &Sensitivity) -> Result<String> {
    let wanted = match (&args.profile, args.set.is_empty()) {
        (None, true) => Wanted::Sweep,
        (None, false) => Wanted::Values(args.set.clone()),
        (Some(name_or_file), _) => {
            let chosen = source::choose(name_or_file)?.profile;
            Wanted::Profile(Box::new(source::with_values(&chosen, &args.set)?))
        }
    };
    if args.output.is_some() && matches!(wanted, Wanted::Sweep) {
        return Err(Error::usage(
            "-o",
            "there is no single changed profile to write",
            "name it with --profile or --set",
        ));
    }
    let question = Question {
        layer: args.layer.clone(),
        wanted,
        output: args.output.clone(),
        overwrite: args.overwrite,
        threads: args.threads.map(usize::from),
    };
    let watcher = watch::watcher(args.quiet || args.json);
    let answered = rerate::ask(&question, watcher.as_ref())?;
    if args.json {
        let json = serde_json::to_string_pretty(&answered)
            .map_err(|e| Error::failed("sensitivity", e.to_string(), "leave out --json"))?;
        return Ok(json + "\n");
    }
    Ok(text(&answered, matches!(question.wanted, Wanted::Sweep)))
}

/// The answer for people.
fn text(answered: &Answered, sweep: bool) -> String {
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
    out += show::CAUTION;
    out + "\n"
}

fn line(out: &mut String, outcome: &Outcome, change: Option<&Change>, what: &str) {
    let km = |r: &Rating| outcome.km_by_rating.get(r.name()).copied().unwrap_or(0.0);
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

fn notes(out: &mut String, answered: &Answered) {
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
