//! Buildings of a file of their own take the place of those of the map.
use super::options::BuildOptions;
use crate::base::defect::{Defect, Defects};
use crate::base::district::{District, Reach};
use crate::base::error::{Error, Result};
use crate::base::geodesy::Position;
use crate::map::district::bundle::AROUND_M;
use crate::map::extract::model::{Area, Building, BuildingKind, Extract, LARGEST_BUILDING_M2};
use crate::physics::scene::overlap::Overlaps;
use crate::relief::{BuildingOutline, FootprintFile};

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
    /// Outlines of the file that begin in the district.
    pub found: u64,
    /// Those of them with a height.
    pub found_with_height: u64,
    /// Buildings of the file near the roads.
    pub taken: u64,
    /// Those of them with a height.
    pub with_height: u64,
    /// Buildings of the map that gave way.
    pub replaced: u64,
    /// What is wrong in the file.
    pub defects: Defects,
}

/// Puts the buildings of the file asked for into the bundle of a district; nothing where none is. Those that stand in the
/// district are counted.
///
/// # Errors
/// The file cannot be read, or its heights are not metres.
pub(crate) fn replace(
    options: &BuildOptions,
    district: District,
    extract: &mut Extract,
) -> Result<Option<ReplacedBuildings>> {
    let Some(file) = &options.buildings else { return Ok(None) };
    let (low, high) = bounds(&district.reach(AROUND_M));
    let here = move |at: Position| District::of(at) == district;
    let read = file.read(low, high, &here)?;
    let of_outline = |f: &&BuildingOutline| f.rings.first().and_then(|ring| ring.first()).copied().is_some_and(here);
    let found = read.found.iter().filter(of_outline).count() as u64;
    let found_with_height = read.found.iter().filter(of_outline).filter(|f| f.height_m.is_some()).count() as u64;
    let mut defects = read.defects;
    let mut given: Vec<Building> = read.found.into_iter().map(building).collect();
    given.retain(|b| {
        let vast = b.area.ground_m2() > LARGEST_BUILDING_M2;
        if vast && b.middle().is_some_and(here) {
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
    let own = |b: &&Building| b.middle().is_some_and(here);
    let before = extract.buildings.iter().filter(own).count();
    let mut shares = over.iter().map(|(share, _)| *share);
    extract.buildings.retain(|b| shares.next().is_none_or(|share| stays(b) || share < GIVES_WAY_FROM));
    let replaced = (before - extract.buildings.iter().filter(own).count()) as u64;
    let with_height = given.iter().filter(own).filter(|b| b.height_m.is_some()).count() as u64;
    let taken = given.iter().filter(own).count() as u64;
    extract.buildings.extend(given);
    Ok(Some(ReplacedBuildings { found, found_with_height, taken, with_height, replaced, defects }))
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

/// Looks into the file before anything is rated.
///
/// # Errors
/// It cannot be read as a file of outlines, or none in a district has a height.
pub(crate) fn look(options: &BuildOptions, district: District) -> Result<()> {
    let Some(file) = &options.buildings else { return Ok(()) };
    let (low, high) = bounds(&district.reach(0.0));
    let found = file.read(low, high, &|_| true)?.found;
    let with_height = found.iter().filter(|f| f.height_m.is_some()).count() as u64;
    if found.is_empty() {
        return Ok(());
    }
    check_all(file, [found.len() as u64, with_height, 0, 0, 0])
}

/// What a whole build says of the file: it must show something where the roads are.
///
/// # Errors
/// It holds nothing there, or no height.
pub(crate) fn check_all(file: &FootprintFile, [found, with_height, ..]: [u64; 5]) -> Result<()> {
    let (path, column) = (file.path.as_path(), &file.height_column);
    if found == 0 {
        let next = "give buildings for the extract's region, or leave out --buildings";
        return Err(Error::file(path, "holds no building near the roads of the extract", next));
    }
    if with_height == 0 {
        let fact = format!("column '{column}' gives no building height anywhere near the roads");
        return Err(Error::file(path, fact, "name the column of heights in metres with --buildings-height"));
    }
    Ok(())
}

/// South-western and north-eastern corner of a box; across 180 degrees it ends there.
fn bounds(reach: &Reach) -> (Position, Position) {
    let held = |lon_e7: i64, lat_e7: i64| Position {
        lon_e7: lon_e7.clamp(-1_800_000_000, 1_800_000_000) as i32,
        lat_e7: lat_e7.clamp(-900_000_000, 900_000_000) as i32,
    };
    // Columns count eastwards from Greenwich: those of the west lie beyond 180 degrees.
    let turn_e7 = if reach.west_e7 >= 1_750_000_000 { 3_600_000_000 } else { 0 };
    (held(reach.west_e7 - turn_e7, reach.south_e7), held(reach.east_e7 - turn_e7, reach.north_e7))
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
