//! What the map says of trees, planted: crown top and base above the ground, and how leaves behave.
//!
//! In: woods, orchards, tree rows, trees and hedges of a [`Vicinity`], and the roads whose clear width is cut out of
//! polygons. Out: a [`CanopyGrid`]. Heights are above the ground, metres. No seasons and no rays here.
use std::ops::Range;

use super::crown::{Crown, EDGE_TREES_M, Foliage, HeightFrom};
use super::grid::CanopyGrid;
use super::shown::{RoadCut, road_cut, shows_crowns};
use crate::base::geodesy::Point;
use crate::base::words::{Case, RoadClass, StopKind};
use crate::map::extract::model::{Canopy, CanopyShape, LeafCycle, LeafType, StopPlace};
use crate::physics::scene::above::AboveGround;
use crate::physics::scene::cover::{PixelCover, cover_capsule, cover_rings};
use crate::physics::scene::raster::{Raster, fill_capsule, fill_rings, pieces};
use crate::physics::scene::solids::measured::Measured;
use crate::physics::scene::vicinity::Vicinity;
use crate::profile::CanopyProfile;

/// Width of hedges, metres; assumed.
pub(crate) const HEDGE_WIDTH_M: f64 = 1.5;

/// A line from which trees are looked at, and how far from it, metres.
#[derive(Debug, Clone, PartialEq)]
pub struct TreeView {
    /// In the plane of the cell; a single point is a place.
    pub line: Vec<Point>,
    /// Trees farther away than this are out of sight, metres.
    pub reach_m: f64,
}

/// What trees are planted from.
#[derive(Debug, Clone, Copy)]
pub struct Planting<'a> {
    /// The map around the cell.
    pub around: Vicinity<'a>,
    /// Heights and crowns where tags are silent.
    pub profile: &'a CanopyProfile,
    /// What rasters show; `None` without any here.
    pub above: Option<&'a AboveGround<'a>>,
    /// Which of it is buildings; `None` where no surface is fine enough to tell.
    pub measured: Option<&'a Measured>,
    /// Crowns without a diameter as stated, metres, whatever the case: whether a raster shows them is one question for all cases.
    pub stated_crown_m: f64,
    /// From where they are looked at: what stands out of sight of all is left out. `None` plants everything.
    pub views: Option<&'a [TreeView]>,
}

impl CanopyGrid {
    /// Rasterises everything near a window.
    ///
    /// Woods and orchards are filled first, then what rasters show is laid over them, then each loses the clear width of
    /// the roads through it (not of tunnels); tree rows, single trees, hedges and the trees of tree-lined roads stand where they
    /// are mapped, except where a raster fine enough to show single crowns shows none.
    pub fn build(from: &Planting, pixel_m: f64) -> Self {
        let around = &from.around;
        let mut grid = Self::empty(Raster::around_origin(around.window.reach_m(), pixel_m));
        if let Some(views) = from.views {
            let in_sight = grid.tiles_within(views.iter().map(|v| (v.line.as_slice(), v.reach_m)));
            grid.keep_to(&in_sight);
        }
        grid.add_polygons(from);
        if let Some(above) = from.above {
            let disagreement = grid.overlay(around, above, from.profile.crown_base_share);
            grid.disagrees(disagreement);
            grid.leave_to_solids(around, from.measured);
            grid.edge_trees();
        }
        if !grid.is_bare() {
            grid.clear_roads(from);
        }
        for tree in around.canopy() {
            grid.add_line_or_tree(from, tree);
        }
        grid.add_tree_lined(from);
        grid.finish();
        grid
    }

    /// Fills woods and orchards, then brings leaves down to the ground along their outlines: all fills
    /// come first, so that the order of polygons on the same ground changes nothing.
    fn add_polygons(&mut self, from: &Planting) {
        let (raster, profile) = (*self.raster(), from.profile);
        let mut outlines = Vec::new();
        for tree in from.around.canopy() {
            let (area, default_m) = match &tree.shape {
                CanopyShape::Wood(area) => (area, default_height_m(tree.leaf_type, profile, from.around.case)),
                CanopyShape::Orchard(area) => (area, profile.orchard_height_m),
                _ => continue,
            };
            let crown = crown_of(tree, default_m, profile.crown_base_share, from.around.case);
            let rings = from.around.rings(area);
            cover_rings(&raster, &rings, |row, columns, cover| self.stand(row, columns, crown.over(&cover)));
            outlines.extend(rings);
        }
        for pair in outlines.iter().flat_map(|ring| ring.windows(2)) {
            cover_capsule(&raster, pair[0], pair[1], EDGE_TREES_M, |row, columns, cover| {
                self.change(row, columns, |c| c.towards_ground(cover.share));
            });
        }
    }

    fn add_line_or_tree(&mut self, from: &Planting, tree: &Canopy) {
        let profile = from.profile;
        let (line, default_m, width_m) = match &tree.shape {
            CanopyShape::Row(line) => {
                (line.as_slice(), default_height_m(tree.leaf_type, profile, from.around.case), profile.crown_diameter_m)
            }
            CanopyShape::Tree(at) => (
                std::slice::from_ref(at),
                default_height_m(tree.leaf_type, profile, from.around.case),
                profile.crown_diameter_m,
            ),
            CanopyShape::Hedge(line) => (line.as_slice(), profile.hedge_height_m, HEDGE_WIDTH_M),
            CanopyShape::Wood(_) | CanopyShape::Orchard(_) => return,
        };
        let hedge = matches!(tree.shape, CanopyShape::Hedge(_));
        let crown = crown_of(tree, default_m, if hedge { 0.0 } else { profile.crown_base_share }, from.around.case);
        let radius_m = tree.crown_diameter_m.map_or(width_m, f64::from) / 2.0;
        let points = from.around.line(line);
        let shown_m = tree.crown_diameter_m.map_or(if hedge { width_m } else { from.stated_crown_m }, f64::from);
        for (a, b) in pieces(&points) {
            self.add_strip((a, b), (radius_m, shown_m), crown, from.above);
        }
    }

    /// Crowns along a straight piece. Where a raster shows single crowns of this size it has said whether they stand and
    /// how high; the map then only knows their leaves.
    fn add_strip(
        &mut self,
        (a, b): (Point, Point),
        (radius_m, shown_m): (f64, f64),
        crown: Crown,
        above: Option<&AboveGround>,
    ) {
        let raster = *self.raster();
        cover_capsule(&raster, a, b, radius_m, |row, columns, cover| {
            if above.is_none() {
                self.stand(row, columns, crown.over(&cover));
                return;
            }
            for column in columns {
                if !shows_crowns(above, raster.centre(column, row), shown_m) {
                    self.stand(row, column..column + 1, crown.over(&cover));
                } else {
                    self.change(row, column..column + 1, |c| c.with_foliage(crown.foliage()));
                }
            }
        });
    }

    /// Trees planted along roads, on the tagged sides of the way, their crowns beginning at most the profile's distance from the
    /// carriageway.
    fn add_tree_lined(&mut self, from: &Planting) {
        let (height_m, crown_m) = (from.profile.broadleaved_height_m, from.profile.crown_diameter_m);
        let crown = Crown::new(height_m * from.profile.crown_base_share, height_m, Foliage::Mixed, HeightFrom::Default);
        for segment in from.around.segments() {
            let Some(road) = from.around.road(segment) else { continue };
            if segment.bridge || segment.tunnel.is_some() || !(road.tree_lined.left || road.tree_lined.right) {
                continue;
            }
            let clear_m = f64::from(segment.section.free[from.around.case].clear_m).min(from.profile.avenue_clear_m);
            let offset_m = f64::from(segment.section.width_m.value) / 2.0 + clear_m + crown_m / 2.0;
            for pair in from.around.line(&segment.line).windows(2) {
                for (on, turn_deg) in [(road.tree_lined.left, -90.0), (road.tree_lined.right, 90.0)] {
                    if on {
                        let aside_deg = pair[0].azimuth_deg(pair[1]) + turn_deg;
                        let piece = (pair[0].moved(aside_deg, offset_m), pair[1].moved(aside_deg, offset_m));
                        self.add_strip(piece, (crown_m / 2.0, from.stated_crown_m), crown, from.above);
                    }
                }
            }
        }
    }

    /// Cuts the clear width of roads. Trees beside it are edge trees; that comes first, so that the
    /// end of one piece of a road does not bring leaves down onto the next. A bridge is cut out as well: a wood
    /// drawn across it stands below its deck, not on it. No light comes from it, so it makes no edge trees.
    fn clear_roads(&mut self, from: &Planting) {
        let raster = *self.raster();
        for edge_trees in [true, false] {
            for segment in from.around.segments() {
                let ferry = from.around.road(segment).is_some_and(|r| r.class == RoadClass::Ferry);
                if segment.tunnel.is_some() || ferry || (edge_trees && segment.bridge) {
                    continue;
                }
                let cut = RoadCut::of_class(segment, from.around.case);
                let beside = from.above.filter(|_| !segment.bridge);
                let shown = beside.and_then(|a| road_cut(segment, a, &from.around)).unwrap_or(cut);
                let line = from.around.line(&segment.line);
                if edge_trees {
                    for (row, columns, cover) in strip(&raster, &line, cut.half_m + EDGE_TREES_M) {
                        self.change(row, columns, |c| c.towards_ground(cover.share));
                    }
                    continue;
                }
                self.clear_road(&line, cut, from.profile.cut_back_m, false);
                // Without rasters nothing is shown that the other would cut.
                if from.above.is_some() {
                    self.clear_road(&line, shown, from.profile.cut_back_m, true);
                }
            }
        }
    }

    /// Cuts a piece of road out of what a raster shows, or out of the rest: all that hangs lower than vehicles
    /// need, and the gap between the crowns whole.
    fn clear_road(&mut self, line: &[Point], cut: RoadCut, cut_back_m: f64, shown: bool) {
        let raster = *self.raster();
        let of_raster = |c: Crown| c.height_from() == HeightFrom::Raster;
        if cut.gap_m < cut.half_m {
            for (row, columns, cover) in strip(&raster, line, cut.half_m) {
                self.change(row, columns, |c| if of_raster(c) == shown { c.cut_back(cut_back_m, &cover) } else { c });
            }
        }
        if cut.gap_m > 0.0 {
            for (row, columns, cover) in strip(&raster, line, cut.gap_m) {
                self.change(row, columns, |c| if of_raster(c) == shown { c.cut(&cover) } else { c });
            }
        }
    }

    /// Takes woods off the outlines of places made for vehicles: a wood drawn across a car park says no more about its bays
    /// than about a road. Trees and rows drawn there stay, and so does what a raster shows. For looking from those places; lanes
    /// are looked at before.
    pub(crate) fn clear_places(&mut self, from: &Planting) {
        let paved = |s: &&StopPlace| {
            matches!(s.kind, StopKind::Parking | StopKind::Fuel | StopKind::RestArea | StopKind::Services)
        };
        let places = from.around.stops().filter(paved);
        let (raster, unseen) = (*self.raster(), |c: &Crown| c.height_from() != HeightFrom::Raster);
        for rings in places.filter_map(|s| s.outline.as_ref()).map(|area| from.around.rings(area)) {
            for pair in rings.iter().flat_map(|ring| ring.windows(2)) {
                let edge = |c: Crown| if unseen(&c) { c.to_ground() } else { c };
                fill_capsule(&raster, pair[0], pair[1], EDGE_TREES_M, |row, columns| self.change(row, columns, edge));
            }
            let gone = |c: Crown| if unseen(&c) { Crown::default() } else { c };
            fill_rings(&raster, &rings, |row, columns| self.change(row, columns, gone));
        }
        for tree in from.around.canopy() {
            self.add_line_or_tree(from, tree);
        }
        self.finish();
    }
}

/// Trees of unknown leaves are assumed to be broad-leaved; they may as well be needle-leaved, and are at the end at which that
/// hides less or more.
fn default_height_m(leaf_type: LeafType, profile: &CanopyProfile, case: Case) -> f64 {
    let (broad_m, needle_m) = (profile.broadleaved_height_m, profile.needleleaved_height_m);
    match (leaf_type, case) {
        (LeafType::Unknown, Case::Best) => broad_m.min(needle_m),
        (LeafType::Unknown, Case::Worst) => broad_m.max(needle_m),
        _ => stated_height_m(leaf_type, profile),
    }
}

fn stated_height_m(leaf_type: LeafType, profile: &CanopyProfile) -> f64 {
    match leaf_type {
        LeafType::Needleleaved => profile.needleleaved_height_m,
        LeafType::Broadleaved | LeafType::Mixed | LeafType::Leafless | LeafType::Unknown => {
            profile.broadleaved_height_m
        }
    }
}

fn crown_of(tree: &Canopy, default_m: f64, base_share: f64, case: Case) -> Crown {
    let tagged_m = tree.height_m.map(f64::from).filter(|h| h.is_finite() && *h > 0.0);
    let from = if tagged_m.is_some() { HeightFrom::Tag } else { HeightFrom::Default };
    let top_m = tagged_m.unwrap_or(default_m);
    let foliage = match (tree.leaf_type, tree.leaf_cycle, case) {
        (LeafType::Unknown, LeafCycle::Unknown, Case::Best) => Foliage::Deciduous,
        (LeafType::Unknown, LeafCycle::Unknown, Case::Worst) => Foliage::Evergreen,
        (leaf_type, leaf_cycle, _) => Foliage::of(leaf_type, leaf_cycle),
    };
    Crown::new(top_m * base_share, top_m, foliage, from)
}
/// Where a strip along a line covers pixels, each once: cut again for every step of the line, a pixel on its rim would lose more
/// than the strip takes of it.
fn strip(raster: &Raster, line: &[Point], radius_m: f64) -> Vec<(usize, Range<usize>, PixelCover)> {
    let mut whole = Vec::new();
    let mut partly: Vec<((usize, usize), PixelCover)> = Vec::new();
    for (a, b) in pieces(line) {
        cover_capsule(raster, a, b, radius_m, |row, columns, cover| {
            if cover.share >= 1.0 {
                whole.push((row, columns, cover));
            } else {
                partly.extend(columns.map(|column| ((row, column), cover)));
            }
        });
    }
    // The first of those that take most counts.
    partly.sort_by_key(|(at, _)| *at);
    partly.dedup_by(|next, kept| {
        if next.0 != kept.0 {
            return false;
        }
        if next.1.share > kept.1.share {
            kept.1 = next.1;
        }
        true
    });
    whole.extend(partly.into_iter().map(|((row, column), cover)| (row, column..column + 1, cover)));
    whole
}
