//! Groups of road classes: how wide each is drawn and from which scale on, so that a trunk road is not lost among tracks.
use crate::base::words::Highway;

/// Roads that are drawn alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RoadGroup {
    /// Motorways, trunk and primary roads.
    Main,
    /// Secondary and tertiary roads, and ramps.
    Through,
    /// Streets and lanes.
    Local,
    /// Service roads and tracks.
    Lesser,
    /// Ferries and shuttle trains.
    Boarded,
}

/// How a group is drawn.
pub struct GroupLook {
    /// Times the width on a main road.
    pub width: f64,
    /// Scales 1 : this and larger.
    pub from_scale: u32,
}

impl RoadGroup {
    /// Those with a rating of their own, most important first.
    pub const ROADS: [Self; 4] = [Self::Main, Self::Through, Self::Local, Self::Lesser];

    /// Group of a class.
    pub fn of(class: Highway) -> Self {
        match class {
            Highway::Motorway | Highway::Trunk | Highway::Primary => Self::Main,
            Highway::MotorwayLink
            | Highway::TrunkLink
            | Highway::PrimaryLink
            | Highway::Secondary
            | Highway::SecondaryLink
            | Highway::Tertiary
            | Highway::TertiaryLink => Self::Through,
            Highway::Unclassified | Highway::Residential | Highway::LivingStreet => Self::Local,
            Highway::Service | Highway::Track => Self::Lesser,
            Highway::Ferry | Highway::ShuttleTrain => Self::Boarded,
        }
    }
    /// Names of its classes.
    pub fn classes(self) -> impl Iterator<Item = &'static str> {
        Highway::ALL.iter().filter(move |class| Self::of(**class) == self).map(|class| class.name())
    }
    /// How it is drawn.
    pub const fn look(self) -> GroupLook {
        let (width, from_scale) = match self {
            Self::Main | Self::Boarded => (1.0, 5_000_000),
            Self::Through => (0.75, 600_000),
            Self::Local => (0.5, 120_000),
            Self::Lesser => (0.3, 30_000),
        };
        GroupLook { width, from_scale }
    }
}

/// Times the width at scales of valleys: for scales of 1 : the first and larger, from the largest scale on. Smaller ones take the
/// last.
pub const WIDTH_BY_SCALE: [(u32, f64); 4] = [(12_000, 1.6), (35_000, 1.25), (150_000, 1.0), (u32::MAX, 0.8)];
