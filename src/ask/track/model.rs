//! A track, and the positions it may have.
use crate::ask::matching::TrackPoint;
use crate::base::geodesy::Position;

/// A track of one or more unbroken pieces.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Track {
    /// Pieces, each of at least one point.
    pub pieces: Vec<Vec<TrackPoint>>,
    /// With which pieces the tracks of a file begin, where it has more than one.
    pub begins: Vec<usize>,
    /// Points that repeat the one before and were left out.
    pub repeated: usize,
    /// Places to go through, as a file of a route or of waypoints lists them, and not where a vehicle was.
    pub is_route: bool,
    /// What the traveller should know of how it was read.
    pub notes: Vec<String>,
}

impl Track {
    /// A drive through places, of which something is to be told.
    ///
    /// # Errors
    /// Fewer than two of them differ.
    pub fn through(places: &[Position], notes: Vec<String>) -> Result<Self, String> {
        let mut track = Self { is_route: true, notes, ..Self::default() };
        places.iter().for_each(|at| track.add(TrackPoint { at: *at, time_s: None }));
        if track.points() < 2 {
            return Err("goes from a place to the same place".to_owned());
        }
        Ok(track)
    }
    /// Number of points.
    pub fn points(&self) -> usize {
        self.pieces.iter().map(Vec::len).sum()
    }
    /// The first of its times.
    pub fn begins(&self) -> Option<jiff::Timestamp> {
        let time_s = self.pieces.iter().flatten().find_map(|p| p.time_s)?;
        jiff::Timestamp::from_millisecond((time_s * 1e3) as i64).ok()
    }
    /// All points in order, as places to go through.
    pub fn places(&self) -> Vec<Position> {
        self.pieces.iter().flatten().map(|p| p.at).collect()
    }
    /// The same track driven the other way, without times.
    pub fn reversed(&self) -> Self {
        let turned = |piece: &Vec<TrackPoint>| piece.iter().rev().map(|p| TrackPoint { time_s: None, ..*p }).collect();
        let n = self.pieces.len();
        let begins = [&[0][..], &self.begins[..]].concat().iter().rev().map(|b| n - b).filter(|b| *b < n).collect();
        Self { pieces: self.pieces.iter().rev().map(turned).collect(), begins, ..self.clone() }
    }
    pub(super) fn add(&mut self, point: TrackPoint) {
        match self.pieces.last_mut() {
            Some(piece) if piece.last().is_some_and(|p| p.at == point.at) => self.repeated += 1,
            Some(piece) => piece.push(point),
            None => self.pieces.push(vec![point]),
        }
    }
    /// The tracks of the file, each with its pieces.
    pub fn tracks(&self) -> impl Iterator<Item = &[Vec<TrackPoint>]> {
        let ends = self.begins.iter().copied().chain([self.pieces.len()]);
        let mut from = 0;
        ends.filter_map(move |end| {
            let own = self.pieces.get(from..end)?;
            from = end;
            (!own.is_empty()).then_some(own)
        })
    }
    /// Begins a new track of the file.
    pub(super) fn begin_track(&mut self) {
        self.cut();
        let at = self.pieces.len() - 1;
        if at > 0 {
            self.begins.push(at);
        }
    }
    /// Leaves out pieces without points.
    pub(super) fn drop_empty(&mut self) {
        let held = |upto: &usize| self.pieces.iter().take(*upto).filter(|p| !p.is_empty()).count();
        let all = held(&self.pieces.len());
        let mut begins: Vec<usize> = self.begins.iter().map(held).filter(|at| (1..all).contains(at)).collect();
        begins.dedup();
        self.begins = begins;
        self.pieces.retain(|p| !p.is_empty());
    }
    /// Begins a new piece.
    pub(super) fn cut(&mut self) {
        if self.pieces.last().is_none_or(|p| !p.is_empty()) {
            self.pieces.push(Vec::new());
        }
    }
}

/// A position, if it is one on earth.
pub(super) fn position(lat_deg: f64, lon_deg: f64) -> Result<Position, String> {
    if (-90.0..=90.0).contains(&lat_deg) && (-180.0..=180.0).contains(&lon_deg) {
        Ok(Position::from_deg(lon_deg, lat_deg))
    } else {
        Err(format!("latitude {lat_deg}, longitude {lon_deg} is not a place on earth"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tracks_of_a_file_keep_their_pieces_and_empty_ones_do_not_count() {
        let point = |n: i32| TrackPoint { at: Position::from_deg(f64::from(n), 1.0), time_s: None };
        let mut track = Track::default();
        // An empty track, one of two pieces, one without any, one of one piece.
        for pieces in [&[][..], &[&[1, 2][..], &[], &[3, 4]], &[&[]], &[&[5, 6]]] {
            track.begin_track();
            for piece in pieces {
                track.cut();
                piece.iter().for_each(|n| track.add(point(*n)));
            }
        }
        track.drop_empty();
        assert_eq!((track.pieces.len(), &track.begins[..]), (3, &[2][..]));
        let sizes = |track: &Track| track.tracks().map(<[_]>::len).collect::<Vec<_>>();
        assert_eq!((sizes(&track), sizes(&track.reversed())), (vec![2, 1], vec![1, 2]));
        assert_eq!(sizes(&Track::default()), [0; 0]);
    }
}
