//! Assumptions about what stands around a road where the map is silent: cuttings, clear widths, heights of buildings, and from when on the silence of
//! the map says something.
use serde::{Deserialize, Serialize};

use crate::base::settings::End::{High, Low};
use crate::base::settings::Mark::{Assumed, CommonPractice};
use crate::base::settings::{Key, number};

/// Earthworks beside the road, and how far trees are kept away from it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Roadside {
    /// Depth of cuttings, metres: the map gives only their side.
    pub cutting_depth_m: f64,
    /// Horizontal run of their banks over their height.
    pub cutting_slope: f64,
    /// Clear width of roads built to a table of clear zones, over that of the table.
    pub clear_zone_factor: f64,
    /// From the edge of the carriageway to the trees, metres: unclassified roads.
    pub clear_unclassified_m: f64,
    /// The same of residential roads.
    pub clear_residential_m: f64,
    /// The same of living streets.
    pub clear_living_street_m: f64,
    /// The same of service roads.
    pub clear_service_m: f64,
    /// The same of tracks.
    pub clear_track_m: f64,
}

/// Heights of buildings without tags, metres, by use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Buildings {
    /// Houses of a family or a few.
    pub house_m: f64,
    /// Apartments and hotels.
    pub apartments_m: f64,
    /// Garages, sheds, huts.
    pub small_m: f64,
    /// Barns, workshops, warehouses.
    pub hall_m: f64,
    /// Schools, offices, shops.
    pub public_m: f64,
    /// Places of worship.
    pub church_m: f64,
    /// Buildings whose use the map does not say.
    pub other_m: f64,
    /// A storey where the map counts storeys and gives no height.
    pub storey_m: f64,
    /// The roof on top of them where the map says nothing of it.
    pub roof_m: f64,
    /// How many tagged buildings of the neighbourhood weigh as much as the values above.
    pub tagged_weigh: f64,
}

/// Heights of walls, cliffs and banks without tags, metres above the ground on their low side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Barriers {
    /// Free-standing walls.
    pub wall_m: f64,
    /// Walls that hold the ground up.
    pub retaining_wall_m: f64,
    /// Walls against noise.
    pub noise_barrier_m: f64,
    /// Cliffs.
    pub cliff_m: f64,
    /// Banks and edges of earthworks.
    pub bank_m: f64,
}

/// From when on the silence of the map says something.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MapTrust {
    /// Buildings within some 9 km from which they are mapped at all.
    pub mapped_buildings: f64,
    /// Share of the blocks with streets that must have a building.
    pub mapped_share: f64,
    /// Buildings that every such block must have on average.
    pub mapped_per_block: f64,
    /// Trees within some 5 km from which they are mapped.
    pub mapped_trees: f64,
    /// Share of the ground within some 2 km under woods from which they are mapped.
    pub wood_share: f64,
    /// Share of the ground at roads within some 1.5 km known to carry no wood from which trees are mapped.
    pub treeless_share: f64,
    /// Buildings within some 650 m from which a place is built-up.
    pub built_up_buildings: f64,
}

impl Default for Roadside {
    fn default() -> Self {
        Self {
            cutting_depth_m: 3.0,
            cutting_slope: 1.5,
            clear_zone_factor: 1.0,
            clear_unclassified_m: 1.6,
            clear_residential_m: 2.5,
            clear_living_street_m: 1.5,
            clear_service_m: 1.0,
            clear_track_m: 0.75,
        }
    }
}

impl Default for Buildings {
    fn default() -> Self {
        Self {
            house_m: 7.0,
            apartments_m: 12.0,
            small_m: 3.0,
            hall_m: 7.0,
            public_m: 9.0,
            church_m: 15.0,
            other_m: 8.0,
            storey_m: 3.0,
            roof_m: 0.0,
            tagged_weigh: 10.0,
        }
    }
}

impl Default for Barriers {
    fn default() -> Self {
        Self { wall_m: 2.0, retaining_wall_m: 3.0, noise_barrier_m: 4.0, cliff_m: 10.0, bank_m: 3.0 }
    }
}

impl Default for MapTrust {
    fn default() -> Self {
        Self {
            mapped_buildings: 10.0,
            mapped_share: 0.5,
            mapped_per_block: 1.5,
            mapped_trees: 50.0,
            wood_share: 0.01,
            treeless_share: 0.6,
            built_up_buildings: 30.0,
        }
    }
}

const fn height(path: &'static str, note: &'static str) -> Key {
    number(path, Assumed, 1.0, 150.0, "m", note)
}

/// Their keys.
pub(crate) const KEYS: &[Key] = &[
    number(
        "roadside.cutting_depth_m",
        Assumed,
        0.0,
        50.0,
        "m",
        "depth of cuttings tagged on the road, where no elevation raster with pixels up to 5 m shows them",
    )
    .likely(1.0, 6.0).worse(High),
    number(
        "roadside.cutting_slope",
        CommonPractice,
        0.0,
        5.0,
        "",
        "horizontal run of the banks of a cutting divided by their height: earth about 1.5, rock 0.2",
    )
    .likely(0.3, 2.0).worse(Low),
    number(
        "roadside.clear_zone_factor",
        Assumed,
        0.0,
        5.0,
        "",
        "clear width beside motorways to tertiary roads, over what is assumed after the AASHTO Roadside Design Guide (2011), table 3-1, suggested clear zones; its title was checked, its figures are from memory",
    )
    .likely(0.6, 1.5).worse(Low),
    number("roadside.clear_unclassified_m", Assumed, 0.0, 30.0, "m", "clear width from the edge of unclassified roads to the trees").likely(0.5, 3.0).worse(Low),
    number(
        "roadside.clear_residential_m",
        Assumed,
        0.0,
        30.0,
        "m",
        "clear width from the edge of residential roads to the trees",
    )
    .likely(1.0, 5.0)
    .worse(Low),
    number(
        "roadside.clear_living_street_m",
        Assumed,
        0.0,
        30.0,
        "m",
        "clear width from the edge of living streets to the trees",
    )
    .likely(0.3, 3.0)
    .worse(Low),
    number(
        "roadside.clear_service_m",
        Assumed,
        0.0,
        30.0,
        "m",
        "clear width from the edge of service roads to the trees",
    )
    .likely(0.0, 2.5)
    .worse(Low),
    number(
        "roadside.clear_track_m",
        Assumed,
        0.0,
        30.0,
        "m",
        "clear width from the edge of tracks to the trees",
    )
    .likely(0.0, 1.5)
    .worse(Low),
    height("building.house_m", "houses without a height: two storeys and a roof").likely(5.0, 9.0).worse(High),
    height("building.apartments_m", "apartments and hotels: four storeys").likely(9.0, 18.0).worse(High),
    height("building.small_m", "garages, sheds, huts").likely(2.5, 4.0).worse(High),
    height("building.hall_m", "barns, workshops, warehouses").likely(5.0, 12.0).worse(High),
    height("building.public_m", "schools, offices, shops: three storeys").likely(6.0, 15.0).worse(High),
    height("building.church_m", "places of worship, without their towers").likely(10.0, 25.0).worse(High),
    height("building.other_m", "buildings whose use is not on the map").likely(5.0, 15.0).worse(High),
    number("building.storey_m", CommonPractice, 1.0, 10.0, "m", "one storey, for buildings with a number of storeys but no height").likely(2.7, 3.6).worse(High),
    number("building.roof_m", Assumed, 0.0, 30.0, "m", "the roof above the counted storeys, where the map does not give it").likely(0.0, 3.0).worse(High),
    number(
        "building.tagged_weigh",
        Assumed,
        0.0,
        10_000.0,
        "",
        "the heights above have the weight of this many buildings of their kind: the median of those with a height in the map within some 5 km is drawn towards them",
    ),
    height("barrier.wall_m", "free-standing walls without a height").likely(1.2, 3.0).worse(High),
    height("barrier.retaining_wall_m", "walls that hold the ground up").likely(1.5, 6.0).worse(High),
    height("barrier.noise_barrier_m", "noise barriers").likely(3.0, 6.0).worse(High),
    height("barrier.cliff_m", "cliffs, where no elevation raster shows them").likely(4.0, 25.0).worse(High),
    height("barrier.bank_m", "banks and edges of earthworks").likely(1.5, 6.0).worse(High),
    number(
        "surroundings.mapped_buildings",
        Assumed,
        0.0,
        100_000.0,
        "",
        "where the map has fewer buildings than this within some 9 km, buildings are not known",
    ),
    number(
        "surroundings.mapped_share",
        Assumed,
        0.0,
        1.0,
        "",
        "where a smaller share than this of the streets within some 5 km has a building, buildings are not known",
    ),
    number(
        "surroundings.mapped_per_block",
        Assumed,
        0.0,
        1000.0,
        "",
        "where the streets within some 5 km have fewer buildings than this in every 200 m, buildings are not known",
    ),
    number(
        "surroundings.mapped_trees",
        Assumed,
        1.0,
        100_000.0,
        "",
        "where the map has at least this many trees within some 5 km, trees are known; a row or a wood counts as 5",
    ),
    number(
        "surroundings.wood_share",
        Assumed,
        0.0001,
        1.0,
        "",
        "where at least this share of the ground within some 2 km is under woods, trees are known",
    ),
    number(
        "surroundings.treeless_share",
        Assumed,
        0.01,
        1.0,
        "",
        "where at least this share of the ground at roads within some 1.5 km is known to be free of woods, trees are known",
    ),
    number(
        "surroundings.built_up_buildings",
        Assumed,
        1.0,
        1000.0,
        "",
        "a place with at least this many buildings within some 300 m is built-up, for speeds without a sign",
    )
    .likely(15.0, 60.0),
];
