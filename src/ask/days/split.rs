//! A track split where a day ends, at a place on its road.
use crate::ask::corridor::{Corridor, Piece};
use crate::ask::matching::TrackPoint;
use crate::ask::track::Track;
use crate::base::geodesy::{LocalPlane, Point, Position, along, distance_m, length_m, nearest_to_origin};

/// Points of a track are compared with the place only where their share of its length differs from that of the road by at most
/// this: a road driven twice is split where its kilometres say.
const SAME_SHARE: f64 = 0.1;

/// A place farther from every step of the track than this is not on it, metres.
const MOST_OFF_M: f64 = 500.0;

/// The place on a road after a distance, kilometres.
pub(super) fn place_at(corridor: &Corridor, km: f64) -> Option<Position> {
    let piece = corridor.pieces.get(corridor.pieces.partition_point(|p| p.at_km <= km).checked_sub(1)?)?;
    let share = ((km - piece.at_km) * 1e3 / piece.length_m.max(1e-6)).clamp(0.0, 1.0);
    along(&piece.line, share * length_m(&piece.line))
}

/// The track up to a place on its road and from there on; nothing where either would have no length.
pub(super) fn split(track: &Track, corridor: &Corridor, at_km: f64, by_places: bool) -> Option<(Track, Track)> {
    let at = place_at(corridor, at_km)?;
    let (first, rest) = if by_places {
        let before = places_before(track, corridor, at_km);
        let points: Vec<TrackPoint> = track.pieces.iter().flatten().copied().collect();
        let (a, b) = points.split_at(before.clamp(1, points.len().saturating_sub(1)));
        (vec![a.to_vec()], vec![b.to_vec()])
    } else {
        at_point(track, at, share_of_track(corridor, at_km))?
    };
    let there = TrackPoint { at, time_s: None };
    let of = |pieces| Track { pieces, is_route: track.is_route, ..Track::default() };
    let (mut first, mut rest) = (of(first), of(rest));
    first.pieces.last_mut()?.push(there);
    rest.pieces.first_mut()?.insert(0, there);
    let has_length = |t: &Track| t.pieces.iter().any(|p| p.windows(2).any(|w| distance_m(w[0].at, w[1].at) > 1.0));
    (has_length(&first) && has_length(&rest)).then_some((first, rest))
}

/// The share of a track's length after a distance on its road, kilometres: ground off the layer's roads is part of the track alone.
fn share_of_track(corridor: &Corridor, at_km: f64) -> f64 {
    let mut at_m = at_km * 1e3;
    for gap in corridor.unmatched.iter().filter(|g| !g.bridged) {
        if gap.track_km * 1e3 <= at_m {
            at_m += gap.length_m;
        }
    }
    at_m / corridor.track_m.max(corridor.length_m).max(1e-9)
}

/// How many of the places to go through are passed before a kilometre, each where the road comes nearest to it after the one before.
fn places_before(track: &Track, corridor: &Corridor, at_km: f64) -> usize {
    let mut from = 0;
    let places = track.places();
    let passed = |at: &Position| {
        let far = |p: &Piece| p.line.first().map_or(f64::INFINITY, |line| distance_m(*line, *at));
        let nearest = (from..corridor.pieces.len())
            .min_by(|a, b| far(&corridor.pieces[*a]).total_cmp(&far(&corridor.pieces[*b])));
        from = nearest.unwrap_or(from);
        corridor.pieces.get(from).map_or(f64::INFINITY, |p| p.at_km)
    };
    places.iter().map(passed).take_while(|km| *km <= at_km).count()
}

type Pieces = Vec<Vec<TrackPoint>>;

/// The pieces of a track before and after its step nearest to a place.
fn at_point(track: &Track, at: Position, share: f64) -> Option<(Pieces, Pieces)> {
    let lengths: Vec<Vec<f64>> =
        track.pieces.iter().map(|p| p.windows(2).map(|w| distance_m(w[0].at, w[1].at)).collect()).collect();
    let all_m: f64 = lengths.iter().flatten().sum();
    let plane = LocalPlane::at_position(at);
    let (mut done_m, mut best): (f64, Option<(f64, usize, usize)>) = (0.0, None);
    for (i, piece) in track.pieces.iter().enumerate() {
        for (k, step) in piece.windows(2).enumerate() {
            let [a, b] = [step[0].at, step[1].at].map(|p| plane.to_plane(p));
            let off_m = nearest_to_origin(a, b).1.distance_m(Point::default());
            let same = (done_m / all_m.max(1e-9) - share).abs() <= SAME_SHARE;
            if same && best.is_none_or(|(best_m, ..)| off_m < best_m) {
                best = Some((off_m, i, k));
            }
            done_m += lengths[i][k];
        }
    }
    let (_, i, k) = best.filter(|(off_m, ..)| *off_m <= MOST_OFF_M)?;
    let (mut first, mut rest) = (track.pieces[..=i].to_vec(), track.pieces[i..].to_vec());
    first.last_mut()?.truncate(k + 1);
    rest.first_mut()?.drain(..=k);
    Some((first, rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn km(x: f64) -> Position {
        LocalPlane::at(1.0, 42.0).to_position(Point::new(x * 1e3, 0.0))
    }

    /// A road out and back: 10 km east, and 10 km west again.
    fn out_and_back() -> Corridor {
        let piece = |n: usize| {
            let at = |n: usize| if n <= 10 { n as f64 } else { 20.0 - n as f64 };
            Piece { at_km: n as f64, length_m: 1e3, line: vec![km(at(n)), km(at(n + 1))], ..Piece::default() }
        };
        Corridor { length_m: 20e3, pieces: (0..20).map(piece).collect(), ..Corridor::default() }
    }

    #[test]
    fn a_road_driven_twice_is_split_where_its_kilometres_say() {
        let corridor = out_and_back();
        let xs = [0.0, 2.5, 5.0, 7.5, 10.0, 7.5, 5.0, 2.5, 0.0];
        let points = xs.map(|x| TrackPoint { at: km(x), time_s: None }).to_vec();
        let track = Track { pieces: vec![points], ..Track::default() };
        for (at_km, first, rest) in [(4.0, 3, 8), (16.0, 8, 3)] {
            let (a, b) = split(&track, &corridor, at_km, false).unwrap();
            assert_eq!((a.points(), b.points()), (first, rest), "km {at_km}");
            let there = [a.pieces[0].last().unwrap().at, b.pieces[0][0].at];
            assert!(there.iter().all(|p| distance_m(*p, km(4.0)) < 1.0), "km {at_km}");
        }
        assert!(split(&track, &corridor, 0.0, false).is_none(), "nothing is driven before");
    }

    #[test]
    fn places_to_go_through_stay_on_their_side() {
        let corridor = out_and_back();
        let places = [0.0, 10.0, 0.0].map(|x| TrackPoint { at: km(x), time_s: None }).to_vec();
        let track = Track { pieces: vec![places], ..Track::default() };
        for (at_km, first, rest) in [(4.0, 2, 3), (16.0, 3, 2)] {
            let (a, b) = split(&track, &corridor, at_km, true).unwrap();
            assert_eq!((a.points(), b.points()), (first, rest), "km {at_km}");
        }
    }
}
