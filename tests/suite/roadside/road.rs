//! Tree-lined roads made of single trees, seen through the program's own canopy grid and caster.
use waymask::map::extract::model::{CanopyShape, LeafType};
use waymask::physics::link::draw::Draw;
use waymask::physics::scene::index::Window;
use waymask::physics::scene::trees::grid::CanopyGrid;
use waymask::physics::scene::trees::stack::CrownStack;
use waymask::physics::sky::canopy::{CanopyCaster, CanopyScratch};
use waymask::physics::sky::ground::Eye;
use waymask::physics::sky::leaves::LeafOdds;
use waymask::physics::sky::mask::{Mask, SkyGrid};
use waymask::profile::Profile;

use crate::scene::support::{ANTENNA_M, World};

/// Rows of this grid are centred on 25, 27.5, ... degrees, so that 25, 40, 60 and 51 (50) degrees are looked at
/// where they are and not up to half a row higher.
pub const GRID: SkyGrid = SkyGrid { floor_deg: 23.75 };
/// Middle of a lane of 3.5 m from the middle of a two-lane road, metres.
pub const LANE_M: f64 = 1.75;
/// Radius of the crowns, metres: the program's own default.
/// Crowns without a diameter, as the profile has them (held by `crowns.rs`).
pub const CROWN_DIAMETER_M: f64 = 6.0;
pub const CROWN_M: f64 = CROWN_DIAMETER_M / 2.0;
/// Half the length of road looked at, metres.
pub const HALF_LENGTH_M: f64 = 600.0;
/// Trees go on beyond its ends, metres: a tree of 22 m reaches 43 m at 25 degrees.
const BEYOND_M: f64 = 60.0;

/// A value drawn evenly between two ends.
#[derive(Debug, Clone, Copy)]
pub struct Spread(pub f64, pub f64);

impl Spread {
    pub fn only(value: f64) -> Self {
        Self(value, value)
    }
    fn at(self, unit: f64) -> f64 {
        self.0 + (self.1 - self.0) * unit
    }
}

/// How trees are spaced along a side of the road.
#[derive(Debug, Clone, Copy)]
pub enum Spacing {
    /// At random places, this many metres apart on average.
    Random(f64),
    /// Planted, this many metres apart.
    Even(f64),
}

/// A tree, metres east and north of the middle of the road.
#[derive(Debug, Clone, Copy)]
pub struct Tree {
    pub x_m: f64,
    pub y_m: f64,
    pub height_m: f64,
}

/// A tree-lined road of two lanes; trees on both sides.
#[derive(Debug, Clone, Copy)]
pub struct TreeRoad {
    /// From the middle of the nearer lane to the nearest leaves of a crown, metres; trunks stand a crown's radius farther.
    pub offset_m: Spread,
    /// Heights of the trees, metres.
    pub height_m: Spread,
    pub spacing: Spacing,
    pub seed: u64,
}

/// The central case: whole ranges of the sweep, trees at random, one crown apart on average.
pub const CENTRAL: TreeRoad =
    TreeRoad { offset_m: Spread(3.0, 12.0), height_m: Spread(8.0, 22.0), spacing: Spacing::Random(6.0), seed: 1 };

impl TreeRoad {
    /// Its trees as the program makes single trees. The road runs north through the origin.
    pub fn canopy(&self) -> CanopyGrid {
        self.canopy_of(&[(CROWN_DIAMETER_M, 1.0)])
    }

    /// Its trees as discs on top of each other: diameter, metres, and top over the height of the tree of each.
    pub fn canopy_of(&self, discs: &[(f64, f64)]) -> CanopyGrid {
        let mut world = wide_world();
        for tree in self.trees() {
            let at = world.line(&[(tree.x_m, tree.y_m)])[0];
            for (diameter_m, top_share) in discs {
                let top_m = (tree.height_m * top_share) as f32;
                world.add_trees(CanopyShape::Tree(at), LeafType::Broadleaved, Some(top_m));
                world.extract.canopy.last_mut().unwrap().crown_diameter_m = Some(*diameter_m as f32);
            }
        }
        world.canopy().unwrap()
    }

    /// Its trees, from south to north, first those of the east side.
    pub fn trees(&self) -> Vec<Tree> {
        let end_m = HALF_LENGTH_M + BEYOND_M;
        let mut trees = Vec::new();
        for (side, sign) in [(1, 1.0), (2, -1.0)] {
            let draw = Draw::root(self.seed).of(side);
            let mut y_m = -end_m;
            for tree in 0.. {
                let unit = |name| draw.of(tree).of(name).unit();
                y_m += match self.spacing {
                    Spacing::Random(mean_m) => -mean_m * (1.0 - unit(1)).ln(),
                    Spacing::Even(m) => m,
                };
                if y_m > end_m {
                    break;
                }
                let x_m = sign * (LANE_M + self.offset_m.at(unit(2)) + CROWN_M);
                trees.push(Tree { x_m, y_m, height_m: self.height_m.at(unit(3)) });
            }
        }
        trees
    }
}

/// A world without trees, wide enough for the road.
pub fn wide_world() -> World {
    let world = World::default();
    World { window: Window::new(world.window.plane, HALF_LENGTH_M), ..world }
}

/// Masks along a lane, from south to north.
pub fn masks(canopy: &CanopyGrid, lane_m: f64, every_m: f64, profile: &Profile) -> Vec<Mask> {
    let caster = CanopyCaster::new(GRID, profile);
    let mut scratch = CanopyScratch::default();
    let stations = (2.0 * HALF_LENGTH_M / every_m) as usize + 1;
    let mask = |i: usize| {
        let mut mask = Mask::open(GRID);
        let at = waymask::base::geodesy::Point::new(lane_m, i as f64 * every_m - HALF_LENGTH_M);
        caster.cast(&CrownStack::of([canopy]), &Eye::level(at, ANTENNA_M), &mut scratch, [&mut mask.canopy]);
        mask
    };
    (0..stations).map(mask).collect()
}

/// Share of the distance at which a satellite within five degrees of square to the road is hidden, over both
/// lanes and both sides, at each elevation.
pub fn shares_square(canopy: &CanopyGrid, every_m: f64, elevations_deg: &[f64], profile: &Profile) -> Vec<f64> {
    shares(canopy, every_m, elevations_deg, profile, &[87.5, 92.5, 267.5, 272.5])
}

/// The same for satellites in some azimuth bins.
pub fn shares(
    canopy: &CanopyGrid,
    every_m: f64,
    elevations_deg: &[f64],
    profile: &Profile,
    azimuths_deg: &[f64],
) -> Vec<f64> {
    let masks: Vec<Mask> = [LANE_M, -LANE_M].iter().flat_map(|lane| masks(canopy, *lane, every_m, profile)).collect();
    let odds = LeafOdds::of(profile);
    let share = |elevation_deg: &f64| {
        let seen = masks.iter().flat_map(|m| azimuths_deg.iter().map(|a| m.blocked(GRID, &odds, *a, *elevation_deg)));
        seen.sum::<f64>() / (masks.len() * azimuths_deg.len()) as f64
    };
    elevations_deg.iter().map(share).collect()
}
