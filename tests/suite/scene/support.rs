//! Small worlds around one place at the equator of a plane, built from metres.
#![allow(dead_code)]
use waymask::base::geodesy::{LocalPlane, Point};
use waymask::base::index::RoadIndex;
use waymask::base::window::Elevation;
use waymask::base::words::{Case, DrivingSide, PerCase, RoadClass, ValueFrom};
use waymask::map::extract::model::*;
use waymask::map::neighbourhood::Neighbourhood;
use waymask::map::network::model::*;
use waymask::map::network::{self, Surroundings};
use waymask::map::place::places::Places;
use waymask::physics::scene::above::AboveGround;
use waymask::physics::scene::building::BuildingHeights;
use waymask::physics::scene::index::{FeatureIndex, Nearby, Window};
use waymask::physics::scene::solids::index::Solids;
use waymask::physics::scene::trees::canopy::Planting;
use waymask::physics::scene::trees::grid::{CanopyGrid, PIXEL_M};
use waymask::physics::scene::trees::stack::CrownStack;
use waymask::physics::scene::vicinity::Vicinity;
use waymask::physics::sky::canopy::{CanopyCaster, CanopyScratch};
use waymask::physics::sky::ground::Eye;
use waymask::physics::sky::mask::{AZIMUTH_BINS, SkyGrid};
use waymask::physics::sky::solid::SolidPainter;
use waymask::profile::{Cases, Profile, Season};

/// The network of some roads, countries looked up, nothing known of built-up places.
pub fn network_of(roads: &[Road], profile: &Profile) -> Network {
    let places = Places::embedded().unwrap();
    network::build(roads, &Cases::of(profile).unwrap(), &Surroundings::of(&places))
}

pub const GRID: SkyGrid = SkyGrid { floor_deg: 25.0 };
pub const ANTENNA_M: f64 = 2.0;

/// A world in metres around a place; every feature can be turned by right angles, clockwise.
pub struct World {
    pub extract: Extract,
    pub network: Network,
    pub window: Window,
    pub quarter_turns: u32,
}

impl Default for World {
    fn default() -> Self {
        let window = Window::new(LocalPlane::at(7.5, 46.2), 100.0);
        Self { extract: Extract::default(), network: Network::default(), window, quarter_turns: 0 }
    }
}

impl World {
    pub fn turned(quarter_turns: u32) -> Self {
        Self { quarter_turns, ..Self::default() }
    }
    pub fn point(&self, x_m: f64, y_m: f64) -> Point {
        (0..self.quarter_turns).fold(Point::new(x_m, y_m), |p, _| Point::new(p.y_m, -p.x_m))
    }
    pub fn line(&self, points: &[(f64, f64)]) -> Vec<waymask::base::geodesy::Position> {
        points.iter().map(|(x, y)| self.window.plane.to_position(self.point(*x, *y))).collect()
    }
    pub fn area(&self, outer: &[(f64, f64)], holes: &[&[(f64, f64)]]) -> Area {
        let ring = |points: &[(f64, f64)]| {
            let mut line = self.line(points);
            line.push(line[0]);
            line
        };
        Area { outer: ring(outer), inners: holes.iter().map(|h| ring(h)).collect() }
    }
    pub fn add_trees(&mut self, shape: CanopyShape, leaf_type: LeafType, height_m: Option<f32>) {
        let id = self.extract.canopy.len() as i64;
        let leaf_cycle = LeafCycle::Unknown;
        self.extract.canopy.push(Canopy { id, shape, leaf_type, leaf_cycle, height_m, crown_diameter_m: None });
    }
    pub fn add_wood(&mut self, outer: &[(f64, f64)], leaf_type: LeafType) {
        self.add_trees(CanopyShape::Wood(self.area(outer, &[])), leaf_type, None);
    }
    pub fn add_building(&mut self, outer: &[(f64, f64)], height_m: f32) -> &mut Building {
        let building = Building {
            id: self.extract.buildings.len() as i64,
            kind: BuildingKind::Other,
            area: self.area(outer, &[]),
            part: false,
            roof_only: false,
            height_m: Some(height_m),
            min_height_m: None,
            levels: None,
            roof_levels: None,
            roof_height_m: None,
            layer: 0,
        };
        self.extract.buildings.push(building);
        self.extract.buildings.last_mut().unwrap()
    }
    pub fn add_barrier(&mut self, kind: BarrierKind, line: &[(f64, f64)], height_m: Option<f32>) {
        let line = self.line(line);
        self.extract.barriers.push(Barrier { id: 1, kind, line, height_m });
    }
    /// A road through trees that stay apart, or leave a gap over it.
    pub fn add_road(&mut self, line: &[(f64, f64)], width_m: f32, clear_m: f32, gap_m: Option<f32>) -> &mut Segment {
        let lanes = |value| Sourced { value, from: ValueFrom::Default };
        let speed = Sourced { value: 80.0, from: ValueFrom::Default };
        let section = CrossSection {
            lanes: lanes(2),
            lanes_forward: 1,
            lanes_backward: 1,
            width_m: Sourced { value: width_m, from: ValueFrom::Default },
            free: PerCase::of(|_| FreeWidth { clear_m, crown_gap_m: gap_m.unwrap_or(width_m + 2.0 * clear_m) }),
            lane_forward_m: 0.0,
            lane_backward_m: 0.0,
            side: DrivingSide::Right,
        };
        let line = self.line(line);
        let length_m = waymask::base::geodesy::length_m(&line);
        self.network.segments.push(Segment {
            road: RoadIndex::new(u32::MAX as usize),
            part: 0,
            line,
            length_m,
            forward: true,
            backward: true,
            section,
            keeps_from: waymask::base::words::SideFrom::Default,
            country: None,
            speed_forward_kmh: speed,
            speed_backward_kmh: speed,
            bridge: false,
            tunnel: None,
            nodes: Vec::new(),
            edge_forward: None,
            edge_backward: None,
            stations: 2,
        });
        self.network.segments.last_mut().unwrap()
    }
    pub fn canopy(&self) -> Option<CanopyGrid> {
        Some(self.canopy_under(None)).filter(|grid| grid.top_m() > 0.0)
    }
    /// The road of the last segment, of which the map says nothing but its class.
    pub fn add_extract_road(&mut self, class: RoadClass) -> &mut Road {
        let segment = self.network.segments.last_mut().unwrap();
        segment.road = RoadIndex::new(self.extract.roads.len());
        let nodes = segment.line.iter().zip(1..).map(|(at, id)| RoadNode { id, at: *at }).collect();
        self.extract.roads.push(Road::untagged(1, class, nodes));
        self.extract.roads.last_mut().unwrap()
    }
    /// Trees where rasters show something too.
    pub fn canopy_under(&self, above: Option<&AboveGround>) -> CanopyGrid {
        self.canopy_with(&Profile::default(), above)
    }
    /// The same with a profile.
    pub fn canopy_with(&self, profile: &Profile, above: Option<&AboveGround>) -> CanopyGrid {
        let near = self.near();
        let heights = self.heights();
        CanopyGrid::build(
            &Planting {
                around: self.vicinity(&near, &heights),
                profile: &profile.canopy,
                above,
                measured: None,
                stated_crown_m: profile.canopy.crown_diameter_m,
                views: None,
            },
            PIXEL_M,
        )
    }
    /// Heights of the buildings, those without a tag by the default profile.
    pub fn heights(&self) -> BuildingHeights {
        let profile = Profile::default();
        BuildingHeights::of(&self.extract, &Neighbourhood::of(&self.extract, &profile.surroundings), &profile)
    }
    pub fn near(&self) -> Nearby {
        FeatureIndex::new(&self.extract, &self.network, &self.heights()).near(&self.window)
    }
    pub fn vicinity<'a>(&'a self, near: &'a Nearby, heights: &'a BuildingHeights) -> Vicinity<'a> {
        let (window, extract, network) = (&self.window, &self.extract, &self.network);
        Vicinity { window, extract, network, near, heights, case: Case::Likely }
    }
    /// Solids on land, for an eye that looks as low as a floor, degrees.
    pub fn solids_on(&self, elevation: Option<&Elevation>, profile: &Profile, floor_deg: f64) -> Solids {
        Solids::build(
            &self.vicinity(&self.near(), &self.heights()),
            elevation,
            None,
            &Cases::of(profile).unwrap(),
            floor_deg,
        )
    }
    pub fn solids(&self) -> Solids {
        self.solids_on(None, &Profile::default(), GRID.floor_deg)
    }
    pub fn solid_mask(&self, at: (f64, f64), antenna_height_m: f64) -> ([f32; AZIMUTH_BINS], Vec<u32>) {
        let mut horizon = [-90.0; AZIMUTH_BINS];
        let eye = Eye::level(self.point(at.0, at.1), antenna_height_m);
        let painted = SolidPainter::new(GRID).paint(&self.solids(), &eye, None, &mut horizon);
        (horizon, painted.inside)
    }
    pub fn canopy_mask(&self, at: (f64, f64), season: Season) -> Vec<u8> {
        let mut profile = Profile::default();
        profile.canopy.season = season;
        self.canopy_mask_with(at, &profile)
    }
    pub fn canopy_mask_with(&self, at: (f64, f64), profile: &Profile) -> Vec<u8> {
        let mut cells = vec![0; GRID.cells()];
        let eye = Eye::level(self.point(at.0, at.1), ANTENNA_M);
        let canopy = self.canopy_with(profile, None);
        if canopy.top_m() > 0.0 {
            CanopyCaster::new(GRID, profile).cast(
                &CrownStack::of([&canopy]),
                &eye,
                &mut CanopyScratch::default(),
                [&mut cells],
            );
        }
        cells
    }
}

pub fn square(x_m: f64, y_m: f64, half_m: f64) -> [(f64, f64); 4] {
    [
        (x_m - half_m, y_m - half_m),
        (x_m + half_m, y_m - half_m),
        (x_m + half_m, y_m + half_m),
        (x_m - half_m, y_m + half_m),
    ]
}
