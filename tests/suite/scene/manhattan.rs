//! Real streets between towers: masks against rays shot at extruded footprints.
use std::collections::BTreeMap;

use waymask::base::geodesy::{LocalPlane, Position};
use waymask::base::words::{Case, Direction};
use waymask::map::extract::model::Extract;
use waymask::map::neighbourhood::Neighbourhood;
use waymask::map::network::model::Network;
use waymask::map::network::station::stations;
use waymask::physics::scene::building::BuildingHeights;
use waymask::physics::scene::index::{FeatureIndex, Window};
use waymask::physics::scene::solids::index::Solids;
use waymask::physics::scene::vicinity::Vicinity;
use waymask::physics::sky::ground::Eye;
use waymask::physics::sky::mask::{AZIMUTH_BINS, AZIMUTH_STEP_DEG, ELEVATION_STEP_DEG, Mask, SkyGrid};
use waymask::physics::sky::pack::{HORIZON_STEP_DEG, quantised};
use waymask::physics::sky::shares::hidden_share;
use waymask::physics::sky::solid::SolidPainter;
use waymask::profile::{Cases, Profile};

use crate::need;
use crate::scene::support::network_of;

use super::extruded::{Map, Prism, SKYLINE_STEP_DEG, View, town};

/// One in this many stations is looked at, in their order: the whole extract is covered evenly.
const EVERY: usize = 4;
/// Height of the panel above the street, metres.
const EYE_M: f64 = 2.0;
/// Five azimuths a bin and quarter degrees against thousands of rays.
const OPEN_SHARE_TOL: f64 = 0.02;
/// Rays per place for the open share.
const RAYS: usize = 4_000;
/// Side of the squares that share a plane, degrees, as in a build.
const CELL_DEG: f64 = 0.02;

/// Every station of every lane that is not under a cover by its tags, and how many are.
fn street_positions(extract: &Extract, network: &Network) -> (Vec<Position>, usize) {
    let (mut open, mut covered) = (Vec::new(), 0);
    for segment in &network.segments {
        let plane = LocalPlane::at_position(segment.middle());
        for direction in [Direction::Forward, Direction::Backward] {
            let here = stations(segment, direction, &plane, &[]);
            if !segment.driven(direction) {
                continue;
            }
            if segment.tunnel.is_some() || extract.roads[segment.road.at()].covered {
                covered += here.len();
            } else {
                open.extend(here.iter().map(|s| plane.to_position(s.at)));
            }
        }
    }
    (open, covered)
}

/// Masks as a build makes them: solids per square, flat ground, stored precision.
struct Ours<'a> {
    extract: &'a Extract,
    network: &'a Network,
    index: FeatureIndex,
    heights: BuildingHeights,
    grid: SkyGrid,
    profile: &'a Profile,
    squares: BTreeMap<(i64, i64), (Window, Solids)>,
}

impl<'a> Ours<'a> {
    fn new(extract: &'a Extract, network: &'a Network, profile: &'a Profile) -> Self {
        let heights = BuildingHeights::of(extract, &Neighbourhood::of(extract, &profile.surroundings), profile);
        Self {
            extract,
            network,
            index: FeatureIndex::new(extract, network, &heights),
            heights,
            grid: SkyGrid { floor_deg: profile.terminal.floor_deg() },
            profile,
            squares: BTreeMap::new(),
        }
    }
    fn horizon(&mut self, at: Position) -> ([f32; AZIMUTH_BINS], Vec<u32>) {
        let row = |deg: f64| (deg / CELL_DEG).floor() as i64;
        let key = (row(at.lon_deg()), row(at.lat_deg()));
        let middle = |row: i64| (row as f64 + 0.5) * CELL_DEG;
        let (window, solids) = self.squares.entry(key).or_insert_with(|| {
            let window = Window::new(LocalPlane::at(middle(key.0), middle(key.1)), 1_150.0);
            let near = self.index.near(&window);
            let (extract, network, heights) = (self.extract, self.network, &self.heights);
            let around = Vicinity { window: &window, extract, network, near: &near, heights, case: Case::Likely };
            let solids = Solids::build(&around, None, None, &Cases::of(self.profile).unwrap(), self.grid.floor_deg);
            (window, solids)
        });
        let eye = Eye::level(window.plane.to_plane(at), EYE_M);
        let mut mask = Mask::open(self.grid);
        let painted = SolidPainter::new(self.grid).paint(solids, &eye, None, &mut mask.solid_deg);
        (quantised(&mask, self.grid).solid_deg, painted.inside)
    }
}

/// Both ways of looking over one town.
struct Town<'a> {
    ours: Ours<'a>,
    map: Map,
    prisms: &'a [Prism],
    open: Vec<f64>,
    rays: Vec<f64>,
    inside: usize,
}

impl Town<'_> {
    /// Compares one place; `None` inside a building, where there is no street to compare.
    fn compare(&mut self, at: Position) -> Option<f64> {
        let place = self.map.place(&at);
        let (horizon, over) = self.ours.horizon(at);
        let mut within: Vec<u32> =
            self.prisms.iter().filter(|p| p.bottom_m < EYE_M && p.contains(place)).map(|p| p.building as u32).collect();
        within.sort_unstable();
        assert_eq!(within, over, "{at:?}");
        if !within.is_empty() {
            self.inside += 1;
            return None;
        }
        let floor_deg = self.ours.grid.floor_deg;
        let rays = View::new(self.prisms, place, EYE_M, floor_deg).open_share(floor_deg, RAYS);
        let open = 1.0 - hidden_share(self.ours.grid, &horizon);
        self.open.push(open);
        self.rays.push(rays);
        Some(open - rays)
    }
    /// How far a horizon leaves the range the rays saw in its bin, degrees, over all bins of one place.
    fn beyond_deg(&mut self, at: Position) -> Vec<f64> {
        let floor_deg = self.ours.grid.floor_deg;
        let (horizon, _) = self.ours.horizon(at);
        let view = View::new(self.prisms, self.map.place(&at), EYE_M, floor_deg);
        let beyond = |(bin, h): (usize, &f32)| {
            let h = f64::from(*h).max(floor_deg);
            let (low, high) = view.skyline_deg(bin as f64 * AZIMUTH_STEP_DEG, AZIMUTH_STEP_DEG, floor_deg);
            let reading_deg = (SKYLINE_STEP_DEG + HORIZON_STEP_DEG) / 2.0;
            (h - high - reading_deg).max(low - h - reading_deg).max(0.0)
        };
        horizon.iter().enumerate().map(beyond).collect()
    }
}

/// Reads the town and hands over everything that is not under a cover; nothing where the data is missing.
fn with_town(lowest_elevation_deg: f64, test: impl FnOnce(&mut Town, &[Position])) {
    let Some(path) = need::data("pbf_cases/manhattan.osm.pbf") else { return };
    let mut extract = waymask::map::extract::read(&path, &waymask::base::progress::Silent).unwrap();
    // Rays know no neighbourhood: the few buildings without a height get one that both sides read.
    for building in extract.buildings.iter_mut().filter(|b| b.height_m.is_none() && b.levels.is_none()) {
        building.height_m = Some(6.0);
    }
    let mut profile = Profile::default();
    profile.terminal.scan_half_angle_deg = 90.0 - lowest_elevation_deg;
    profile.terminal.lowest_elevation_deg = lowest_elevation_deg;
    let network = network_of(&extract.roads, &profile);
    let (positions, covered) = street_positions(&extract, &network);
    eprintln!("{} stations and {covered} under a cover", positions.len());
    let map = Map::at(-74.002, 40.74);
    let prisms = town(&extract, &map);
    let ours = Ours::new(&extract, &network, &profile);
    test(&mut Town { ours, map, prisms: &prisms, open: Vec::new(), rays: Vec::new(), inside: 0 }, &positions);
}

fn largest(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |a, b| a.max(b.abs()))
}

/// Open shares over the whole extract, for one lowest elevation.
fn open_shares_agree(lowest_elevation_deg: f64) {
    with_town(lowest_elevation_deg, |town, positions| {
        let off: Vec<f64> = positions.iter().step_by(EVERY).filter_map(|at| town.compare(*at)).collect();
        let mean = off.iter().map(|d| d.abs()).sum::<f64>() / off.len() as f64;
        eprintln!(
            "above {lowest_elevation_deg} degrees: {} places compared, {} more inside a building; open share {:.3} to {:.3}, \
             off by {:.4} at most, {mean:.4} on average",
            off.len(),
            town.inside,
            town.rays.iter().fold(1.0f64, |a, b| a.min(*b)),
            largest(&town.rays),
            largest(&off),
        );
        assert!(off.len() >= 100, "only {} places", off.len());
        assert!(largest(&off) < OPEN_SHARE_TOL, "{}", largest(&off));
        // A town without its towers would pass as well where they hide nothing: they do hide.
        assert!(town.rays.iter().filter(|open| **open < 0.7).count() > 100);
    });
}

#[test]
fn heavy_street_masks_agree_with_rays_at_extruded_footprints() {
    open_shares_agree(35.0);
}

#[test]
fn heavy_street_masks_agree_with_rays_down_to_a_lower_cone() {
    open_shares_agree(25.0);
}

#[test]
fn heavy_no_horizon_leaves_what_the_rays_of_its_bin_saw() {
    with_town(35.0, |town, positions| {
        let places: Vec<Position> = positions.iter().step_by(positions.len() / 24).copied().collect();
        let beyond: Vec<f64> = places.iter().flat_map(|at| town.beyond_deg(*at)).collect();
        let wide = beyond.iter().filter(|d| **d > 0.0).count();
        eprintln!(
            "{} bins of {} places, {wide} beyond, {:.2} degrees at most",
            beyond.len(),
            places.len(),
            largest(&beyond)
        );
        assert!(largest(&beyond) < ELEVATION_STEP_DEG);
    });
}
