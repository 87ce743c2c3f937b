//! The map around one cell: the arguments that everything in this folder shares.
use super::building::{BuildingHeight, BuildingHeights};
use super::index::{Nearby, Window};
use super::rings::{line_on_plane, rings_on_plane};
use crate::base::geodesy::{Point, Position};
use crate::base::words::Case;
use crate::map::extract::model::{Area, Barred, Barrier, Building, Canopy, Deck, Extract, Road, StopPlace};
use crate::map::network::model::{Network, Segment};

/// What the map holds near a window.
#[derive(Debug, Clone, Copy)]
pub struct Vicinity<'a> {
    /// The cell with its border.
    pub window: &'a Window,
    /// The whole extract.
    pub extract: &'a Extract,
    /// Its whole network.
    pub network: &'a Network,
    /// What of both lies near the window.
    pub near: &'a Nearby,
    /// Heights of its buildings.
    pub heights: &'a BuildingHeights,
    /// At which end of its range is what is assumed about the roadside.
    pub case: Case,
}

impl<'a> Vicinity<'a> {
    /// Woods, rows, trees and hedges.
    pub fn canopy(&self) -> impl Iterator<Item = &'a Canopy> + use<'a> {
        picked(&self.near.canopy, &self.extract.canopy)
    }
    /// Buildings.
    pub fn buildings(&self) -> impl Iterator<Item = &'a Building> + use<'a> {
        picked(&self.near.buildings, &self.extract.buildings)
    }
    /// The same with their indices in the extract.
    pub fn buildings_numbered(&self) -> impl Iterator<Item = (u32, &'a Building)> + use<'a> {
        let Self { near, extract, .. } = *self;
        near.buildings.iter().filter_map(|i| Some((*i, extract.buildings.get(*i as usize)?)))
    }
    /// The height of a building by its index in the extract.
    pub fn height(&self, index: u32, building: &Building) -> BuildingHeight {
        self.heights.height(index, building, self.case)
    }
    /// Walls and cliffs.
    pub fn barriers(&self) -> impl Iterator<Item = &'a Barrier> + use<'a> {
        picked(&self.near.barriers, &self.extract.barriers)
    }
    /// Water, tracks and coasts.
    pub fn barred(&self) -> impl Iterator<Item = &'a Barred> + use<'a> {
        picked(&self.near.barred, &self.extract.barred)
    }
    /// Bridges.
    pub fn decks(&self) -> impl Iterator<Item = &'a Deck> + use<'a> {
        picked(&self.near.decks, &self.extract.decks)
    }
    /// Places to stop.
    pub fn stops(&self) -> impl Iterator<Item = &'a StopPlace> + use<'a> {
        picked(&self.near.stops, &self.extract.stops)
    }
    /// Segments of roads.
    pub fn segments(&self) -> impl Iterator<Item = &'a Segment> + use<'a> {
        let Self { near, network, .. } = *self;
        near.segments.iter().filter_map(|i| network.segments.get(i.at()))
    }
    /// The road a segment is a piece of.
    pub fn road(&self, segment: &Segment) -> Option<&'a Road> {
        self.extract.roads.get(segment.road.at())
    }
    /// A line in the plane of the cell.
    pub fn line(&self, line: &[Position]) -> Vec<Point> {
        line_on_plane(&self.window.plane, line)
    }
    /// Rings of an area in the plane of the cell, outer ring first.
    pub fn rings(&self, area: &Area) -> Vec<Vec<Point>> {
        rings_on_plane(&self.window.plane, area)
    }
}

/// Items by their indices; an index beyond the end finds nothing.
fn picked<'a, T>(indices: &'a [u32], items: &'a [T]) -> impl Iterator<Item = &'a T> + use<'a, T> {
    indices.iter().filter_map(|i| items.get(*i as usize))
}
