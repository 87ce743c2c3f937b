//! What all drives of a stroke share.
use super::hiding::OnLeg;
use super::model::Stretch;
use super::road::{Leg, StrokeRoad};
use super::sky::LinkSky;
use super::views::Views;

/// A stroke under its sky.
pub(super) struct StrokeWay<'a> {
    pub road: StrokeRoad<'a>,
    pub sky: &'a LinkSky,
    views: Views,
    /// Whether drives stop at every border, also where nothing can change: slower, and the same.
    pub every_border: bool,
}

impl<'a> StrokeWay<'a> {
    pub fn new(stroke: &'a [Stretch], sky: &'a LinkSky) -> Self {
        let grid = sky.rules.grid;
        let road = StrokeRoad::new(stroke, sky.rules.lowest_elevation_deg.min(grid.floor_deg));
        Self { views: Views::new(&road, grid, &sky.odds), road, sky, every_border: false }
    }

    /// A station of a leg, which is the `nth` of the road.
    pub fn on<'l>(&'l self, leg: &'l Leg<'l>, nth: usize, station: usize) -> OnLeg<'l> {
        OnLeg { leg, station, view: self.views.of(nth, station) }
    }
}

/// The dark span that comes next on a drive.
#[derive(Debug, Default)]
pub(super) struct NextDark(usize);

impl NextDark {
    /// Whether a road has no more of them.
    pub fn is_none(&self, road: &StrokeRoad) -> bool {
        self.0 >= road.dark.len()
    }

    /// Whether it is dark from one place to another, metres along the stroke; places have to be asked for in order.
    pub fn holds(&mut self, road: &StrokeRoad, from_m: f64, to_m: f64) -> bool {
        while road.dark.get(self.0).is_some_and(|(_, end_m)| *end_m < from_m) {
            self.0 += 1;
        }
        road.dark.get(self.0).is_some_and(|(start_m, end_m)| *start_m <= from_m && to_m <= *end_m)
    }
}
