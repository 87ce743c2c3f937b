//! Which part of a pixel stands under crowns.
//!
//! A part is fixed by what was planted or cut there, never by what stands beside it: so another wood can only add to what a
//! ray meets. Along each axis it is what lies within a distance of the lower or of the upper side; the part is where both
//! axes say so. Steps of 1/255 of the side of a pixel.
use crate::physics::scene::cover::PixelCover;

/// All of a side.
const WHOLE: u8 = 255;

/// What is taken along one axis, from the lower and from the upper side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct AxisPart {
    low: u8,
    high: u8,
}

impl AxisPart {
    const ALL: Self = Self { low: WHOLE, high: WHOLE };

    /// What reaches all over is all of it, however it was put together.
    fn settled(self) -> Self {
        if self.low.saturating_add(self.high) == WHOLE { Self::ALL } else { self }
    }
    fn share(self) -> f32 {
        f32::from(self.low.saturating_add(self.high)) * (1.0 / f32::from(WHOLE))
    }
    /// A share on one side.
    fn beside(upper: bool, share: f64) -> Self {
        let steps = steps(share);
        if upper { Self { low: 0, high: steps } } else { Self { low: steps, high: 0 } }.settled()
    }
    fn union(self, other: Self) -> Self {
        Self { low: self.low.max(other.low), high: self.high.max(other.high) }.settled()
    }
    /// Without what lies between two distances from the lower side. What is left in the middle is moved to the nearer end of what
    /// stays: a strip between two cuts has no place of its own here, and must not vanish.
    fn without(self, from: u8, to: u8) -> Self {
        if from >= to {
            return self;
        }
        let (below, above) = (from, WHOLE - to);
        let beyond_low = self.low.saturating_sub(to);
        let beyond_high = self.high.saturating_sub(WHOLE - from);
        Self { low: below.min(self.low.max(beyond_high)), high: above.min(self.high.max(beyond_low)) }.settled()
    }
}

/// The part of a pixel under crowns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct PixelPart {
    axes: [AxisPart; 2],
}

impl PixelPart {
    /// All of a pixel.
    pub const ALL: Self = Self { axes: [AxisPart::ALL; 2] };

    /// What a polygon or strip covers: a rectangle in the corner that it lies towards, as wide and as high as that says.
    pub fn of(cover: &PixelCover) -> Self {
        let share = cover.share.clamp(0.0, 1.0);
        let [x, y] = cover.towards.map(|t| t * t);
        let across = if x + y > 0.0 { x / (x + y) } else { 0.5 };
        let side = |axis: usize, power: f64| AxisPart::beside(cover.towards[axis] > 0.0, share.powf(power));
        Self { axes: [side(0, across), side(1, 1.0 - across)] }.or_none()
    }
    /// What is left when a strip is cut out, along the axis on which it lies.
    pub fn without(mut self, cover: &PixelCover) -> Self {
        let axis = usize::from(cover.towards[1].abs() > cover.towards[0].abs());
        let (from, to) = cover.span();
        let (from, to) = if cover.towards[axis] > 0.0 { (from, to) } else { (1.0 - to, 1.0 - from) };
        self.axes[axis] = self.axes[axis].without(steps(from), steps(to));
        self.or_none()
    }
    /// Both parts, and what either axis adds to the other.
    pub fn union(self, other: Self) -> Self {
        Self { axes: [0, 1].map(|axis| self.axes[axis].union(other.axes[axis])) }
    }
    /// Nothing along one axis is nothing at all.
    fn or_none(self) -> Self {
        if self.axes.contains(&AxisPart::default()) { Self::default() } else { self }
    }
    pub fn is_none(self) -> bool {
        self == Self::default()
    }
    /// Share of the pixel, 0..=1.
    pub fn share(self) -> f32 {
        self.axes[0].share() * self.axes[1].share()
    }
    /// The stretches of an axis that are taken, from the lower side of the pixel on, in pixels.
    pub fn stretches(self, axis: usize) -> [(f64, f64); 2] {
        let AxisPart { low, high } = self.axes[axis];
        let share = |steps: u8| f64::from(steps) / f64::from(WHOLE);
        if low == WHOLE { [(0.0, 1.0), (1.0, 1.0)] } else { [(0.0, share(low)), (1.0 - share(high), 1.0)] }
    }
}

fn steps(share: f64) -> u8 {
    (share * f64::from(WHOLE)).round().clamp(0.0, f64::from(WHOLE)) as u8
}
