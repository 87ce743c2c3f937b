//! Buildings of a file of their own take the place of those of the map.
use super::options::BuildOptions;
use crate::base::defect::{Defect, Defects};
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::map::extract::model::{Area, Building, BuildingKind, Extract, LARGEST_BUILDING_M2};
use crate::physics::scene::overlap::Overlaps;
use crate::relief::{BuildingOutline, FootprintFile};

/// Buildings this far from the outermost road still hide something, degrees.
const BEYOND_DEG: f64 = 0.02;
/// What starts higher than this above the ground is open below and stays, metres.
const OPEN_BELOW_M: f32 = 2.5;

/// A building of the map gives way where outlines cover this share of it: a shed in its corner is not the building.
const GIVES_WAY_FROM: f64 = 0.5;
/// An outline without a height is a building of its own where the map's cover less than this share of it.
const NEW_BELOW: f64 = 0.3;
/// Medians of heights of buildings in metres, in any place.
const LIKELY_M: std::ops::RangeInclusive<f64> = 1.5..=100.0;
/// Medians of what two surveys say of the same buildings, one over the other.
const LIKELY_RATIO: std::ops::RangeInclusive<f64> = 0.4..=2.5;
/// Fewer values than this have no median worth the name.
const ENOUGH: usize = 10;

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
        let next = "give buildings for the extract's region, or leave out --buildings";
        return Err(Error::file(&file.path, "holds no building near the roads of the extract", next));
    }
    if read.found.iter().all(|f| f.height_m.is_none()) {
        let fact = format!("column '{}' gives no building height anywhere near the roads", file.height_column);
        return Err(Error::file(&file.path, fact, "name the column of heights in metres with --buildings-height"));
    }
    let mut defects = read.defects;
    let mut given: Vec<Building> = read.found.into_iter().map(building).collect();
    given.retain(|b| {
        let vast = b.area.ground_m2() > LARGEST_BUILDING_M2;
        if vast {
            defects.add(Defect::VastBuilding, || format!("feature {} of {}", -b.id, file.path.display()));
        }
        !vast
    });
    let of_map = Overlaps::new(&extract.buildings);
    // An outline without a height knows less than the building of the map it lies on.
    given.retain(|b| b.height_m.is_some() || of_map.over(b).0 < NEW_BELOW);
    let of_file = Overlaps::new(&given);
    let over: Vec<(f64, Vec<usize>)> = extract.buildings.iter().map(|b| of_file.over(b)).collect();
    check_unit(file, &given, &extract.buildings, &over)?;
    let before = extract.buildings.len();
    let mut shares = over.iter().map(|(share, _)| *share);
    extract.buildings.retain(|b| shares.next().is_none_or(|share| stays(b) || share < GIVES_WAY_FROM));
    let replaced = (before - extract.buildings.len()) as u64;
    let with_height = given.iter().filter(|b| b.height_m.is_some()).count() as u64;
    let taken = given.len() as u64;
    extract.buildings.extend(given);
    Ok(Some(ReplacedBuildings { taken, with_height, replaced, defects }))
}

/// Heights in centimetres or feet must not pass for metres, nor must a column of something else.
fn check_unit(file: &FootprintFile, given: &[Building], of_map: &[Building], over: &[(f64, Vec<usize>)]) -> Result<()> {
    let bad = |fact: String| {
        let next =
            "give heights in metres (ogr2ogr -sql computes a column), or name another column with --buildings-height";
        Err(Error::file(&file.path, format!("column '{}' {fact}", file.height_column), next))
    };
    let heights_m = given.iter().filter_map(|b| b.height_m).map(f64::from).collect();
    if let Some(median_m) = median(heights_m).filter(|m| !LIKELY_M.contains(m)) {
        return bad(format!(
            "has a median of {median_m} near the roads, which is not plausible for heights of buildings in metres"
        ));
    }
    let ratio = |(b, (_, covers)): (&Building, &(f64, Vec<usize>))| {
        let tagged_m = b.tagged_height_m()?;
        let height_m = covers.iter().filter_map(|i| given[*i].height_m).reduce(f32::max)?;
        Some(f64::from(height_m) / tagged_m)
    };
    match median(of_map.iter().zip(over).filter_map(ratio).collect()).filter(|r| !LIKELY_RATIO.contains(r)) {
        Some(r) => bad(format!("is, in the median, {r:.3} times the heights that the map has for the same buildings")),
        None => Ok(()),
    }
}

/// The median of enough values to say something.
fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().filter(|_| values.len() >= ENOUGH)
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
