//! Places asked for, and the spots on roads near them.
use std::collections::BTreeSet;

use super::answer::PlaceTaken;
use super::graph::Directions;
use super::journey::Journey;
use super::question::RouteQuestion;
use super::snap::{NearSegment, RouteSpot, SpotLane, near};
use super::table::{EdgeTable, RouteRules};
use super::why::{Obstacle, notes, refused};
use crate::ask::boxes::around;
use crate::ask::elsewhere::{Whereabouts, whereabouts};
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::layer::Layer;
use crate::layer::model::SegmentRow;

/// Most roads near a place that are tried.
const TRIED: usize = 12;

/// The places of a question and the roads near them.
pub(super) struct RoutePlaces<'a> {
    layer: &'a Layer,
    table: &'a EdgeTable,
    question: &'a RouteQuestion,
    /// Segments near each place, nearest first.
    nears: Vec<Vec<NearSegment>>,
}

impl<'a> RoutePlaces<'a> {
    /// Looks for roads near every place.
    pub(super) fn new(layer: &'a Layer, table: &'a EdgeTable, question: &'a RouteQuestion) -> Result<Self> {
        let near_one = |at: &Position| {
            let mut rows = Vec::new();
            for bounds in around(*at, question.within_m) {
                rows.extend(layer.segments_in(bounds)?);
            }
            Ok(near(*at, rows, question.within_m))
        };
        let nears = question.places.iter().map(near_one).collect::<Result<_>>()?;
        Ok(Self { layer, table, question, nears })
    }
    /// `from`, `via 1`, ..., `to`.
    fn label(&self, nth: usize) -> String {
        match nth {
            0 => "from".to_owned(),
            n if n + 1 == self.nears.len() => "to".to_owned(),
            n => format!("via {n}"),
        }
    }
    /// Spots of every place.
    ///
    /// # Errors
    /// A place has none; the error says why.
    pub(super) fn spots(&self) -> Result<Vec<Vec<RouteSpot>>> {
        let all = self.spots_under(&self.question.rules)?;
        match all.iter().position(Vec::is_empty) {
            Some(nth) => Err(self.no_road(nth)?),
            None => Ok(all),
        }
    }
    fn spots_under(&self, rules: &RouteRules) -> Result<Vec<Vec<RouteSpot>>> {
        self.nears.iter().map(|nears| self.spots_of(rules, nears)).collect()
    }
    /// Spots on the nearest roads that may be used, one for each edge.
    fn spots_of(&self, rules: &RouteRules, nears: &[NearSegment]) -> Result<Vec<RouteSpot>> {
        let mut spots: Vec<RouteSpot> = Vec::new();
        for near in nears.iter().filter(|n| n.refusal(self.table, rules).is_none()) {
            if spots.len() == TRIED {
                break;
            }
            let mut spot = self.spot(rules, near)?;
            if let Some(junction) = spot.junction(self.table) {
                let others = nears.iter().filter(|n| n.refusal(self.table, rules).is_none());
                for other in others.filter(|n| spot.may_meet(n.distance_m)).collect::<Vec<_>>() {
                    spot.take_in(&self.spot(rules, other)?, self.table, junction);
                }
            }
            let known = |l: &SpotLane| spots.iter().flat_map(|s| &s.lanes).any(|k| k.edge == l.edge);
            if !spot.lanes.is_empty() && !spot.lanes.iter().all(known) {
                spots.push(spot);
            }
        }
        Ok(spots)
    }
    fn spot(&self, rules: &RouteRules, near: &NearSegment) -> Result<RouteSpot> {
        near.spot(self.table, rules, &mut |edge| of_edge(self.layer, edge))
    }
    /// The error of a place without a road.
    fn no_road(&self, nth: usize) -> Result<Error> {
        let (at, within_m) = (self.question.places[nth], self.question.within_m);
        let what = format!("{} {:.5},{:.5}", self.label(nth), at.lat_deg(), at.lon_deg());
        let refusals = self.nears[nth].iter().filter_map(|n| n.refusal(self.table, &self.question.rules));
        let whys: BTreeSet<&str> = refusals.map(refused).collect();
        if whys.is_empty() {
            let none = format!("the layer has no road within {within_m:.0} m");
            return Ok(match whereabouts(self.layer, at)? {
                Whereabouts::Within => Error::failed(what, none, "raise --snap, or choose a place nearer to a road"),
                Whereabouts::Off { fact, next_step } => Error::failed(what, format!("{none}: {fact}"), next_step),
            });
        }
        let whys: Vec<&str> = whys.into_iter().collect();
        let fact = format!("every road within {within_m:.0} m {}", whys.join(" or "));
        Ok(Error::failed(what, fact, "raise --snap, or allow such roads"))
    }
    /// The error of places that no way joins.
    pub(super) fn not_joined(&self) -> Result<Error> {
        for obstacle in Obstacle::ALL {
            let Some((rules, directions)) = obstacle.lifted(&self.question.rules) else { continue };
            let spots = self.spots_under(&rules)?;
            if Journey::new(self.table, &rules, directions, &spots).is_some() {
                let next = "choose other places, or lift this restriction if you may drive there";
                return Ok(Error::failed("route", format!("no way joins the places: {}", obstacle.text()), next));
            }
        }
        let within_m = self.question.within_m;
        let fact =
            format!("the roads within {within_m:.0} m of the places are not connected with each other in this layer");
        let next =
            "look farther from the places with --snap 1km, choose other places, or build a layer that covers the way";
        Ok(Error::failed("route", fact, next))
    }
    /// Places as they were taken, and what is to be said of them.
    pub(super) fn told(&self, spots: &[Vec<RouteSpot>], taken: &[&RouteSpot]) -> (Vec<PlaceTaken>, Vec<String>) {
        let (mut places, mut said) = (Vec::new(), Vec::new());
        for (nth, (at, spot)) in self.question.places.iter().zip(taken).enumerate() {
            let label = self.label(nth);
            let (nears, nearest) = (&self.nears[nth], &spots[nth][0]);
            said.extend(notes(&label, self.table, self.question, nears, nearest, spot));
            places.push(PlaceTaken {
                label,
                asked_lat_deg: at.lat_deg(),
                asked_lon_deg: at.lon_deg(),
                road: spot.road.clone(),
                lat_deg: spot.at.lat_deg(),
                lon_deg: spot.at.lon_deg(),
                distance_m: spot.distance_m,
            });
        }
        (places, said)
    }
    /// The places joined by the roads that may be used; nothing where they are not.
    pub(super) fn journey(&self, spots: &[Vec<RouteSpot>]) -> Option<Journey<'a>> {
        Journey::new(self.table, &self.question.rules, Directions::Kept, spots)
    }
}

/// Segments of an edge in the order driven.
pub(super) fn of_edge(layer: &Layer, edge_id: i64) -> Result<Vec<SegmentRow>> {
    match layer.edge(edge_id)? {
        Some(edge) => layer.segments_of(&edge),
        None => Ok(Vec::new()),
    }
}
