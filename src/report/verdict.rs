//! The answer to a meeting in one word, and the clause that says why.
use super::words::road_words;
use crate::ask::plan::{FallsInto, Held, How, Itinerary, Part, RiskFrom, Verdict};
use crate::base::measure::{at_most, duration};
use crate::base::words::Units;

/// The word in capitals, as it heads an answer.
pub(super) fn word(verdict: Verdict) -> String {
    verdict.name().to_uppercase()
}

/// What is added to the word where it is another at worst: `at worst not safe`.
pub(super) fn at_worst(m: &Held) -> Option<String> {
    (m.verdict_worst != m.verdict).then(|| format!("at worst {}", m.verdict_worst.name()))
}

/// What on the road, or at the place, decides a meeting: a clause without a full stop; nothing where nothing is to be said.
pub(super) fn why(m: &Held, units: Units) -> Option<String> {
    let at_rest = || !m.main_parts().iter().any(|part| part.how == How::InMotion);
    let told = match (m.verdict, &m.falls_into) {
        (Verdict::NotKnown, _) => {
            "some of it is where nothing is known of the link: on board, off the layer's roads, or where there may be a \
             roof; unknown is not clear"
                .to_owned()
        }
        (Verdict::NoPower, _) => "the battery is empty during some of it, so the panel is off (see data and energy)".to_owned(),
        (Verdict::NotHeld, _) => return None,
        (_, _) if m.stands_nowhere() => {
            "the map shows no place to stand there: the figure is for the sky over the road; never stop on it".to_owned()
        }
        (_, Some(outage)) if outage.as_held => format!("{} falls into it", outage_words(outage, units)),
        (Verdict::NotSafe, _) if at_rest() => "the sky there is not open enough for it".to_owned(),
        (Verdict::NotSafe, _) => "many short stretches add up to that risk".to_owned(),
        (Verdict::Drive, _) => {
            let known = if m.verdict_worst == Verdict::NotKnown { "as far as is known, " } else { "" };
            format!("{known}no stretch of it has an outage longer than {:.0} s in 95 of 100 drives", m.stands_s)
        }
        (_, Some(outage)) => format!("if you left as asked and drove on, {} would fall into it", outage_words(outage, units)),
        _ => return None,
    };
    Some(told)
}

/// What is said of a meeting whose place is reached shortly before it begins, or after: any delay falls into it.
pub(super) fn tight(day: &Itinerary, m: &Held, tight_min: f64) -> Option<String> {
    let first = m.main_parts().into_iter().next().filter(|part| part.how == How::AtStop)?;
    let arrived = day.parts.iter().find_map(|part| match part {
        Part::Stop { from, to, .. } if from.unix_s() <= first.from.unix_s() && first.to.unix_s() <= to.unix_s() => {
            Some(from.unix_s())
        }
        _ => None,
    })?;
    let before_s = (m.start.unix_s() - arrived) as f64;
    match before_s {
        s if s >= 60.0 * tight_min => None,
        0.0 => Some("tight: you reach the place as it begins".to_owned()),
        s => Some(format!(
            "tight: you reach the place {} {} it begins",
            duration(s.abs()),
            if s > 0.0 { "before" } else { "after" }
        )),
    }
}

/// `an outage of up to 6 s under trees at km 17.4 (service road)`.
fn outage_words(outage: &FallsInto, units: Units) -> String {
    format!(
        "an outage of up to {} at {} ({}, {})",
        at_most(outage.outage_p95_s),
        units.at(outage.at_km),
        outage.cause.phrase(),
        road_words(&outage.road)
    )
}

/// The risk of a meeting in few words.
pub(super) fn risk(m: &Held) -> String {
    match (m.risk, m.risk_from) {
        (Some(_), RiskFrom::NotHeld) => "not held".to_owned(),
        (Some(_), RiskFrom::NoPower) => "no power".to_owned(),
        (Some(risk), RiskFrom::Layer) if (0.01..=0.99).contains(&risk) => format!("at most {:.0} %", 100.0 * risk),
        (Some(risk), RiskFrom::Layer) if risk > 0.99 => "up to 100 %".to_owned(),
        (Some(risk), _) => percent(risk),
        (None, _) => "not known".to_owned(),
    }
}

/// A risk that is as good as certain.
pub(super) const CERTAIN: &str = "above 99 %";

/// Risks are no better known than this.
pub(super) fn percent(risk: f64) -> String {
    match risk {
        r if r < 0.01 => "below 1 %".into(),
        r if r > 0.99 => CERTAIN.into(),
        r => format!("about {:.0} %", 100.0 * r),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::Cause;

    #[test]
    fn an_outage_is_told_with_its_length_place_cause_and_road() {
        let outage = FallsInto {
            as_held: true,
            at_km: 17.386,
            lat_deg: 0.0,
            lon_deg: 0.0,
            road: "service".into(),
            cause: Cause::Canopy,
            outage_p95_s: 6.197,
        };
        assert_eq!(outage_words(&outage, Units::Metric), "an outage of up to 7 s at km 17.4 (trees, service road)");
        assert_eq!(
            (word(Verdict::NotSafe).as_str(), road_words("Moor Road (V2)").as_str()),
            ("NOT SAFE", "Moor Road (V2)")
        );
    }
}
