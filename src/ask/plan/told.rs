//! Where one is while a meeting lasts, and the figures that simulated drives give for it.
use super::day::{Day, EndSky};
use super::halt::Halt;
use super::kind::Kind;
use super::span::{Doing, Span};
use crate::base::error::Result;
use crate::base::words::Case;

/// Where one is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Whereabout<'a> {
    /// On the road, from one moment at the wheel to another, seconds. The drive there began at `since_s`.
    Road {
        /// Seconds at the wheel.
        from_s: f64,
        /// Seconds at the wheel.
        to_s: f64,
        /// Seconds at the wheel where the drive without a stop began.
        since_s: f64,
    },
    /// At a place of the map, with the panel on the vehicle or at the best place beside it.
    Place(&'a Halt, Panel),
    /// Standing on the road where it begins or ends.
    RoadEnd {
        /// At its end.
        last: bool,
    },
    /// Nobody knows.
    Unknown,
}

/// Where the panel is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Panel {
    /// On the vehicle.
    OnVehicle,
    /// At the best place within reach.
    Best,
}

/// A part of a meeting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeetingPart<'a> {
    /// How long it lasts, seconds.
    pub seconds: f64,
    /// What of that lies before the meeting, seconds: an outage may begin in it.
    pub before_s: f64,
    /// Where one is.
    pub whereabout: Whereabout<'a>,
}

impl MeetingPart<'_> {
    /// Whether any of it is a part of the meeting.
    pub(super) fn is_in_meeting(&self) -> bool {
        self.before_s < self.seconds
    }
}

/// Two parts as one, where one goes on with the other.
fn goes_on<'a>(first: &MeetingPart<'a>, next: &MeetingPart<'a>) -> Option<MeetingPart<'a>> {
    let whereabout = match (first.whereabout, next.whereabout) {
        (
            Whereabout::Road { from_s, to_s: there_s, since_s },
            Whereabout::Road { from_s: here_s, to_s, since_s: same_s },
        ) if there_s == here_s && since_s == same_s => Whereabout::Road { from_s, to_s, since_s },
        (a, b) if a == b && a != Whereabout::Unknown && !matches!(a, Whereabout::Road { .. }) => a,
        _ => return None,
    };
    Some(MeetingPart { seconds: first.seconds + next.seconds, before_s: first.before_s + next.before_s, whereabout })
}

/// What simulated drives say of a meeting.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Figures {
    /// Share of them in which some outage takes more of the meeting than its kind tolerates.
    pub risk: f64,
    /// Mean seconds without a link.
    pub outage_s: f64,
}

/// How closely one looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// To rank days: few drives.
    Rank,
    /// To tell: many.
    Tell,
}

/// Simulates what meetings live through.
pub trait Simulator {
    /// Figures of a meeting that tolerates outages up to `stands_s`; nothing where they cannot be known or simulated.
    ///
    /// # Errors
    /// The layer cannot be read.
    fn figures(&self, stands_s: f64, parts: &[MeetingPart], case: Case, depth: Depth) -> Result<Option<Figures>>;
    /// Whether the layer holds what simulating needs.
    fn is_able(&self) -> bool;
}

/// A meeting, as far as its risk depends on it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked {
    pub kind: Kind,
    pub start_s: i64,
    pub end_s: i64,
}

/// What one does before a meeting is looked at for this long, seconds: an outage of that may go on into it.
const BEFORE_S: i64 = 60;

impl Asked {
    /// A meeting, up to the end it is judged by.
    pub fn new(kind: Kind, start_s: i64, end_s: i64) -> Self {
        Self { kind, start_s, end_s }
    }
    /// Where one is while it lasts.
    pub fn parts<'a>(&self, day: &Day<'a>, spans: &[Span]) -> Vec<MeetingPart<'a>> {
        let mut out: Vec<MeetingPart> = Vec::new();
        for (from_s, to_s, before) in [(self.start_s - BEFORE_S, self.start_s, true), (self.start_s, self.end_s, false)]
        {
            let mut own = Vec::new();
            for span in spans {
                if let Some((from_s, to_s)) = span.overlap(from_s, to_s) {
                    parts_of(&mut own, day, span, from_s, to_s);
                }
            }
            for part in own {
                let part = MeetingPart { before_s: if before { part.seconds } else { 0.0 }, ..part };
                match out.last_mut().and_then(|last| Some((goes_on(last, &part)?, last))) {
                    Some((whole, last)) => *last = whole,
                    None => out.push(part),
                }
            }
        }
        // What nobody knows of the minute before says nothing.
        let unknown = |p: &MeetingPart| !p.is_in_meeting() && p.whereabout == Whereabout::Unknown;
        let known = out.iter().rposition(unknown).map_or(0, |nth| nth + 1);
        out.split_off(known)
    }
}

/// Adds the parts of one span between two moments.
fn parts_of<'a>(out: &mut Vec<MeetingPart<'a>>, day: &Day<'a>, span: &Span, from_s: i64, to_s: i64) {
    let mut add = |from_s: i64, to_s: i64, whereabout| {
        if to_s > from_s {
            out.push(MeetingPart { seconds: (to_s - from_s) as f64, before_s: 0.0, whereabout });
        }
    };
    let at_end = |end: usize, panel| match day.ends[end].sky {
        EndSky::Place(halt) => Whereabout::Place(halt, panel),
        EndSky::Road(_) => Whereabout::RoadEnd { last: end == 1 },
        EndSky::Unknown => Whereabout::Unknown,
    };
    match span.doing {
        // The panel is taken in before one leaves, and put out after one has arrived.
        Doing::BeforeTrip => {
            let in_s = (span.to_s - day.pack_up_s()).clamp(from_s, to_s);
            add(from_s, in_s, at_end(0, Panel::Best));
            add(in_s, to_s, at_end(0, Panel::OnVehicle));
        }
        Doing::AfterTrip => {
            let out_s = (span.from_s + day.set_up_s()).clamp(from_s, to_s);
            add(from_s, out_s, at_end(1, Panel::OnVehicle));
            add(out_s, to_s, at_end(1, Panel::Best));
        }
        Doing::Stopped { halt, out_s } => {
            let (out_s, in_s) = span.panel_out_s(day, out_s, (from_s, to_s));
            let at = |panel| Whereabout::Place(&day.halts[halt], panel);
            add(from_s, out_s, at(Panel::OnVehicle));
            add(out_s, in_s, at(Panel::Best));
            add(in_s, to_s, at(Panel::OnVehicle));
        }
        Doing::Driving { wheel_from_s, wheel_to_s, off_road_s } => {
            // Off the road at either end one is as at the place there.
            let on_s = (span.from_s + off_road_s.ceil() as i64).clamp(from_s, to_s);
            let off_s = (span.from_s + (off_road_s + wheel_to_s - wheel_from_s).ceil() as i64).clamp(on_s, to_s);
            let near = |halt: Option<usize>| {
                halt.map_or(Whereabout::Unknown, |halt| Whereabout::Place(&day.halts[halt], Panel::OnVehicle))
            };
            add(from_s, on_s, near(day.halt_at(wheel_from_s)));
            let (a, b) = (span.wheel_at(on_s), span.wheel_at(off_s));
            let whereabout = match day.drive.is_unknown(a, b) {
                true => Whereabout::Unknown,
                false => Whereabout::Road { from_s: a, to_s: b, since_s: wheel_from_s },
            };
            add(on_s, off_s, whereabout);
            add(off_s, to_s, near(day.halt_at(wheel_to_s)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_goes_on_is_one_part_and_what_lies_before_is_remembered() {
        let road = |from_s: f64, to_s: f64, since_s: f64, before_s: f64| MeetingPart {
            seconds: to_s - from_s,
            before_s,
            whereabout: Whereabout::Road { from_s, to_s, since_s },
        };
        let whole = goes_on(&road(40.0, 100.0, 0.0, 60.0), &road(100.0, 400.0, 0.0, 0.0));
        assert_eq!(whole, Some(road(40.0, 400.0, 0.0, 60.0)));
        assert!(whole.is_some_and(|p| p.is_in_meeting()) && !road(40.0, 100.0, 0.0, 60.0).is_in_meeting());
        // A stop between the two begins another drive.
        assert_eq!(goes_on(&road(40.0, 100.0, 0.0, 60.0), &road(100.0, 400.0, 100.0, 0.0)), None);
        let at_end =
            |seconds, before_s| MeetingPart { seconds, before_s, whereabout: Whereabout::RoadEnd { last: true } };
        assert_eq!(goes_on(&at_end(60.0, 60.0), &at_end(300.0, 0.0)), Some(at_end(360.0, 60.0)));
        let unknown = MeetingPart { whereabout: Whereabout::Unknown, ..at_end(60.0, 60.0) };
        assert_eq!(goes_on(&unknown, &unknown), None);
    }
}
