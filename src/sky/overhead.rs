//! Decks, tunnels, galleries and roofs: blocked intervals along the road, exactly, not sampled.

/// What stands over the road, in the order causes are named.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
#[serde(rename_all = "snake_case")]
pub enum OverheadKind {
    /// A closed tunnel.
    Tunnel,
    /// A passage through a building.
    Passage,
    /// An avalanche gallery.
    Gallery,
    /// A roof: `covered=yes`, a fuel-station roof, a toll plaza.
    Roof,
    /// A deck carrying a road.
    RoadDeck,
    /// A footbridge.
    FootDeck,
    /// A railway bridge.
    RailDeck,
    /// An aqueduct, pipeline, conveyor or an outline of unknown use.
    OtherDeck,
    /// A sign gantry.
    Gantry,
}

impl OverheadKind {
    /// As written into the layer.
    pub fn name(self) -> &'static str {
        match self {
            Self::Tunnel => "tunnel",
            Self::Passage => "passage",
            Self::Gallery => "gallery",
            Self::Roof => "roof",
            Self::RoadDeck => "road_deck",
            Self::FootDeck => "foot_deck",
            Self::RailDeck => "rail_deck",
            Self::OtherDeck => "other_deck",
            Self::Gantry => "gantry",
        }
    }
    /// Tunnels, passages, galleries and roofs, as opposed to decks that cross.
    pub fn is_cover(self) -> bool {
        matches!(
            self,
            Self::Tunnel | Self::Passage | Self::Gallery | Self::Roof
        )
    }
}

/// A prism over the lane: the road is taken as straight near it, `along` runs along the lane in
/// the direction driven, `across` to the right of it.
///
/// The near edge crosses the lane at `start_m`, the far edge at `end_m`; both edges are turned by
/// `skew_deg` from square. The prism reaches from `left_m` left of the lane to `right_m` right of
/// it and from `clearance_m` to `clearance_m + thickness_m` above the antenna.
#[derive(Debug, Clone, PartialEq)]
pub struct Overhead {
    /// What it is.
    pub kind: OverheadKind,
    /// Id of the way or relation that crosses (or of the road itself for tunnels).
    pub osm_id: i64,
    /// Where its near edge crosses the lane, metres from the start of the segment in the direction driven; may be negative.
    pub start_m: f64,
    /// Where its far edge crosses the lane, metres.
    pub end_m: f64,
    /// Heading of the lane at the near edge, degrees from true north.
    pub heading_start_deg: f64,
    /// Heading of the lane at the far edge (differs in curved tunnels).
    pub heading_end_deg: f64,
    /// Turn of the edges from square to the lane, degrees, -80..=80: the normal of the edges points to
    /// `heading + skew`.
    pub skew_deg: f64,
    /// Distance from the lane to the left side, metres; infinite for endless decks.
    pub left_m: f64,
    /// Distance from the lane to the right side, metres.
    pub right_m: f64,
    /// Whether the left side is closed down to the road (tunnel wall).
    pub left_closed: bool,
    /// Whether the right side is closed.
    pub right_closed: bool,
    /// Underside above the antenna, metres, above zero.
    pub clearance_m: f64,
    /// Thickness with parapets, metres.
    pub thickness_m: f64,
    /// Underside above the road, metres, and where it came from, for the layer.
    pub underside_above_road_m: f64,
    /// `tag`, `elevation` or `default`.
    pub underside_from: &'static str,
    /// Width across the deck, metres, for the layer.
    pub deck_width_m: f64,
}
