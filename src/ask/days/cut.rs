//! A track cut into the days on which it is driven.
use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::ask::matching::TrackPoint;
use crate::ask::track::Track;
use crate::base::count::counted;
use crate::base::error::{Error, Result};

/// The track of each day with its departure.
pub(super) struct CutTrack {
    /// Days, by departure.
    pub days: Vec<(Timestamp, Track)>,
    /// What the traveller should know of the cut.
    pub note: Option<String>,
}

/// A pause this long may be a night, seconds: what follows is another day if its date is another than that of the day's begin.
const NIGHT_S: f64 = 4.0 * 3_600.0;

/// A piece of a track cut where a night may lie between two of its points.
fn by_nights(piece: &[TrackPoint]) -> Vec<Vec<TrackPoint>> {
    let night = |a: &TrackPoint, b: &TrackPoint| match (a.time_s, b.time_s) {
        (Some(a_s), Some(b_s)) => b_s - a_s >= NIGHT_S,
        _ => false,
    };
    piece.chunk_by(|a, b| !night(a, b)).map(<[TrackPoint]>::to_vec).collect()
}

/// Cuts a track by the departures given, or by the days of its own times. One departure makes one day of all of it.
pub(super) fn cut(track: &Track, departs: &[Timestamp], zone: &TimeZone) -> Result<CutTrack> {
    let next = "give --depart once for each day, such as --depart 2026-06-15T08:00";
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
    if departs.is_empty() {
        let own = |day: Track| {
            let begin = day.pieces.first().and_then(|p| p.first()).and_then(|p| p.time_s);
            let time = begin.and_then(|s| Timestamp::from_second(s as i64).ok());
            time.map(|t| (t, day))
                .ok_or_else(|| Error::usage("--depart", "is missing, and the track has no times", next))
        };
        let days = days.into_iter().map(own).collect::<Result<_>>()?;
        return Ok(CutTrack { days, note: None });
    }
    let mut note = None;
    if departs.len() == 1 && days.len() > 1 {
        note = Some(format!(
            "by its own times the track covers {}; with one departure it is planned as one day: give --depart once \
             for each day",
            counted(days.len(), "day")
        ));
        let all = days.into_iter().flat_map(|d| d.pieces).collect();
        days = vec![of(all)];
    }
    if departs.len() != days.len() {
        let fact =
            format!("is given {}, but the track has {}", counted(departs.len(), "time"), counted(days.len(), "day"));
        return Err(Error::usage("--depart", fact, next));
    }
    let days: Vec<(Timestamp, Track)> = departs.iter().copied().zip(days).collect();
    match days.windows(2).position(|w| w[1].0 <= w[0].0) {
        Some(i) => {
            let typed = departs[i + 1].to_zoned(zone.clone()).datetime();
            Err(Error::usage(format!("--depart {typed}"), "is not later than the one before it", next))
        }
        None => Ok(CutTrack { days, note }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geodesy::Position;

    #[test]
    fn a_night_inside_a_piece_ends_the_day_and_a_rest_does_not() {
        let point =
            |hour: f64| TrackPoint { at: Position::from_deg(1.0 + 0.001 * hour, 42.0), time_s: Some(hour * 3_600.0) };
        // From six in the evening, a pause until eight, and on over midnight; the next morning again.
        let pieces = vec![[18.0, 18.5, 20.0, 23.9, 24.1, 32.0, 33.0].map(point).to_vec()];
        let days = cut(&Track { pieces, ..Track::default() }, &[], &TimeZone::UTC).unwrap().days;
        let hours: Vec<Vec<f64>> = days
            .iter()
            .map(|(_, t)| t.pieces.iter().flatten().map(|p| (p.time_s.unwrap() / 360.0).round() / 10.0).collect())
            .collect();
        assert_eq!(hours, [vec![18.0, 18.5, 20.0, 23.9, 24.1], vec![32.0, 33.0]]);
    }
}
