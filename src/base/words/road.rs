//! Words of roads and of what stands over them.
use super::declare::{Words, words};

words! {
    /// Where a value came from.
    #[derive(Default)]
    pub enum ValueFrom {
        /// A tag of the map.
        Tag = "tag",
        /// A default of the country or zone.
        Country = "country",
        /// A default of the class or kind.
        #[default]
        Default = "default",
        /// What a loaded vehicle climbs at.
        Climb = "climb",
        /// The legal limit of built-up places in the country.
        BuiltUp = "built_up",
        /// An assumed limit of built-up places, where the country's is not known.
        BuiltUpAssumed = "built_up_assumed",
        /// The radius of a roundabout.
        Radius = "radius",
        /// Elevation.
        Elevation = "elevation",
    }

    /// Class of a road by its `highway` tag, links (`*_link`) with their class.
    pub enum RoadClass {
        /// `motorway`
        Motorway = "motorway",
        /// `trunk`
        Trunk = "trunk",
        /// `primary`
        Primary = "primary",
        /// `secondary`
        Secondary = "secondary",
        /// `tertiary`
        Tertiary = "tertiary",
        /// `unclassified`, and `road`
        Unclassified = "unclassified",
        /// `residential`
        Residential = "residential",
        /// `living_street`
        LivingStreet = "living_street",
        /// `service`
        Service = "service",
        /// `track`
        Track = "track",
        /// `route=ferry`: a class of its own, never open sky
        Ferry = "ferry",
        /// `route=shuttle_train`, or a railway that takes motor vehicles: the same on rails
        ShuttleTrain = "shuttle_train",
    }

    /// Who may use a road.
    #[derive(Default)]
    pub enum RoadAccess {
        /// No restriction tagged.
        #[default]
        Open = "open",
        /// `destination`, `customers`, `delivery`: for those who have business there, not for driving through.
        Destination = "destination",
        /// `private`, `permit`, `agricultural` and the like: usable by some.
        Private = "private",
    }

    /// Side of the road traffic drives on.
    #[derive(Default)]
    pub enum DrivingSide {
        /// Left-hand traffic.
        Left = "left",
        /// Right-hand traffic.
        #[default]
        Right = "right",
    }

    /// What says on which side traffic drives.
    #[derive(Default)]
    pub enum SideFrom {
        /// A tag of the road.
        Tag = "tag",
        /// The profile.
        Profile = "profile",
        /// The country.
        Country = "country",
        /// Nothing: right is assumed.
        #[default]
        Default = "default",
    }

    /// What stands over the road, in the order causes are named.
    pub enum OverheadKind {
        /// A closed tunnel.
        Tunnel = "tunnel",
        /// A passage through a building.
        Passage = "passage",
        /// An avalanche gallery.
        Gallery = "gallery",
        /// A roof: `covered=yes`, a fuel-station roof, a toll plaza.
        Roof = "roof",
        /// A deck carrying a road.
        RoadDeck = "road_deck",
        /// A footbridge.
        FootDeck = "foot_deck",
        /// A railway bridge.
        RailDeck = "rail_deck",
        /// An aqueduct, pipeline, conveyor or an outline of unknown use.
        OtherDeck = "other_deck",
        /// A sign gantry.
        Gantry = "gantry",
    }

    /// The `highway` value of a segment or edge; a link has its own, ferries and shuttle trains theirs.
    #[derive(Default)]
    pub enum Highway {
        /// `motorway`
        Motorway = "motorway",
        /// `motorway_link`
        MotorwayLink = "motorway_link",
        /// `trunk`
        Trunk = "trunk",
        /// `trunk_link`
        TrunkLink = "trunk_link",
        /// `primary`
        Primary = "primary",
        /// `primary_link`
        PrimaryLink = "primary_link",
        /// `secondary`
        Secondary = "secondary",
        /// `secondary_link`
        SecondaryLink = "secondary_link",
        /// `tertiary`
        Tertiary = "tertiary",
        /// `tertiary_link`
        TertiaryLink = "tertiary_link",
        /// `unclassified`, and `road`
        #[default]
        Unclassified = "unclassified",
        /// `residential`
        Residential = "residential",
        /// `living_street`
        LivingStreet = "living_street",
        /// `service`
        Service = "service",
        /// `track`
        Track = "track",
        /// `route=ferry`
        Ferry = "ferry",
        /// `route=shuttle_train`
        ShuttleTrain = "shuttle_train",
    }
}

impl RoadClass {
    /// Whether vehicles are carried on it, below decks and roofs.
    pub(crate) const fn is_boarded(self) -> bool {
        matches!(self, Self::Ferry | Self::ShuttleTrain)
    }
}

impl OverheadKind {
    /// Tunnels, passages, galleries and roofs, as opposed to decks that cross.
    pub const fn is_cover(self) -> bool {
        matches!(self, Self::Tunnel | Self::Passage | Self::Gallery | Self::Roof)
    }
    /// What people call it.
    pub(crate) const fn phrase(self) -> &'static str {
        match self {
            Self::RoadDeck => "road bridge",
            Self::FootDeck => "footbridge",
            Self::RailDeck => "railway bridge",
            Self::OtherDeck => "other bridge",
            Self::Tunnel | Self::Passage | Self::Gallery | Self::Roof | Self::Gantry => self.name(),
        }
    }
}

impl Highway {
    /// Of a road; classes below tertiary have no links of their own.
    pub const fn of(class: RoadClass, link: bool) -> Self {
        match (class, link) {
            (RoadClass::Motorway, false) => Self::Motorway,
            (RoadClass::Motorway, true) => Self::MotorwayLink,
            (RoadClass::Trunk, false) => Self::Trunk,
            (RoadClass::Trunk, true) => Self::TrunkLink,
            (RoadClass::Primary, false) => Self::Primary,
            (RoadClass::Primary, true) => Self::PrimaryLink,
            (RoadClass::Secondary, false) => Self::Secondary,
            (RoadClass::Secondary, true) => Self::SecondaryLink,
            (RoadClass::Tertiary, false) => Self::Tertiary,
            (RoadClass::Tertiary, true) => Self::TertiaryLink,
            (RoadClass::Unclassified, _) => Self::Unclassified,
            (RoadClass::Residential, _) => Self::Residential,
            (RoadClass::LivingStreet, _) => Self::LivingStreet,
            (RoadClass::Service, _) => Self::Service,
            (RoadClass::Track, _) => Self::Track,
            (RoadClass::Ferry, _) => Self::Ferry,
            (RoadClass::ShuttleTrain, _) => Self::ShuttleTrain,
        }
    }
    /// As people read it: `service road`, `motorway`, `ramp of a trunk road`.
    pub fn phrase(self) -> String {
        let class = self.class();
        match self {
            _ if self.is_boarded() => class.spoken(),
            _ if self.is_link() => format!("ramp of a {} road", class.spoken()),
            Self::Motorway | Self::Track | Self::LivingStreet => class.spoken(),
            _ => format!("{} road", class.spoken()),
        }
    }
    /// The class.
    pub const fn class(self) -> RoadClass {
        match self {
            Self::Motorway | Self::MotorwayLink => RoadClass::Motorway,
            Self::Trunk | Self::TrunkLink => RoadClass::Trunk,
            Self::Primary | Self::PrimaryLink => RoadClass::Primary,
            Self::Secondary | Self::SecondaryLink => RoadClass::Secondary,
            Self::Tertiary | Self::TertiaryLink => RoadClass::Tertiary,
            Self::Unclassified => RoadClass::Unclassified,
            Self::Residential => RoadClass::Residential,
            Self::LivingStreet => RoadClass::LivingStreet,
            Self::Service => RoadClass::Service,
            Self::Track => RoadClass::Track,
            Self::Ferry => RoadClass::Ferry,
            Self::ShuttleTrain => RoadClass::ShuttleTrain,
        }
    }
    /// Whether it is a ramp or another link.
    pub(crate) const fn is_link(self) -> bool {
        matches!(
            self,
            Self::MotorwayLink | Self::TrunkLink | Self::PrimaryLink | Self::SecondaryLink | Self::TertiaryLink
        )
    }
    /// Whether vehicles are carried on it, below decks and roofs.
    pub(crate) const fn is_boarded(self) -> bool {
        self.class().is_boarded()
    }
}

/// Direction of travel along a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Direction {
    /// In node order of the way.
    Forward,
    /// Against it.
    Backward,
}

impl Direction {
    /// Forward, then backward.
    pub const BOTH: [Self; 2] = [Self::Forward, Self::Backward];
    /// From the column `forward`.
    pub const fn of(forward: bool) -> Self {
        if forward { Self::Forward } else { Self::Backward }
    }
    /// As the column `forward` holds it.
    pub(crate) const fn is_forward(self) -> bool {
        matches!(self, Self::Forward)
    }
}

/// Something for each direction of a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PerDirection<T> {
    /// In node order.
    pub forward: T,
    /// Against it.
    pub backward: T,
}

impl<T> PerDirection<Option<T>> {
    /// A part of what there is in each direction.
    pub fn map<U>(&self, part: impl Fn(&T) -> U) -> PerDirection<Option<U>> {
        PerDirection { forward: self.forward.as_ref().map(&part), backward: self.backward.as_ref().map(&part) }
    }
}

impl<T> std::ops::Index<Direction> for PerDirection<T> {
    type Output = T;
    fn index(&self, direction: Direction) -> &T {
        match direction {
            Direction::Forward => &self.forward,
            Direction::Backward => &self.backward,
        }
    }
}

impl<T> std::ops::IndexMut<Direction> for PerDirection<T> {
    fn index_mut(&mut self, direction: Direction) -> &mut T {
        match direction {
            Direction::Forward => &mut self.forward,
            Direction::Backward => &mut self.backward,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_highway_is_its_class_and_whether_it_is_a_link() {
        for class in RoadClass::ALL {
            let plain = Highway::of(*class, false);
            assert_eq!((plain.name(), plain.class(), plain.is_link()), (class.name(), *class, false));
            let link = Highway::of(*class, true);
            let has_links = *class <= RoadClass::Tertiary;
            let name = if has_links { format!("{class}_link") } else { class.name().to_owned() };
            assert_eq!((link.name(), link.class(), link.is_link()), (name.as_str(), *class, has_links));
        }
        assert!(Highway::Ferry.is_boarded() && Highway::ShuttleTrain.is_boarded() && !Highway::Track.is_boarded());
    }
}
