//! Buildings of a file of their own take the place of those of the map.
use super::options::BuildOptions;
use crate::base::defect::Defects;
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::map::extract::model::{Area, Building, BuildingKind, Extract};
use crate::physics::scene::overlap::Overlaps;
use crate::relief::BuildingOutline;

/// Buildings this far from the outermost road still hide something, degrees.
const BEYOND_DEG: f64 = 0.02;
/// What starts higher than this above the ground is open below and stays, metres.
const OPEN_BELOW_M: f32 = 2.5;

/// What became of the buildings of the map.
#[derive(Debug, Clone, Default)]
pub(crate) struct ReplacedBuildings {
    /// Buildings of the file near the roads.
    pub taken: u64,
    /// Those of them with a height.
    pub with_height: u64,
    /// Buildings of the map that gave way.
    pub replaced: u64,
    /// What is wrong in the file.
    pub defects: Defects,
}

/// Puts the buildings of the file asked for into an extract; nothing where none is.
///
/// # Errors
/// The file cannot be read, or holds nothing near the roads.
pub(crate) fn replace(options: &BuildOptions, extract: &mut Extract) -> Result<Option<ReplacedBuildings>> {
    let Some(file) = &options.buildings else { return Ok(None) };
    let (low, high) = bounds(extract);
    let read = file.read(low, high)?;
    if read.found.is_empty() {
        let next = "give buildings of the extract's region, or leave out --buildings";
        return Err(Error::file(&file.path, "holds no building near the roads of the extract", next));
    }
    let with_height = read.found.iter().filter(|f| f.height_m.is_some()).count() as u64;
    let given: Vec<Building> = read.found.into_iter().map(building).collect();
    let before = extract.buildings.len();
    let overlaps = Overlaps::new(&given);
    extract.buildings.retain(|b| stays(b) || !overlaps.any(b));
    let replaced = (before - extract.buildings.len()) as u64;
    let taken = given.len() as u64;
    extract.buildings.extend(given);
    Ok(Some(ReplacedBuildings { taken, with_height, replaced, defects: read.defects }))
}

/// South-western and north-eastern corner of all roads, grown.
fn bounds(extract: &Extract) -> (Position, Position) {
    let places = || extract.roads.iter().flat_map(|r| &r.nodes).map(|n| n.at);
    let fold = |pick: fn(f64, f64) -> f64, start: f64| {
        places().fold((start, start), |(x, y), p| (pick(x, p.lon_deg()), pick(y, p.lat_deg())))
    };
    let (low, high) = (fold(f64::min, f64::INFINITY), fold(f64::max, f64::NEG_INFINITY));
    let held = |x: f64, y: f64| Position::from_deg(x.clamp(-180.0, 180.0), y.clamp(-90.0, 90.0));
    let wide = BEYOND_DEG / low.1.abs().max(high.1.abs()).to_radians().cos().max(0.05);
    (held(low.0 - wide, low.1 - BEYOND_DEG), held(high.0 + wide, high.1 + BEYOND_DEG))
}

/// Features of the file have negative ids, so that no message takes them for ways of the map.
fn building(footprint: BuildingOutline) -> Building {
    let mut rings = footprint.rings.into_iter();
    Building {
        id: -footprint.id,
        kind: BuildingKind::Other,
        area: Area { outer: rings.next().unwrap_or_default(), inners: rings.collect() },
        part: false,
        roof_only: false,
        height_m: footprint.height_m,
        min_height_m: None,
        levels: None,
        roof_levels: None,
        roof_height_m: None,
        layer: 0,
    }
}

/// Roofs and what stands above a passage are drawn for the road below them: outlines know nothing of it.
fn stays(building: &Building) -> bool {
    building.roof_only || building.layer < 0 || building.min_height_m.is_some_and(|m| m > OPEN_BELOW_M)
}
