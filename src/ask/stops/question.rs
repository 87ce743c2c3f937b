//! Stops asked for, read from a layer.
use serde::Serialize;

use super::near::{StopNear, near};
use crate::ask::boxes::{BOX_M, along, around};
use crate::ask::corridor::{CorridorQuestion, Piece, corridor};
use crate::ask::elsewhere::not_covered;
use crate::ask::matching::TrackPoint;
use crate::ask::search::Towns;
use crate::ask::track::Track;
use crate::base::error::{Error, Result};
use crate::base::geodesy::{Position, distance_m};
use crate::base::words::{Roofed, StopKind};
use crate::layer::model::StopRow;
use crate::layer::{Bounds, Layer};

/// Distance from a road driven when none is asked for, metres.
pub const ALONG_M: f64 = 1_000.0;
/// Distance from a place when none is asked for, metres.
const NEAR_M: f64 = 10_000.0;

/// Where stops are looked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum StopsIn {
    /// All of the layer.
    #[default]
    Layer,
    /// A box.
    Box(Bounds),
    /// Around a place, nearest first.
    Around(Position),
    /// Beside the roads of a track, in the order passed.
    Beside(Track),
}

/// Which stops are wanted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StopsQuestion {
    /// Where.
    pub place: StopsIn,
    /// This far from the place (10 km where nothing is said) or from the road driven (1 km), metres.
    pub within_m: Option<f64>,
    /// The panel is set down at most this far from the vehicle, metres; the layer's profile where nothing is said.
    pub reach_m: Option<f64>,
    /// Only these kinds; all where there are none.
    pub kinds: Vec<StopKind>,
    /// Only where the vehicle is known to stand under no roof; those of which it is not known are kept apart.
    pub no_roof: bool,
    /// Least share of the usable sky that is open on the vehicle or within reach, 0..=1.
    pub min_open: f64,
    /// Private places too.
    pub private: bool,
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct StopsAnswer {
    /// The panel is set down at most this far from the vehicle, metres.
    pub reach_m: f64,
    /// Length of track off the layer's roads, metres; stops there are not listed. `None` without a track.
    pub unmatched_m: Option<f64>,
    /// What the traveller should know of the track.
    pub notes: Vec<String>,
    /// Private places found and not listed.
    pub private_left_out: usize,
    /// The stops.
    pub stops: Vec<StopNear>,
    /// Where stops without a roof are wanted, those of which it is not known whether they have one.
    pub roof_not_known: Vec<StopNear>,
}

impl StopsQuestion {
    /// Whether a stop is wanted; access is another matter.
    fn wants(&self, stop: &StopNear) -> bool {
        let kind = self.kinds.is_empty() || self.kinds.contains(&stop.kind);
        kind && !(self.no_roof && stop.roofed == Roofed::Yes) && stop.best_open_share >= self.min_open
    }
}

/// The stops of a layer that are wanted.
///
/// # Errors
/// The layer cannot be read, or does not cover the place: then nothing is known of stops there.
pub fn stops(layer: &Layer, question: &StopsQuestion) -> Result<StopsAnswer> {
    let reach_m = question.reach_m.unwrap_or(layer.record().profile.stop.reach_m);
    let mut found = StopsAnswer { reach_m, ..StopsAnswer::default() };
    let of_rows = |rows: Vec<StopRow>| rows.iter().map(|row| StopNear::of(row, reach_m)).collect();
    found.stops = match &question.place {
        StopsIn::Layer => of_rows(layer.stops()?),
        StopsIn::Box(bounds) => of_rows(layer.stops_in(*bounds)?),
        StopsIn::Around(place) => around_place(layer, *place, question.within_m.unwrap_or(NEAR_M), reach_m)?,
        StopsIn::Beside(track) => {
            let within_m = question.within_m.unwrap_or(ALONG_M);
            let driven = CorridorQuestion { track: track.clone(), ..CorridorQuestion::default() };
            let drive = corridor(layer, &driven)?;
            found.unmatched_m = Some(drive.unmatched_m);
            found.notes = drive.notes;
            near(&drive.pieces, &beside(layer, &drive.pieces, within_m)?, within_m, reach_m)
        }
    };
    if found.stops.is_empty()
        && let Some(error) = off_the_layer(layer, &question.place)?
    {
        return Err(error);
    }
    let all = found.stops.len();
    found.stops.retain(|s| s.may_stop || question.private);
    found.private_left_out = all - found.stops.len();
    found.stops.retain(|s| question.wants(s));
    let towns = Towns::around(layer, found.stops.iter().map(StopNear::at))?;
    found.stops.iter_mut().for_each(|s| s.town = towns.near(s.at()));
    if question.no_roof {
        let known = |s: &StopNear| s.roofed == Roofed::No;
        (found.stops, found.roof_not_known) = std::mem::take(&mut found.stops).into_iter().partition(known);
    }
    Ok(found)
}

/// The error where a layer cannot know of stops; nothing where it knows that there are none.
fn off_the_layer(layer: &Layer, place: &StopsIn) -> Result<Option<Error>> {
    match place {
        StopsIn::Around(at) => not_covered(layer, "the place", Bounds { min: *at, max: *at }),
        StopsIn::Box(bounds) => not_covered(layer, "the box", *bounds),
        StopsIn::Layer => not_covered(layer, "the earth", Bounds::from_deg(-180.0, -90.0, 180.0, 90.0)),
        // A track that is on none of its roads is an error before.
        StopsIn::Beside(_) => Ok(None),
    }
}

/// Stops around a place, nearest first.
fn around_place(layer: &Layer, place: Position, within_m: f64, reach_m: f64) -> Result<Vec<StopNear>> {
    let mut found = Vec::new();
    for bounds in around(place, within_m) {
        let rows = layer.stops_in(bounds)?;
        found.extend(rows.iter().map(|row| (distance_m(place, row.at), StopNear::of(row, reach_m))));
    }
    found.retain(|(m, _)| *m <= within_m);
    found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.stop_id.cmp(&b.1.stop_id)));
    found.dedup_by_key(|(_, s)| s.stop_id);
    Ok(found.into_iter().map(|(m, s)| StopNear { from_place_m: Some(m), ..s }).collect())
}

/// Places to stop in the boxes around a drive, each once, by id.
pub(in crate::ask) fn beside(layer: &Layer, pieces: &[Piece], within_m: f64) -> Result<Vec<StopRow>> {
    let line = pieces.iter().flat_map(|p| &p.line).map(|at| TrackPoint { at: *at, time_s: None }).collect();
    let track = Track { pieces: vec![line], ..Track::default() };
    let mut rows = Vec::new();
    for bounds in along(&track, within_m, BOX_M) {
        rows.extend(layer.stops_in(bounds)?);
    }
    rows.sort_by_key(|s| s.stop_id);
    rows.dedup_by_key(|s| s.stop_id);
    Ok(rows)
}
