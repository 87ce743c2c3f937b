//! Words of objects of the map and of places to stop.
use super::declare::words;

words! {
    /// What a build used a file for.
    #[derive(Default)]
    pub enum InputRole {
        /// Roads and what stands near them.
        #[default]
        Extract = "extract",
        /// Height of the ground.
        Elevation = "elevation",
        /// Height of what stands on the ground.
        Surface = "surface",
        /// Height of trees.
        Canopy = "canopy",
        /// Outlines of buildings with their heights.
        Buildings = "buildings",
        /// Orbital elements.
        Orbits = "orbits",
    }

    /// Kind of object of the map.
    #[derive(Default)]
    pub enum MapObject {
        /// A node.
        #[default]
        Node = "node",
        /// A way.
        Way = "way",
        /// A relation.
        Relation = "relation",
    }

    /// Kind of place a vehicle may stop at.
    #[derive(Default)]
    pub enum StopKind {
        /// `amenity=fuel`
        Fuel = "fuel",
        /// `highway=rest_area`
        RestArea = "rest_area",
        /// `highway=services`
        Services = "services",
        /// `tourism=camp_site`
        CampSite = "camp_site",
        /// `tourism=camp_pitch`
        CampPitch = "camp_pitch",
        /// `tourism=caravan_site`
        CaravanSite = "caravan_site",
        /// `tourism=picnic_site`
        PicnicSite = "picnic_site",
        /// `tourism=viewpoint`
        Viewpoint = "viewpoint",
        /// `amenity=parking`
        #[default]
        Parking = "parking",
    }

    /// Who may stop at a place.
    #[derive(Default)]
    pub enum StopAccess {
        /// No restriction tagged.
        #[default]
        Open = "open",
        /// Customers, permit holders, guests and whoever else is named.
        Customers = "customers",
        /// Private ground, residents, staff.
        Private = "private",
    }

    /// Whether a vehicle stands under a roof.
    #[derive(Default)]
    pub enum Roofed {
        /// It does.
        Yes = "yes",
        /// It does not.
        #[default]
        No = "no",
        /// Most places of this kind have a roof, and the map says nothing of this one.
        Unknown = "unknown",
    }

    /// What says whether a vehicle stands under a roof.
    #[derive(Default)]
    pub enum RoofedBy {
        /// A tag of the place.
        Tag = "tag",
        /// A roof or building drawn on the map.
        Roof = "roof",
        /// A kind of parking that has one.
        Parking = "parking",
        /// The outline of the place, in a neighbourhood where roofs are drawn, and none over it.
        Outline = "outline",
        /// Nothing says so.
        #[default]
        None = "none",
    }

    /// What the vehicle stands on.
    #[derive(Default)]
    pub enum StandsOn {
        /// Ground under a drawn roof.
        Roof = "roof",
        /// A service road of the place.
        Aisle = "aisle",
        /// A mapped pitch.
        Pitch = "pitch",
        /// Free ground of the place.
        Ground = "ground",
        /// The inside or the top of a building.
        Building = "building",
        /// The point of the map, for want of better.
        #[default]
        Point = "point",
    }
}

impl Roofed {
    /// Treated as roofed: there is a roof, or it is not known that there is none.
    pub(crate) fn may_be(self) -> bool {
        self != Self::No
    }
}
