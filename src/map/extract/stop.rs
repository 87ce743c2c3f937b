//! Places to stop as the map tells them.
use super::area::Area;
use crate::base::geodesy::Position;

/// Kind of object of the map.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum MapObject {
    /// A node.
    #[default]
    Node,
    /// A way.
    Way,
    /// A relation.
    Relation,
}

impl MapObject {
    /// As written into the layer.
    pub fn name(self) -> &'static str {
        match self {
            Self::Node => "node",
            Self::Way => "way",
            Self::Relation => "relation",
        }
    }
}

/// Kind of place a vehicle may stop at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum StopKind {
    /// `amenity=fuel`
    Fuel,
    /// `highway=rest_area`
    RestArea,
    /// `highway=services`
    Services,
    /// `tourism=camp_site`
    CampSite,
    /// `tourism=camp_pitch`
    CampPitch,
    /// `tourism=caravan_site`
    CaravanSite,
    /// `tourism=picnic_site`
    PicnicSite,
    /// `tourism=viewpoint`
    Viewpoint,
    /// `amenity=parking`
    Parking,
}

impl StopKind {
    /// All kinds.
    pub const ALL: [Self; 9] = [
        Self::Fuel,
        Self::RestArea,
        Self::Services,
        Self::CampSite,
        Self::CampPitch,
        Self::CaravanSite,
        Self::PicnicSite,
        Self::Viewpoint,
        Self::Parking,
    ];
    /// The tag's value, as written into the layer.
    pub fn name(self) -> &'static str {
        match self {
            Self::Fuel => "fuel",
            Self::RestArea => "rest_area",
            Self::Services => "services",
            Self::CampSite => "camp_site",
            Self::CampPitch => "camp_pitch",
            Self::CaravanSite => "caravan_site",
            Self::PicnicSite => "picnic_site",
            Self::Viewpoint => "viewpoint",
            Self::Parking => "parking",
        }
    }
}

/// Who may stop at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum StopAccess {
    /// No restriction tagged.
    #[default]
    Open,
    /// Customers, permit holders, guests and whoever else is named.
    Customers,
    /// Private ground, residents, staff.
    Private,
}

impl StopAccess {
    /// As written into the layer.
    pub fn name(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Customers => "customers",
            Self::Private => "private",
        }
    }
}

/// What the tags of a place say about a roof.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Shelter {
    /// Nothing.
    #[default]
    Untold,
    /// `covered=yes` and the like.
    Covered,
    /// Parking in sheds, carports or garage boxes.
    Sheds,
    /// Parking under ground or on several storeys: inside of something.
    Enclosed,
    /// Parking on top of a building.
    Rooftop,
}

/// A place where one may stop.
#[derive(Debug, Clone, PartialEq)]
pub struct StopPlace {
    /// Kind of object `id` is of.
    pub object: MapObject,
    /// OSM id.
    pub id: i64,
    /// Kind.
    pub kind: StopKind,
    /// `name`.
    pub name: Option<Box<str>>,
    /// A point inside.
    pub at: Position,
    /// Outline where mapped as an area.
    pub outline: Option<Area>,
    /// Roof by tags.
    pub shelter: Shelter,
    /// Who may use it.
    pub access: StopAccess,
}
