//! Who drives and who is in a meeting: never the same person at one time.
//!
//! Where nobody is named, somebody besides the driver is assumed to hold the calls.
use serde::{Deserialize, Serialize};

/// A traveller.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Traveller {
    /// What the traveller is called.
    pub name: String,
    /// Drives.
    #[serde(default = "yes")]
    pub drives: bool,
    /// Works over the link: holds meetings of which nothing says whose they are.
    #[serde(default = "yes")]
    pub link: bool,
}

fn yes() -> bool {
    true
}

/// Most travellers: as many as drivers.
pub(crate) const MOST_TRAVELLERS: usize = 20;

/// Some travellers, a bit each in the order of the trip file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize)]
pub struct Travellers(u32);

impl Travellers {
    /// One of them.
    pub(crate) fn one(nth: usize) -> Self {
        Self(1 << nth.min(MOST_TRAVELLERS))
    }
    /// These and those.
    pub(crate) fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
    /// Whether one of them is among these.
    pub(crate) fn has(self, nth: usize) -> bool {
        self.0 & Self::one(nth).0 != 0
    }
    /// Nobody.
    pub(crate) fn is_empty(self) -> bool {
        self.0 == 0
    }
}

/// Whether a meeting can be held while one of the travellers drives: those whose it is do not drive; where nobody says whose
/// it is, somebody who works over the link does not.
pub(crate) fn can_be_held(crew: &[Traveller], driver: usize, of: Travellers) -> bool {
    if of.is_empty() {
        return crew.iter().enumerate().any(|(nth, one)| nth != driver && one.link);
    }
    !of.has(driver)
}

/// A meeting on a leg of the drive: whose it is, what it costs there if it is held and if nobody can hold it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct MeetingOnLeg {
    /// Whose it is; empty where nothing says so.
    pub of: Travellers,
    /// Held.
    pub held_min: f64,
    /// Not held.
    pub missed_min: f64,
}

/// Who drives a leg from stop to stop, and what its meetings cost then: of those who drive, the one with whom they cost
/// least, the first where that is equal. Nobody where nobody is named.
pub(crate) fn driver(crew: &[Traveller], meetings: &[MeetingOnLeg]) -> (Option<usize>, f64) {
    let cost = |driver: usize| -> f64 {
        let price = |m: &MeetingOnLeg| if can_be_held(crew, driver, m.of) { m.held_min } else { m.missed_min };
        meetings.iter().map(price).sum()
    };
    let drivers = crew.iter().enumerate().filter(|(_, one)| one.drives).map(|(nth, _)| (nth, cost(nth)));
    match drivers.min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0))) {
        Some((nth, cost)) => (Some(nth), cost),
        None => (None, meetings.iter().map(|m| m.held_min).sum()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn crew(travellers: &[(&str, bool, bool)]) -> Vec<Traveller> {
        travellers
            .iter()
            .map(|(name, drives, link)| Traveller { name: (*name).into(), drives: *drives, link: *link })
            .collect()
    }

    #[test]
    fn whose_meeting_it_is_does_not_drive() {
        let two = crew(&[("Ada", true, true), ("Ben", true, true)]);
        let of = |nth| MeetingOnLeg { of: Travellers::one(nth), held_min: 1.0, missed_min: 600.0 };
        assert_eq!(driver(&two, &[of(0)]), (Some(1), 1.0));
        assert_eq!(driver(&two, &[of(1)]), (Some(0), 1.0));
        // One leg has one driver.
        assert_eq!(driver(&two, &[of(0), of(1)]), (Some(0), 601.0));
        let both = MeetingOnLeg { of: Travellers::one(0).and(Travellers::one(1)), ..of(0) };
        assert_eq!(driver(&two, &[both]).1, 600.0);
    }

    #[test]
    fn of_nobodys_meeting_somebody_on_the_link_takes_care_and_one_alone_cannot() {
        let untold = MeetingOnLeg { of: Travellers::default(), held_min: 1.0, missed_min: 600.0 };
        let cost = |travellers: &[(&str, bool, bool)]| driver(&crew(travellers), &[untold]);
        assert_eq!(cost(&[("Ada", true, true)]), (Some(0), 600.0));
        assert_eq!(cost(&[("Ada", true, true), ("Ben", false, false)]), (Some(0), 600.0));
        assert_eq!(cost(&[("Ada", true, true), ("Ben", false, true)]), (Some(0), 1.0));
        assert_eq!(cost(&[("Ada", true, true), ("Ben", true, false)]), (Some(1), 1.0));
        assert_eq!(cost(&[]), (None, 1.0));
    }
}
