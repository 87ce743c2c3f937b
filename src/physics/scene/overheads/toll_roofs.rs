//! Roofs over toll plazas that the map shows as booths only.
//!
//! In: the toll booths and roads of an extract. Out: roofs as buildings without heights, so that the defaults of a roof
//! apply and say that they are defaults. A booth below a roof that is drawn gets none of its own.
use std::collections::BTreeSet;

use crate::base::geodesy::{LocalPlane, Point, Position};
use crate::base::words::RoadClass;
use crate::map::extract::model::{Area, Building, BuildingKind, Extract};
use crate::physics::scene::rings::{contains, rings_on_plane};

/// Half the side of the roof over one booth, metres: two booths' lanes across, a lorry's cab along; assumed.
const HALF_M: f64 = 6.0;

/// Roofs over the booths of motorways and trunk roads: smaller ones, at car parks and private roads, are barriers in the open
/// as a rule (common practice, no source).
pub(crate) fn toll_roofs(extract: &Extract) -> Vec<Building> {
    if extract.toll_booths.is_empty() {
        return Vec::new();
    }
    let large = |class| matches!(class, RoadClass::Motorway | RoadClass::Trunk);
    let on_large: BTreeSet<i64> =
        extract.roads.iter().filter(|r| large(r.class)).flat_map(|r| r.nodes.iter().map(|n| n.id)).collect();
    let drawn: Vec<&Building> = extract.buildings.iter().filter(|b| b.roof_only).collect();
    let booths = extract.toll_booths.iter().filter(|b| on_large.contains(&b.id) && !roofed(&drawn, b.at));
    booths.map(|b| roof(b.id, b.at)).collect()
}

/// Whether one of the roofs drawn is over a place.
fn roofed(drawn: &[&Building], at: Position) -> bool {
    let plane = LocalPlane::at_position(at);
    drawn.iter().any(|b| contains(&rings_on_plane(&plane, &b.area), Point::new(0.0, 0.0)))
}

fn roof(id: i64, at: Position) -> Building {
    let plane = LocalPlane::at_position(at);
    let corners = [(-HALF_M, -HALF_M), (HALF_M, -HALF_M), (HALF_M, HALF_M), (-HALF_M, HALF_M), (-HALF_M, -HALF_M)];
    let outer = corners.iter().map(|(x, y)| plane.to_position(Point::new(*x, *y))).collect();
    Building {
        id,
        kind: BuildingKind::Other,
        area: Area { outer, inners: Vec::new() },
        part: false,
        roof_only: true,
        height_m: None,
        min_height_m: None,
        levels: None,
        roof_levels: None,
        roof_height_m: None,
        layer: 0,
    }
}
