//! A small town for routes: a street from west to east and what a test hangs on it.
use waymask::ask::route::{Limits, RouteAnswer, RouteQuestion, RouteRules, route};
use waymask::base::geodesy::{Point, Position};
use waymask::profile::Profile;

use crate::build::kit::{Place, Sketch};

/// Streets being drawn, in metres east and north.
pub struct Town {
    pub sketch: Sketch,
    /// Nodes of the street at 0, 1000, 2000 and 3000 m.
    pub street: Vec<i64>,
}

pub fn roads(highway: &'static str) -> Vec<(&'static str, &'static str)> {
    vec![("highway", highway), ("maxspeed", "36")]
}

impl Town {
    /// The street, driven at 36 km/h, which is 10 m/s; the middle third gets tags of its own.
    pub fn with_middle(middle: &[(&'static str, &'static str)]) -> Self {
        let mut sketch = Sketch::at(47.0);
        let street: Vec<i64> = (0..4).map(|i| sketch.node(1000.0 * f64::from(i), 0.0, &[])).collect();
        let plain = roads("tertiary");
        sketch.way(&street[..2], &[plain.clone(), vec![("name", "West Street")]].concat());
        sketch.way(&street[1..3], &[plain.clone(), vec![("name", "Middle Street")], middle.to_vec()].concat());
        sketch.way(&street[2..], &[plain, vec![("name", "East Street")]].concat());
        Self { sketch, street }
    }
    pub fn build(&self) -> Place {
        let mut profile = Profile::default();
        profile.link.drives = 4;
        self.sketch.build(profile)
    }
    pub fn at(&self, x_m: f64, y_m: f64) -> Position {
        self.sketch.plane.to_position(Point::new(x_m, y_m))
    }
}

pub const ALL: RouteRules = RouteRules { unpaved: true, boarded: true, private: true, height_m: 3.0 };

pub fn asked(places: Vec<Position>) -> RouteQuestion {
    RouteQuestion {
        places,
        within_m: 200.0,
        rules: ALL,
        limits: Limits { ways: 5, longer_ms: None },
        worst: 5,
        units: waymask::base::words::Units::Metric,
    }
}

/// The answers, or what the error says.
pub fn ask(place: &Place, asked: &RouteQuestion) -> Result<RouteAnswer, String> {
    route(&place.layer, asked).map_err(|e| e.to_string())
}

/// Length of the fastest way, metres.
pub fn fastest_m(place: &Place, places: &[Position]) -> f64 {
    ask(place, &asked(places.to_vec())).unwrap().ways[0].length_m
}
