//! How a meeting is held, what its risk is based on, and the word that says what to do about it.
use serde::Serialize;

use crate::base::words::{Cause, words};

words! {
    /// What to do about a meeting.
    #[derive(Default)]
    pub enum Verdict {
        /// Hold it while the vehicle drives.
        Drive = "drive",
        /// Stop for it.
        Stop = "stop",
        /// Hold it before one leaves.
        BeforeYouLeave = "before you leave",
        /// Hold it after one has arrived.
        AfterYouArrive = "after you arrive",
        /// It is likelier to be interrupted than the traveller accepts, whatever was tried.
        NotSafe = "not safe",
        /// The battery is empty during some of it, so the panel is off.
        NoPower = "no power",
        /// Nobody is free to hold it.
        NotHeld = "nobody is free",
        /// Some of it is where nothing is known: unknown is not clear.
        #[default]
        NotKnown = "not known",
    }
}

/// How a meeting is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// Driving, all of it.
    InMotion,
    /// At a stop, all of it.
    AtStop,
    /// Before one leaves.
    BeforeTrip,
    /// After one has arrived.
    AfterTrip,
    /// Not at all: nobody is free to hold it while the others drive.
    NotHeld,
    /// Some of it here, some of it there.
    InParts,
}

words! {
    /// What a risk is based on.
    pub enum RiskFrom {
        /// Simulated drives over the very road, and under the sky of the places.
        Simulated = "simulated",
        /// Figures of the layer, which only bound it.
        Layer = "layer",
        /// Nobody is free to hold some of it.
        NotHeld = "not held",
        /// The battery is empty during some of it.
        NoPower = "no power",
        /// Nothing: some of the meeting is where nothing is known.
        NotKnown = "not known",
    }
}

impl Verdict {
    /// Whether the meeting is not held safely, or nobody knows.
    pub(crate) fn is_lost(self) -> bool {
        matches!(self, Self::NotSafe | Self::NoPower | Self::NotHeld | Self::NotKnown)
    }
}

/// The worst outage of the road that falls into a meeting.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FallsInto {
    /// Whether it does so as the meeting is held; else it would if the day were driven as asked, without stops for meetings.
    pub as_held: bool,
    /// Kilometres driven before it, or before the meeting where that begins later.
    pub at_km: f64,
    /// Where the whole outage begins, degrees.
    pub lat_deg: f64,
    /// See `lat_deg`.
    pub lon_deg: f64,
    /// Road.
    pub road: String,
    /// Cause.
    pub cause: Cause,
    /// What 95 of 100 drives do not exceed of it in the meeting, seconds.
    pub outage_p95_s: f64,
}

/// The word for a meeting: by its risk first, then by where it is held.
pub(super) fn verdict(risk: Option<f64>, from: RiskFrom, hows: &[How], safe_risk: f64) -> Verdict {
    match (risk, from) {
        (_, RiskFrom::NotHeld) => return Verdict::NotHeld,
        (None, _) => return Verdict::NotKnown,
        (Some(risk), _) if risk > safe_risk => return Verdict::NotSafe,
        (Some(_), _) => {}
    }
    // What asks more of the traveller is said: a stop before driving on, driving before waiting.
    let words = [
        (How::AtStop, Verdict::Stop),
        (How::InMotion, Verdict::Drive),
        (How::AfterTrip, Verdict::AfterYouArrive),
        (How::BeforeTrip, Verdict::BeforeYouLeave),
    ];
    words.into_iter().find(|(how, _)| hows.contains(how)).map_or(Verdict::NotKnown, |(_, word)| word)
}

#[cfg(test)]
mod tests {
    use super::*;
    #[test]
    fn what_is_not_known_or_not_held_is_never_safe_and_a_stop_is_named_before_driving_on() {
        let word = |risk, from, hows: &[How]| verdict(risk, from, hows, 0.1);
        assert_eq!(word(None, RiskFrom::NotKnown, &[How::InMotion]), Verdict::NotKnown);
        assert_eq!(word(Some(1.0), RiskFrom::NotHeld, &[How::InMotion]), Verdict::NotHeld);
        assert_eq!(word(Some(0.11), RiskFrom::Simulated, &[How::AtStop]), Verdict::NotSafe);
        assert_eq!(word(Some(0.1), RiskFrom::Simulated, &[How::InMotion]), Verdict::Drive);
        assert_eq!(word(Some(0.0), RiskFrom::Layer, &[How::InMotion, How::AtStop]), Verdict::Stop);
        assert_eq!(word(Some(0.0), RiskFrom::Simulated, &[How::BeforeTrip, How::InMotion]), Verdict::Drive);
        assert_eq!(word(Some(0.0), RiskFrom::Simulated, &[How::AfterTrip]), Verdict::AfterYouArrive);
        assert_eq!(word(Some(0.0), RiskFrom::Simulated, &[How::BeforeTrip]), Verdict::BeforeYouLeave);
    }
}
