//! Meetings as the search weighs them: equal ones together, in order of start, so that a span finds those it touches.
use std::collections::BTreeMap;

use super::crew::Travellers;
use super::kind::{Kind, Meeting};

/// Most times and kinds of meetings that a search weighs. Nobody holds as many in a day; a calendar made to keep the search
/// busy may have them.
pub(crate) const MOST_WEIGHED: usize = 200;

/// Meetings of one kind from one moment to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Weighed {
    /// What they tolerate.
    pub kind: Kind,
    /// Begin, seconds since 1970-01-01 UTC.
    pub start_s: i64,
    /// End.
    pub end_s: i64,
    /// Whose they are.
    pub of: Travellers,
    /// How many they are.
    pub count: f64,
    /// The first of them: its place in the day's list.
    pub first: usize,
}

/// All of them, in order of start.
#[derive(Debug, Clone)]
pub(crate) struct Agenda {
    weighed: Vec<Weighed>,
    /// The latest end up to each of them.
    latest_end_s: Vec<i64>,
    /// Meetings not considered, because there are too many.
    pub left_aside: usize,
}

impl Agenda {
    /// The most demanding and earliest meetings, [`MOST_WEIGHED`] different ones at most.
    pub fn of(meetings: &[Meeting]) -> Self {
        let mut equal: BTreeMap<(Kind, i64, i64, Travellers), Weighed> = BTreeMap::new();
        for (first, meeting) in meetings.iter().enumerate() {
            let (kind, start_s, end_s) = (meeting.kind, meeting.start_s, meeting.judged_end_s());
            let of = meeting.of;
            let new = Weighed { kind, start_s, end_s, of, count: 0.0, first };
            equal.entry((kind, start_s, end_s, of)).or_insert(new).count += 1.0;
        }
        // The map has the most demanding first, then the earliest.
        let mut weighed: Vec<Weighed> = equal.into_values().take(MOST_WEIGHED).collect();
        let kept: f64 = weighed.iter().map(|w| w.count).sum();
        weighed.sort_by_key(|w| (w.start_s, w.first));
        let ends = weighed.iter().scan(i64::MIN, |latest, w| {
            *latest = w.end_s.max(*latest);
            Some(*latest)
        });
        Self { latest_end_s: ends.collect(), left_aside: meetings.len() - kept as usize, weighed }
    }
    /// Every meeting that touches a span of time, in order of start. Between the first and the last that do, some may end before the
    /// span begins.
    pub fn touching(&self, from_s: i64, to_s: i64) -> &[Weighed] {
        let first = self.latest_end_s.partition_point(|end_s| *end_s <= from_s);
        let after = self.weighed.partition_point(|w| w.start_s < to_s);
        self.weighed.get(first..after).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn meeting(kind: Kind, start_s: i64, end_s: i64) -> Meeting {
        Meeting {
            uid: String::new(),
            name: String::new(),
            kind,
            start_s,
            end_s,
            tentative: false,
            of: Travellers::default(),
        }
    }

    #[test]
    fn equal_meetings_weigh_together_and_a_span_finds_what_it_touches() {
        let (call, mail) = (Kind::Casual, Kind::Messages);
        let meetings = [
            meeting(call, 500, 600),
            meeting(call, 0, 1_000),
            meeting(call, 500, 600),
            meeting(mail, 500, 600),
            meeting(call, 100, 200),
        ];
        let agenda = Agenda::of(&meetings);
        let found = |from, to| agenda.touching(from, to).iter().map(|w| (w.first, w.count)).collect::<Vec<_>>();
        assert_eq!(found(0, 10_000), [(1, 1.0), (4, 1.0), (0, 2.0), (3, 1.0)]);
        assert_eq!((found(600, 700).first(), found(1_000, 10_000).len(), found(-9, 0).len()), (Some(&(1, 1.0)), 0, 0));
        assert_eq!((found(0, 500).len(), agenda.left_aside), (2, 0));
    }

    #[test]
    fn of_too_many_the_most_demanding_are_weighed_and_the_rest_is_counted() {
        let mut meetings: Vec<Meeting> = (0..1_000).map(|i| meeting(Kind::Messages, i, i + 60)).collect();
        meetings.extend((0..150).map(|i| meeting(Kind::MustNotDrop, 5_000 + i, 6_000)));
        let agenda = Agenda::of(&meetings);
        let all = agenda.touching(i64::MIN, i64::MAX);
        let demanding = all.iter().filter(|w| w.kind == Kind::MustNotDrop).count();
        assert_eq!((all.len(), demanding, agenda.left_aside), (MOST_WEIGHED, 150, 950));
        assert!(all.iter().take(50).map(|w| w.start_s).eq(0..50));
    }
}
