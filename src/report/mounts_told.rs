//! What is said of mounts before their table: what is not known, the answer in sentences, and who they are.
use super::plan::RULES_BROKEN;
use crate::ask::mounts::{MountAnswer, MountFigures, MountsAnswer};
use crate::base::caution::Caution;
use crate::base::count::counted;
use crate::base::measure::duration;
use crate::base::plain::PlainLines;
use crate::profile::presets;

/// Metres of unknown sky that are worth a sentence, as in the corridor.
const UNKNOWN_M: f64 = 50.0;
/// Said of a stand.
const PACKED: &str = "packed while driving: no link on the road, and no meeting in motion";

/// `1 roof`.
pub(super) fn called(mount: &MountAnswer) -> String {
    format!("{} {}", mount.number, mount.name)
}

/// What no layer says comes first: track off its roads, and sky of which nothing is known.
pub(super) fn not_known(out: &mut PlainLines, answer: &MountsAnswer) {
    for mount in &answer.mounts {
        let whole = &mount.whole;
        if whole.unmatched_m >= 1.0 {
            let off = answer.shown.units.length(whole.unmatched_m);
            writeln!(out, "Not known with {}: {off} of the track is off the roads of {}.", called(mount), mount.layer);
        }
        if whole.risks_not_known > 0 {
            let many = counted(whole.risks_not_known, "meeting");
            writeln!(out, "Not known with {}: the risk of {many}.", called(mount));
        }
    }
    let unknown = answer.mounts.iter().filter(|m| !m.on_stand && m.whole.unknown_m >= UNKNOWN_M);
    if let Some(worst) = unknown.max_by(|a, b| a.whole.unknown_m.total_cmp(&b.whole.unknown_m)) {
        let units = answer.shown.units;
        let (some, all) = (units.of_road(worst.whole.unknown_m), units.road(worst.whole.length_km * 1e3));
        writeln!(out, "For up to {some:.1} of {all} it is not known whether more blocks the sky.");
    }
}

/// Days that must not be driven as planned.
pub(super) fn rules_broken(out: &mut PlainLines, answer: &MountsAnswer) {
    for mount in &answer.mounts {
        for day in mount.days.iter().filter(|day| !day.rules_kept) {
            writeln!(out, "{}, {}: {RULES_BROKEN}", called(mount), day.depart.0.date());
        }
    }
}

/// The answer in a few sentences: the least time without a link, and what becomes of the meetings.
pub(super) fn verdict(answer: &MountsAnswer) -> String {
    let mut by_road: Vec<&MountAnswer> = answer.mounts.iter().collect();
    by_road.sort_by(|a, b| a.whole.outage_s.total_cmp(&b.whole.outage_s));
    let (Some(first), Some(last)) = (by_road.first(), by_road.last()) else { return String::new() };
    let lost = |mount: &MountAnswer| duration(mount.whole.outage_s);
    let wheel = duration(first.whole.driving_s);
    let best = by_road.iter().take_while(|m| lost(m) == lost(first)).count();
    let road = if by_road.len() == 1 {
        format!("{} expected without a link of {wheel} at the wheel with {}", lost(first), called(first))
    } else if lost(first) == lost(last) {
        format!("{} expected without a link with every mount", lost(first))
    } else {
        let does = if best == 1 { "does" } else { "do" };
        let firsts: Vec<String> = by_road[..best].iter().map(|m| called(m)).collect();
        let others: Vec<String> = by_road[best..].iter().map(|m| format!("{} with {}", lost(m), called(m))).collect();
        format!(
            "on the road {} {does} best, {} expected without a link of {wheel} at the wheel; {}",
            firsts.join(" and "),
            lost(first),
            others.join(", ")
        )
    };
    let alone = match answer.mounts.len() {
        1 => {
            " One mount alone is compared with nothing: give a second layer, built from the same files with another --profile."
        }
        _ => "",
    };
    format!("{road}. {}{alone}", meetings_verdict(answer))
}

fn meetings_verdict(answer: &MountsAnswer) -> String {
    let most = answer.mounts.iter().map(|m| m.whole.meetings).max().unwrap_or(0);
    if most == 0 {
        return "No meetings.".to_owned();
    }
    let each: Vec<String> =
        answer.mounts.iter().map(|m| format!("{} with {}", interrupted(&m.whole), called(m))).collect();
    format!("Meetings expected to be interrupted, of {most}: {}.", each.join(", "))
}

/// `0.4`, `0.4 and 1 not known`.
pub(super) fn interrupted(figures: &MountFigures) -> String {
    match figures.risks_not_known {
        0 => format!("{:.1}", figures.interrupted),
        n => format!("{:.1} and {n} not known", figures.interrupted),
    }
}

/// The mounts, and under each what those who put a panel there are warned of; what belongs to several is said once.
pub(super) fn legend(out: &mut PlainLines, answer: &MountsAnswer) {
    let mut told: Vec<(Caution, &MountAnswer)> = Vec::new();
    for mount in &answer.mounts {
        writeln!(out, "{}  {}", called(mount), mount.layer);
        let above = answer.shown.units.height(mount.antenna_height_m);
        writeln!(out, "  {}; {above} above the road", mount.place);
        if mount.on_stand {
            writeln!(out, "  {PACKED}");
        }
        if let Some(same) = mount.same_as {
            writeln!(out, "  the same mount as {same}: built under the same assumptions");
        }
        let mut shared: Vec<(Caution, &MountAnswer)> = Vec::new();
        for caution in presets::cautions(&mount.profile) {
            match told.iter().find(|(known, _)| known == caution) {
                Some(known) => shared.push(*known),
                None => {
                    writeln!(out, "  {}", caution.text());
                    told.push((*caution, mount));
                }
            }
        }
        said_before(out, &shared);
    }
}

/// Warnings that are said already under other mounts: all of one mount's in a sentence, else each by how it begins.
fn said_before(out: &mut PlainLines, shared: &[(Caution, &MountAnswer)]) {
    let Some((_, first)) = shared.first() else { return };
    let all_of_it = presets::cautions(&first.profile).len() == shared.len();
    if all_of_it && shared.iter().all(|(_, other)| other.number == first.number) {
        writeln!(out, "  what is said under {} holds here, too", called(first));
        return;
    }
    for (caution, other) in shared {
        let begins = caution.text().split(['.', ':']).next().unwrap_or_default();
        writeln!(out, "  as under {}: {begins} ...", called(other));
    }
}
