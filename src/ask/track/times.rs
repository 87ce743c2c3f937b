//! Times of a track as devices write them: some without a zone, and now and then an odd one.
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;

use super::model::Track;
use crate::base::count::counted;

/// A time as read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PointTime {
    /// Since 1970-01-01 UTC.
    pub seconds: f64,
    /// It names its zone; without one it counts as UTC, as GPX has it.
    pub zoned: bool,
}

/// Reads a time of RFC 3339, with or without a zone.
pub(super) fn time(text: &str) -> Option<PointTime> {
    let text = text.trim();
    let of = |time: Timestamp, zoned| PointTime { seconds: time.as_millisecond() as f64 / 1e3, zoned };
    if let Ok(time) = text.parse::<Timestamp>() {
        return Some(of(time, true));
    }
    let (_, clock) = text.split_once(['T', 't', ' '])?;
    if !clock.chars().all(|c| c.is_ascii_digit() || matches!(c, ':' | '.' | ',')) {
        return None;
    }
    let time = Offset::UTC.to_timestamp(text.parse::<DateTime>().ok()?).ok()?;
    Some(of(time, false))
}

/// What was odd about the times of a track.
#[derive(Debug, Default)]
pub(super) struct OddTimes {
    /// Points with a time, readable or not.
    pub told: usize,
    /// Without a zone.
    pub unzoned: usize,
    /// Not readable, and the first of them.
    pub unreadable: usize,
    pub first: Option<String>,
}

impl OddTimes {
    /// Takes a time as written.
    pub fn take(&mut self, text: &str) -> Option<f64> {
        self.told += 1;
        let read = time(text);
        match read {
            Some(time) => self.unzoned += usize::from(!time.zoned),
            None => {
                self.unreadable += 1;
                self.first.get_or_insert_with(|| text.trim().chars().take(40).collect());
            }
        }
        read.map(|t| t.seconds)
    }
    /// Leaves out times that run backwards, and says everything once.
    pub fn told_of(self, track: &mut Track) {
        let backwards: usize = track.pieces.iter_mut().map(|piece| forwards(piece)).sum();
        let of = |n: usize| format!("{} of the track {}", counted(n, "time"), if n == 1 { "has" } else { "have" });
        if self.unzoned > 0 {
            track.notes.push(format!("{} no zone and are read as UTC", of(self.unzoned)));
        }
        if let Some(first) = self.first {
            let many = format!("of {} of the track, {}", counted(self.told, "time"), self.unreadable);
            track.notes.push(format!("{many} cannot be read and are left out (the first is `{first}`)"));
        }
        if backwards > 0 {
            let many = format!("of {} of the track, {backwards}", counted(self.told, "time"));
            track.notes.push(format!("{many} run backwards or are later than those that follow, and are left out"));
        }
    }
}

/// Takes the time from the fewest points whose going makes the others run forwards; how many these are.
fn forwards(piece: &mut [crate::ask::matching::TrackPoint]) -> usize {
    let timed: Vec<(usize, f64)> = piece.iter().enumerate().filter_map(|(i, p)| Some((i, p.time_s?))).collect();
    if timed.is_sorted_by(|a, b| a.1 <= b.1) {
        return 0;
    }
    // Longest run that never falls, by its ends of each length: for every length the run whose end is lowest.
    let mut ends: Vec<usize> = Vec::new();
    let mut before: Vec<Option<usize>> = vec![None; timed.len()];
    for nth in 0..timed.len() {
        let length = ends.partition_point(|e| timed[*e].1 <= timed[nth].1);
        before[nth] = length.checked_sub(1).map(|l| ends[l]);
        match ends.get_mut(length) {
            Some(end) => *end = nth,
            None => ends.push(nth),
        }
    }
    let mut kept = vec![false; timed.len()];
    let mut at = ends.last().copied();
    while let Some(nth) = at {
        kept[nth] = true;
        at = before[nth];
    }
    for ((i, _), _) in timed.iter().zip(&kept).filter(|(_, kept)| !**kept) {
        piece[*i].time_s = None;
    }
    timed.len() - ends.len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::matching::TrackPoint;
    use crate::base::geodesy::Position;

    #[test]
    fn times_are_read_with_and_without_a_zone() {
        let read = |text: &str| time(text).map(|t| (t.seconds, t.zoned));
        assert_eq!(read("1970-01-01T00:01:00Z"), Some((60.0, true)));
        assert_eq!(read("1970-01-01T01:01:00.500+01:00"), Some((60.5, true)));
        assert_eq!(read(" 1970-01-01T00:01:00 "), Some((60.0, false)));
        assert_eq!(read("1970-01-01 00:01:00.25"), Some((60.25, false)));
        for bad in ["", "yesterday", "1970-01-01", "1970-13-01T00:00:00", "1970-01-01T00:01:00+99:99"] {
            assert_eq!(read(bad), None, "{bad}");
        }
    }

    #[test]
    fn the_fewest_times_are_taken_out_that_do_not_run_forwards() {
        let left = |times_s: &[f64]| {
            let point = |s: &f64| TrackPoint { at: Position::default(), time_s: Some(*s) };
            let mut piece: Vec<TrackPoint> = times_s.iter().map(point).collect();
            let out = forwards(&mut piece);
            (out, piece.iter().filter_map(|p| p.time_s).collect::<Vec<_>>())
        };
        assert_eq!(left(&[1.0, 2.0, 2.0, 3.0]), (0, vec![1.0, 2.0, 2.0, 3.0]));
        assert_eq!(left(&[1.0, 2.0, 0.0, 3.0, 4.0]), (1, vec![1.0, 2.0, 3.0, 4.0]));
        // A clock far ahead for one point: it alone goes, and not all that follow.
        assert_eq!(left(&[1.0, 2.0, 99.0, 3.0, 4.0]), (1, vec![1.0, 2.0, 3.0, 4.0]));
        assert_eq!(left(&[]), (0, vec![]));
    }
}
