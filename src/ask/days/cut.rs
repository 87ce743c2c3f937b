//! A track cut into the days on which it is driven: by the departures given, or by its own times.
use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::ask::matching::TrackPoint;
use crate::ask::track::Track;
use crate::base::count::counted;
use crate::base::error::{Error, Result};

/// A track cut into days.
pub(super) enum CutTrack {
    /// The track of each day with its departure, by departure.
    Days(Vec<(Timestamp, Track)>),
    /// One track, each day of which ends where the hours of driving do, and what the traveller should know of that.
    ByHours(Track, Option<String>),
}

/// A pause this long may be a night, seconds: what follows is another day if its date is another than that of the day's begin.
const NIGHT_S: f64 = 4.0 * 3_600.0;

/// What to do where departures and track do not fit each other.
pub(super) const NEXT: &str = "give --depart once for each day, such as --depart 2026-06-15T08:00, or once for a track that is cut where \
                               the hours of driving end";

/// Cuts a track by the departures given, or by the days of its own times. As many departures as the file has days by its times,
/// tracks, pieces of tracks, or legs between places (`by_legs`) begin one of them each, in this order; one departure begins all of it.
pub(super) fn cut(track: &Track, departs: &[Timestamp], zone: &TimeZone, by_legs: bool) -> Result<CutTrack> {
    let timed = by_times(track, zone);
    if departs.is_empty() {
        let own = |day: Track| {
            let begin = day.pieces.first().and_then(|p| p.first()).and_then(|p| p.time_s);
            let time = begin.and_then(|s| Timestamp::from_second(s as i64).ok());
            time.map(|t| (t, day))
                .ok_or_else(|| Error::usage("--depart", "is missing, and the track has no times", NEXT))
        };
        return Ok(CutTrack::Days(timed.into_iter().map(own).collect::<Result<_>>()?));
    }
    if let Some(i) = departs.windows(2).position(|w| w[1] <= w[0]) {
        let typed = departs[i + 1].to_zoned(zone.clone()).datetime();
        return Err(Error::usage(format!("--depart {typed}"), "is not later than the one before it", NEXT));
    }
    let of =
        |pieces: &[Vec<TrackPoint>]| Track { pieces: pieces.to_vec(), is_route: track.is_route, ..Track::default() };
    let tracks: Vec<Track> = track.tracks().map(of).collect();
    let pieces: Vec<Track> = track.pieces.iter().map(|piece| of(std::slice::from_ref(piece))).collect();
    let legs = || -> Vec<Track> {
        let points: Vec<TrackPoint> = track.pieces.iter().flatten().copied().collect();
        points.windows(2).map(|leg| of(&[leg.to_vec()])).collect()
    };
    let legs = if by_legs { legs() } else { Vec::new() };
    let by_own_times = (timed.len() > 1).then(|| {
        format!(
            "by its own times the track covers {}; with {} its days end where the hours of driving do: give --depart once \
             for each day",
            counted(timed.len(), "day"),
            counted(departs.len(), "departure")
        )
    });
    let ways = [timed, tracks, pieces, legs];
    let fits = ways.into_iter().find(|days| days.len() == departs.len() && days.len() > 1);
    Ok(match fits {
        Some(days) => CutTrack::Days(departs.iter().copied().zip(days).collect()),
        None => CutTrack::ByHours(of(&track.pieces), by_own_times),
    })
}

/// The days of a track by its own times; one where it has none.
fn by_times(track: &Track, zone: &TimeZone) -> Vec<Track> {
    let date = |s: f64| Timestamp::from_second(s as i64).ok().map(|t| t.to_zoned(zone.clone()).date());
    let of = |pieces| Track { pieces, is_route: track.is_route, ..Track::default() };
    let mut days: Vec<Track> = Vec::new();
    let pieces: Vec<Vec<TrackPoint>> = track.pieces.iter().flat_map(|piece| by_nights(piece)).collect();
    let begins: Vec<Option<f64>> = pieces.iter().map(|p| p.first().and_then(|p| p.time_s)).collect();
    for (i, piece) in pieces.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|b| begins[b]).and_then(date);
        let own = begins[i].and_then(date);
        match days.last_mut() {
            Some(day) if own.is_none() || own == before => day.pieces.push(piece.clone()),
            _ => days.push(of(vec![piece.clone()])),
        }
    }
    days
}

/// A piece of a track cut where a night may lie between two of its points.
fn by_nights(piece: &[TrackPoint]) -> Vec<Vec<TrackPoint>> {
    let night = |a: &TrackPoint, b: &TrackPoint| match (a.time_s, b.time_s) {
        (Some(a_s), Some(b_s)) => b_s - a_s >= NIGHT_S,
        _ => false,
    };
    piece.chunk_by(|a, b| !night(a, b)).map(<[TrackPoint]>::to_vec).collect()
}

/// What is said where departures were given for more days than the road takes.
pub(super) fn too_many_departures(given: usize, driven: usize) -> Error {
    let fact = format!(
        "is given {}, but the track has no {given} days, tracks, pieces or legs, and its road is driven in {}",
        counted(given, "time"),
        counted(driven, "day")
    );
    Error::usage("--depart", fact, NEXT)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Position;

    fn point(hour: f64) -> TrackPoint {
        TrackPoint { at: Position::from_deg(1.0 + 0.001 * hour, 42.0), time_s: Some(hour * 3_600.0) }
    }

    #[test]
    fn a_night_inside_a_piece_ends_the_day_and_a_rest_does_not() {
        // From six in the evening, a pause until eight, and on over midnight; the next morning again.
        let pieces = vec![[18.0, 18.5, 20.0, 23.9, 24.1, 32.0, 33.0].map(point).to_vec()];
        let CutTrack::Days(days) = cut(&Track { pieces, ..Track::default() }, &[], &TimeZone::UTC, false).unwrap()
        else {
            panic!("not by its times")
        };
        let hours: Vec<Vec<f64>> = days
            .iter()
            .map(|(_, t)| t.pieces.iter().flatten().map(|p| (p.time_s.unwrap() / 360.0).round() / 10.0).collect())
            .collect();
        assert_eq!(hours, [vec![18.0, 18.5, 20.0, 23.9, 24.1], vec![32.0, 33.0]]);
    }

    #[test]
    fn departures_begin_the_days_tracks_pieces_or_legs_that_are_as_many() {
        let untimed = |hours: &[f64]| -> Vec<TrackPoint> {
            hours.iter().map(|h| TrackPoint { time_s: None, ..point(*h) }).collect()
        };
        let pieces = vec![untimed(&[1.0, 2.0]), untimed(&[3.0, 4.0]), untimed(&[5.0, 6.0, 7.0])];
        let track = Track { pieces, begins: vec![2], ..Track::default() };
        let departs: Vec<Timestamp> = (1..=7).map(|d| Timestamp::from_second(d * 86_400).unwrap()).collect();
        let points = |n: usize, by_legs| match cut(&track, &departs[..n], &TimeZone::UTC, by_legs).unwrap() {
            CutTrack::Days(days) => days.iter().map(|(_, t)| t.points()).collect(),
            CutTrack::ByHours(track, _) => vec![100 + track.points()],
        };
        assert_eq!(points(1, false), [107]);
        assert_eq!(points(2, false), [4, 3], "two tracks");
        assert_eq!(points(3, false), [2, 2, 3], "three pieces");
        assert_eq!(points(4, false), [107]);
        assert_eq!((points(6, true), points(6, false)), (vec![2; 6], vec![107]), "six legs between seven places");
        let turned = [departs[1], departs[0]];
        assert!(cut(&track, &turned, &TimeZone::UTC, false).is_err());
    }
}
