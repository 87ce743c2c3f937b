//! What the figures of a day do not say by themselves.
use super::day::{Day, EndSky};
use super::held::{Itinerary, Stamp};
use super::verdict::{How, RiskFrom};
use crate::base::measure::duration;

/// What the figures do not say by themselves.
pub(super) fn notes(day: &Day, chosen: &Itinerary) -> Vec<String> {
    let mut out = Vec::new();
    let unknown_s: f64 = day.drive.unknown_s.iter().map(|(a, b)| b - a).sum();
    if unknown_s >= 0.5 {
        out.push(format!(
            "for {} the drive is off the layer's roads ({} at an assumed {}): the link there is not known, \
             and unknown is not clear",
            duration(unknown_s),
            day.shown.units.length(day.drive.unknown_m()),
            day.shown.units.speed(day.rules.driving.unmatched_kmh)
        ));
    }
    if chosen.meetings.iter().any(|m| m.risk_from == RiskFrom::Layer) {
        out.push(
            "risks are upper limits from the layer's figures, not simulated: this layer holds no sky masks, or was \
             built under real satellites with --orbit-date"
                .to_owned(),
        );
    }
    out.extend(at_once(chosen));
    for (how, end, word) in
        [(How::BeforeTrip, day.ends[0], "before departure"), (How::AfterTrip, day.ends[1], "after arrival")]
    {
        if !chosen.meetings.iter().any(|m| m.parts.iter().any(|p| p.how == how)) {
            continue;
        }
        let look = "check the place with `waymask sky`";
        out.push(match end.sky {
            // Where one stays after the day is told with it.
            EndSky::Place(_) if how == How::AfterTrip => continue,
            EndSky::Place(place) => {
                let [on_vehicle, best] = [place.open_share, place.best_open_share.max(place.open_share)];
                let panel = match best > on_vehicle {
                    true => format!(", {:.0} % where the panel stands best", 100.0 * best),
                    false => String::new(),
                };
                let open = 100.0 * on_vehicle;
                format!("{word} you are assumed to stand at {}, with {open:.0} % of the sky open{panel}", place.name)
            }
            EndSky::Road(open) => format!(
                "{word} the map shows no place to stand, so the sky is assumed to be that over the road, {:.0} % \
                 open; {look}",
                100.0 * open
            ),
            EndSky::Unknown => {
                format!(
                    "{word} you are on a ferry or train, or off the layer's roads: the sky there is not known; \
                         {look}"
                )
            }
        });
    }
    out
}

/// Meetings that lie at the same time: nobody can say who holds both.
fn at_once(chosen: &Itinerary) -> Option<String> {
    const NAMED: usize = 3;
    let (all, unix) = (&chosen.meetings, |s: &Stamp| s.unix_s());
    let mut pairs = Vec::new();
    // In order of start: what begins before an earlier one ends overlaps it.
    for (nth, first) in all.iter().enumerate() {
        let others = all[nth + 1..].iter().take_while(|next| unix(&next.start) < unix(&first.end));
        pairs.extend(others.map(|next| format!("{} and {}", first.name, next.name)).take(NAMED + 1));
        if pairs.len() > NAMED {
            break;
        }
    }
    let more = if pairs.len() > NAMED { " and more" } else { "" };
    pairs.truncate(NAMED);
    (!pairs.is_empty()).then(|| {
        format!(
            "meetings at the same time: {}{more}; the risks do not say whether anybody can hold both",
            pairs.join(", ")
        )
    })
}
