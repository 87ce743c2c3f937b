//! One feature on its way to the bundles of districts.
use serde::{Deserialize, Serialize};

use crate::base::error::Result;
use crate::base::spill::packed;
use crate::map::extract::features::Feature;

/// The order of objects with equal ids.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub(super) enum ObjectRank {
    Node,
    Way,
    Relation,
}

/// One feature on its way to a bundle. Ordered as an extract orders features: by kind, id, and place in its object.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub(super) struct Sheet<'b> {
    pub kind: BundleKind,
    pub id: i64,
    pub rank: ObjectRank,
    pub ordinal: u32,
    #[serde(borrow, with = "bytes")]
    pub body: &'b [u8],
}

/// Kind of the features of a chunk, in the order of an extract's lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub(super) enum BundleKind {
    Road,
    Canopy,
    Building,
    Barrier,
    Deck,
    Stop,
    Barred,
    GroundCover,
    TollBooth,
}

impl BundleKind {
    /// Every kind, by its number.
    pub const ALL: [Self; 9] = [
        Self::Road,
        Self::Canopy,
        Self::Building,
        Self::Barrier,
        Self::Deck,
        Self::Stop,
        Self::Barred,
        Self::GroundCover,
        Self::TollBooth,
    ];
}

/// Bytes as they are, borrowed when read.
pub(super) mod bytes {
    use serde::{Deserialize, Deserializer, Serializer};

    /// Writes bytes.
    pub fn serialize<S: Serializer>(bytes: &[u8], to: S) -> Result<S::Ok, S::Error> {
        to.serialize_bytes(bytes)
    }
    /// Reads bytes.
    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<&'de [u8], D::Error> {
        <&[u8]>::deserialize(from)
    }
}

/// A feature as a bundle holds it; nothing of what bundles do not hold.
///
/// # Errors
/// It is too long for this machine.
pub(super) fn packed_feature(feature: &Feature) -> Result<Option<(BundleKind, Vec<u8>)>> {
    Ok(Some(match feature {
        Feature::Road(road) => (BundleKind::Road, packed(&**road)?),
        Feature::Canopy(canopy) => (BundleKind::Canopy, packed(canopy)?),
        Feature::Building(building) => (BundleKind::Building, packed(building)?),
        Feature::Barrier(barrier) => (BundleKind::Barrier, packed(barrier)?),
        Feature::Deck(deck) => (BundleKind::Deck, packed(deck)?),
        Feature::Stop(stop) => (BundleKind::Stop, packed(stop)?),
        Feature::Barred(barred) => (BundleKind::Barred, packed(barred)?),
        Feature::GroundCover(cover) => (BundleKind::GroundCover, packed(cover)?),
        Feature::TollBooth(booth) => (BundleKind::TollBooth, packed(booth)?),
        Feature::Backdrop(_) => return Ok(None),
    }))
}
