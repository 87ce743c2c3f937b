//! One pixel of canopy: crown top and base above the ground, how its leaves behave, where its height comes from.
//!
//! Pure values; packed in eight bytes, and in four to be looked through, because a cell holds millions of them.
use super::part::PixelPart;
use crate::map::extract::model::{LeafCycle, LeafType};
use crate::physics::scene::cover::PixelCover;

/// Step of stored heights, metres.
pub const HEIGHT_STEP_M: f64 = 0.25;
/// The highest that is stored, metres.
pub(crate) const HIGHEST_CROWN_M: f64 = 255.0 * HEIGHT_STEP_M;

/// Trees this near to the edge of a wood carry leaves down to the ground, metres; assumed.
pub(crate) const EDGE_TREES_M: f64 = 2.0;

/// How leaves behave over the year, in order of how much they block with the season unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Foliage {
    /// Never in leaf.
    Leafless = 0,
    /// Bare in the cold or dry season.
    Deciduous = 1,
    /// Half deciduous, half evergreen.
    Mixed = 2,
    /// Always in leaf.
    Evergreen = 3,
}

impl Foliage {
    /// All kinds, by their number.
    pub const ALL: [Self; 4] = [Self::Leafless, Self::Deciduous, Self::Mixed, Self::Evergreen];

    /// From tags. A silent cycle follows the leaf type: broad leaves fall, needles stay, the rest is
    /// half of each. Larches are needle-leaved and tagged deciduous.
    pub fn of(leaf_type: LeafType, cycle: LeafCycle) -> Self {
        match (leaf_type, cycle) {
            (LeafType::Leafless, _) => Self::Leafless,
            (_, LeafCycle::Evergreen) => Self::Evergreen,
            (_, LeafCycle::Deciduous) => Self::Deciduous,
            (_, LeafCycle::Mixed) => Self::Mixed,
            (LeafType::Broadleaved, LeafCycle::Unknown) => Self::Deciduous,
            (LeafType::Needleleaved, LeafCycle::Unknown) => Self::Evergreen,
            (LeafType::Mixed | LeafType::Unknown, LeafCycle::Unknown) => Self::Mixed,
        }
    }
}

/// Where a height comes from, weakest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HeightFrom {
    /// A default by leaf type.
    Default = 0,
    /// A tag of the map.
    Tag = 1,
    /// A canopy-height raster, or a surface model over bare earth.
    Raster = 2,
}

impl HeightFrom {
    const ALL: [Self; 3] = [Self::Default, Self::Tag, Self::Raster];
}

/// Where it is packed how far leaves come down at the edge of a wood, and all the way to the ground.
const EDGE_AT: u32 = 20;
const EDGE: u32 = 255;

/// One pixel of canopy: top, base (both in [`HEIGHT_STEP_M`]), class and edge packed, and the part of the pixel under the crown.
/// Zero stands for no canopy.
///
/// Class: bits 0 and 1 the [`Foliage`], bits 2 and 3 the [`HeightFrom`]. Edge: leaves come down by this share of the height of the
/// base. A ray through a pixel meets leaves where it is in that part, so that where a wood or a road ends counts to the
/// centimetre and not to the pixel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Crown {
    packed: u32,
    part: PixelPart,
}

impl Crown {
    /// A crown from base to top, metres above the ground; the top is at least one step.
    pub fn new(base_m: f64, top_m: f64, foliage: Foliage, from: HeightFrom) -> Self {
        let top = (top_m / HEIGHT_STEP_M).round().clamp(1.0, 255.0) as u32;
        let base = (base_m / HEIGHT_STEP_M).round().clamp(0.0, f64::from(top - 1)) as u32;
        let packed = top | base << 8 | (foliage as u32) << 16 | (from as u32) << 18;
        Self { packed, part: PixelPart::ALL }
    }
    /// The same crown over a part of the pixel; none at all where that is next to nothing.
    pub(super) fn over(self, cover: &PixelCover) -> Self {
        self.on(PixelPart::of(cover))
    }
    fn on(self, part: PixelPart) -> Self {
        if part.is_none() { Self::default() } else { Self { part, ..self } }
    }
    /// The same crown over all of the pixel.
    pub(crate) fn all_over(self) -> Self {
        if self.is_none() { self } else { self.on(PixelPart::ALL) }
    }
    /// Whether it stands over all of the pixel.
    pub(crate) fn is_whole(self) -> bool {
        self.part == PixelPart::ALL
    }
    /// Part of the pixel under the crown.
    pub(crate) fn part(self) -> PixelPart {
        self.part
    }
    /// Share of the pixel under the crown, 0..=1.
    pub fn share(self) -> f32 {
        self.part.share()
    }
    /// Whether there is no canopy.
    pub fn is_none(self) -> bool {
        self.packed == 0
    }
    /// Top above the ground, metres.
    pub fn top_m(self) -> f64 {
        f64::from(self.packed & 0xff) * HEIGHT_STEP_M
    }
    /// Lowest leaves above the ground, metres.
    pub fn base_m(self) -> f64 {
        let down = 1.0 - f64::from(self.packed >> EDGE_AT & EDGE) / f64::from(EDGE);
        f64::from(self.packed >> 8 & 0xff) * HEIGHT_STEP_M * down
    }
    /// How its leaves behave.
    pub fn foliage(self) -> Foliage {
        Foliage::ALL[(self.packed >> 16 & 3) as usize]
    }
    /// Where its height comes from.
    pub fn height_from(self) -> HeightFrom {
        HeightFrom::ALL[(self.packed >> 18 & 3).min(2) as usize]
    }
    fn packed(self, packed: u32) -> Self {
        Self { packed, ..self }
    }
    /// The same crown with other leaves.
    pub(super) fn with_foliage(self, foliage: Foliage) -> Self {
        self.packed(self.packed & !0x3_0000 | (foliage as u32) << 16)
    }
    /// Top in steps.
    pub(super) fn top_steps(self) -> u8 {
        (self.packed & 0xff) as u8
    }
    /// Both crowns on the same pixel: never blocks less than either, whatever their order.
    pub(super) fn union(self, other: Self) -> Self {
        if self.is_none() || other.is_none() {
            return if self.is_none() { other } else { self };
        }
        let (a, b) = (self.packed, other.packed);
        let top = (a & 0xff).max(b & 0xff);
        let base = (a & 0xff00).min(b & 0xff00);
        let foliage = (a & 0x3_0000).max(b & 0x3_0000);
        let from = match (a & 0xff).cmp(&(b & 0xff)) {
            std::cmp::Ordering::Greater => a & 0xc_0000,
            std::cmp::Ordering::Less => b & 0xc_0000,
            std::cmp::Ordering::Equal => (a & 0xc_0000).max(b & 0xc_0000),
        };
        let edge = (a >> EDGE_AT).max(b >> EDGE_AT) << EDGE_AT;
        Self { packed: top | base | foliage | from | edge, part: self.part.union(other.part) }
    }
    /// Leaves down to the ground.
    pub(super) fn to_ground(self) -> Self {
        self.packed(self.packed & !0xff00)
    }
    /// Leaves down to the ground on a share of the pixel: lower by that share than the crowns inside a wood. The most that any
    /// edge says counts, and another wood takes nothing back.
    pub(super) fn towards_ground(self, share: f64) -> Self {
        let edge = (share * f64::from(EDGE)).round().clamp(0.0, f64::from(EDGE)) as u32;
        self.packed(self.packed & ((1 << EDGE_AT) - 1) | (self.packed >> EDGE_AT).max(edge) << EDGE_AT)
    }
    /// Gone from a part of the pixel.
    pub(super) fn cut(self, cover: &PixelCover) -> Self {
        self.on(self.part.without(cover))
    }
    /// Cut back to a height above the ground, metres, on a share of the pixel; what is no higher goes.
    pub(super) fn cut_back(self, height_m: f64, cover: &PixelCover) -> Self {
        let steps = |m: f64| (m / HEIGHT_STEP_M).round().clamp(0.0, 255.0) as u32;
        if self.packed & 0xff <= steps(height_m) {
            return self.cut(cover);
        }
        let (base, cut) = (steps(self.base_m()), steps(height_m * cover.share));
        // As it was where that is higher; else the edge of the wood has been cut back as well.
        if base >= cut { self } else { self.packed(self.packed & 0xf_00ff | cut << 8) }
    }
    /// With the base where the edge of a wood brings it, to the nearest step: what is looked through.
    pub(super) fn settled(self) -> Self {
        let base = (self.base_m() / HEIGHT_STEP_M).round() as u32;
        self.packed(self.packed & 0xf_00ff | base << 8)
    }
}
