//! Buildings of an extract, with what their tags say.
use serde::{Deserialize, Serialize};

use super::area::Area;
use super::tags::STOREY_M;
use crate::base::geodesy::Position;

/// No building covers more ground, square metres (assumed: the largest factories have 0.93 of floor, Wikipedia, List of largest
/// buildings).
pub const LARGEST_BUILDING_M2: f64 = 1.5e6;

/// What a building is used for, as far as that suggests its height: each kind has a height of its own where tags are silent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default, Serialize, Deserialize)]
pub enum BuildingKind {
    /// One family or a few: houses, terraces, farmhouses.
    House,
    /// Many families or guests: apartments, dormitories, hotels.
    Apartments,
    /// Garages, sheds, huts, kiosks.
    Small,
    /// Barns, workshops, warehouses, supermarkets.
    Hall,
    /// Schools, offices, shops, hospitals.
    Public,
    /// Places of worship.
    Church,
    /// `building=yes` and whatever else says nothing of a use.
    #[default]
    Other,
}

impl BuildingKind {
    /// Every kind.
    pub const ALL: [Self; 7] =
        [Self::House, Self::Apartments, Self::Small, Self::Hall, Self::Public, Self::Church, Self::Other];

    /// The kind of a value of `building` or `building:part`.
    pub(crate) fn of(value: &str) -> Self {
        match value {
            "house" | "detached" | "semidetached_house" | "semi" | "bungalow" | "terrace" | "farm" | "cabin"
            | "chalet" | "villa" | "annexe" => Self::House,
            "apartments" | "residential" | "dormitory" | "hotel" => Self::Apartments,
            "garage" | "garages" | "shed" | "hut" | "carport" | "kiosk" | "greenhouse" | "toilets" | "service"
            | "static_caravan" | "boathouse" | "sty" | "allotment_house" | "bunker" | "ger" | "tent" | "container" => {
                Self::Small
            }
            "industrial" | "warehouse" | "barn" | "hangar" | "supermarket" | "farm_auxiliary" | "sports_hall"
            | "sports_centre" | "stable" | "cowshed" | "manufacture" | "slurry_tank" | "storage_tank"
            | "transportation" | "riding_hall" => Self::Hall,
            "office" | "commercial" | "retail" | "civic" | "public" | "school" | "kindergarten" | "university"
            | "college" | "hospital" | "government" | "fire_station" | "museum" | "train_station" | "parking" => {
                Self::Public
            }
            "church" | "cathedral" | "chapel" | "mosque" | "temple" | "religious" | "synagogue" | "shrine"
            | "monastery" => Self::Church,
            _ => Self::Other,
        }
    }
}

/// A building, building part or roof.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Building {
    /// OSM id, for messages.
    pub id: i64,
    /// What it is used for.
    pub kind: BuildingKind,
    /// Footprint.
    pub area: Area,
    /// A `building:part`; its outline `building` covers the same ground, unless it is tagged as both.
    pub part: bool,
    /// `building=roof`, `carport` or `canopy`, `wall=no`, or a covered fuel or bus station: open below.
    pub roof_only: bool,
    /// `height`, else `est_height`: top including the roof, metres above the ground.
    pub height_m: Option<f32>,
    /// `min_height`, else from `building:min_level` at 3 m a level: underside, metres above the ground.
    pub min_height_m: Option<f32>,
    /// `building:levels`, without roof levels.
    pub levels: Option<f32>,
    /// `roof:levels`.
    pub roof_levels: Option<f32>,
    /// `roof:height`, metres.
    pub roof_height_m: Option<f32>,
    /// `layer`.
    pub layer: i8,
}

impl Building {
    /// Height that its tags give, metres above the ground: `height` reaches to the top of the roof; levels do not count the
    /// roof, so its height comes on top of them. `None` where they give none, or one below its own underside.
    pub fn tagged_height_m(&self) -> Option<f64> {
        let height_m = usable(self.height_m).or_else(|| self.height_by_levels_m(f64::from(STOREY_M), 0.0));
        height_m.filter(|h| *h > usable(self.min_height_m).unwrap_or(0.0))
    }
    /// Height that its levels give where they are `storey_m` high and the roof, where tags are silent on it, `roof_m`; `None`
    /// where `height` is tagged or levels are not.
    pub(crate) fn height_by_levels_m(&self, storey_m: f64, roof_m: f64) -> Option<f64> {
        let levels = usable(self.levels).filter(|_| usable(self.height_m).is_none())?;
        let told_m = usable(self.roof_height_m).or(usable(self.roof_levels).map(|n| n * storey_m));
        Some(levels * storey_m + told_m.unwrap_or(roof_m))
    }
    /// Whether any tag gives a height, however wrong.
    pub fn has_height(&self) -> bool {
        usable(self.height_m).or(usable(self.levels)).is_some()
    }
    /// The middle of its outline's box; `None` without an outline.
    pub fn middle(&self) -> Option<Position> {
        let first = self.area.outer.first()?;
        let (mut low, mut high) = (*first, *first);
        for p in &self.area.outer {
            low = Position { lon_e7: low.lon_e7.min(p.lon_e7), lat_e7: low.lat_e7.min(p.lat_e7) };
            high = Position { lon_e7: high.lon_e7.max(p.lon_e7), lat_e7: high.lat_e7.max(p.lat_e7) };
        }
        // A box around most of the globe is one across 180 degrees: any of its corners will do.
        if i64::from(high.lon_e7) - i64::from(low.lon_e7) > 1_800_000_000 {
            return Some(*first);
        }
        let half = |a: i32, b: i32| ((i64::from(a) + i64::from(b)) / 2) as i32;
        Some(Position { lon_e7: half(low.lon_e7, high.lon_e7), lat_e7: half(low.lat_e7, high.lat_e7) })
    }
}

/// A figure that a height or a number of levels may be.
fn usable(told: Option<f32>) -> Option<f64> {
    told.map(f64::from).filter(|figure| figure.is_finite() && *figure > 0.0)
}
