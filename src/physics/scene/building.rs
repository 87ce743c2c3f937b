//! Heights of buildings and roofs, by their tags, else by those of their neighbours and their kind.
use crate::base::words::{Case, PerCase};
use crate::map::extract::model::{Building, BuildingKind, Extract};
use crate::map::neighbourhood::{LocalHeights, Neighbourhood};
use crate::profile::Profile;
use crate::profile::keys::VALUES;

/// Height of a storey, metres; common practice, no source.
pub(crate) const STOREY_M: f64 = 3.0;
/// Underside of a roof where silent, metres (assumed: a lorry's 4 m and room for lamps).
pub(crate) const ROOF_UNDERSIDE_M: f64 = 4.8;
/// Roof with its fascia, metres (assumed).
pub(crate) const ROOF_THICKNESS_M: f64 = 1.0;

/// A height that no tag gives, metres above the ground: where it probably is, and what it may be as well.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AssumedHeight {
    /// The favourable end.
    pub low_m: f32,
    /// Most probably.
    pub likely_m: f32,
    /// The unfavourable end.
    pub high_m: f32,
    /// Tagged buildings of the neighbourhood that say so.
    pub from_tagged: u32,
}

/// Height of a building, and whether its tags gave it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BuildingHeight {
    /// Above the ground, metres.
    pub height_m: f64,
    /// Where it may well be instead, at least and at most, metres; the same where its tags gave it.
    pub low_m: f64,
    /// See `low_m`.
    pub high_m: f64,
    /// By tag.
    pub tagged: bool,
}

/// Heights of all buildings of an extract.
#[derive(Debug, Clone, PartialEq)]
pub struct BuildingHeights {
    /// By building; of those with tags it is not looked at.
    assumed: Vec<AssumedHeight>,
    storeys: PerCase<Storeys>,
}

/// What a number of storeys says of a height, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Storeys {
    storey_m: f64,
    roof_m: f64,
}

impl Default for BuildingHeights {
    fn default() -> Self {
        Self { assumed: Vec::new(), storeys: PerCase::of(|_| Storeys { storey_m: STOREY_M, roof_m: 0.0 }) }
    }
}

impl BuildingHeights {
    /// Heights from tags, else from tagged ones nearby and the kind's default.
    pub fn of(extract: &Extract, neighbourhood: &Neighbourhood, profile: &Profile) -> Self {
        let kinds = BuildingKind::ALL.map(|kind| (kind, default_heights(kind, profile)));
        let assumed = |b: &Building| {
            let of_kind =
                kinds.iter().find(|(kind, _)| *kind == b.kind).map(|(_, heights)| *heights).unwrap_or_default();
            match b.middle().filter(|_| b.tagged_height_m().is_none()) {
                Some(at) => shrunk(of_kind, &neighbourhood.heights().around(at, b.kind), profile.building.tagged_weigh),
                None => of_kind,
            }
        };
        let storey_m = ends("building.storey_m", profile.building.storey_m);
        let roof_m = ends("building.roof_m", profile.building.roof_m);
        let storeys = PerCase::of(|case| Storeys { storey_m: storey_m[case], roof_m: roof_m[case] });
        Self { assumed: extract.buildings.iter().map(assumed).collect(), storeys }
    }

    /// The height of a building by its index in the extract.
    pub fn height(&self, index: u32, building: &Building, case: Case) -> BuildingHeight {
        if let Some(heights_m) = self.by_storeys(building) {
            let PerCase { best: low_m, worst: high_m, .. } = heights_m;
            return BuildingHeight { height_m: heights_m[case], low_m, high_m, tagged: false };
        }
        let assumed = self.assumed.get(index as usize).copied().unwrap_or_default();
        let assumed_m = match case {
            Case::Best => assumed.low_m,
            Case::Likely => assumed.likely_m,
            Case::Worst => assumed.high_m,
        };
        let height = height_or(building, f64::from(assumed_m));
        let low_m = height_or(building, f64::from(assumed.low_m)).height_m.min(height.height_m);
        let high_m = height_or(building, f64::from(assumed.high_m)).height_m.max(height.height_m);
        BuildingHeight { low_m, high_m, ..height }
    }

    /// Heights of a building whose storeys are counted and whose height is not tagged; `None` for all others.
    fn by_storeys(&self, building: &Building) -> Option<PerCase<f64>> {
        let height_m = |storeys: Storeys| building.height_by_levels_m(storeys.storey_m, storeys.roof_m);
        // What ends below its own underside is left to [`height_or`].
        building.tagged_height_m().and(height_m(self.storeys.likely))?;
        Some(self.storeys.map(|storeys| height_m(storeys).unwrap_or_default()))
    }

    /// Buildings whose height is based on tagged ones nearby, and those on the default of their kind alone.
    pub fn assumed_by(&self, extract: &Extract, counts: &dyn Fn(&Building) -> bool) -> (u64, u64) {
        let untagged = extract.buildings.iter().zip(&self.assumed).filter(|(b, _)| b.tagged_height_m().is_none());
        untagged
            .filter(|(b, _)| counts(b))
            .fold((0, 0), |(near, kind), (_, a)| if a.from_tagged > 0 { (near + 1, kind) } else { (near, kind + 1) })
    }
}

/// Height of a building above the ground by its tags, else an assumed one. What would end below its own underside is
/// assumed to end one storey above it.
pub fn height_or(building: &Building, assumed_m: f64) -> BuildingHeight {
    let underside_m = building.min_height_m.map(f64::from).filter(|h| h.is_finite() && *h > 0.0).unwrap_or(0.0);
    match building.tagged_height_m() {
        Some(height_m) => BuildingHeight { height_m, low_m: height_m, high_m: height_m, tagged: true },
        None => {
            let on_underside = building.has_height() || assumed_m <= underside_m;
            let height_m = if on_underside { underside_m + STOREY_M } else { assumed_m };
            BuildingHeight { height_m, low_m: height_m, high_m: height_m, tagged: false }
        }
    }
}

/// The default of a kind and its range.
fn default_heights(kind: BuildingKind, profile: &Profile) -> AssumedHeight {
    let b = &profile.building;
    let (path, likely_m) = match kind {
        BuildingKind::House => ("building.house_m", b.house_m),
        BuildingKind::Apartments => ("building.apartments_m", b.apartments_m),
        BuildingKind::Small => ("building.small_m", b.small_m),
        BuildingKind::Hall => ("building.hall_m", b.hall_m),
        BuildingKind::Public => ("building.public_m", b.public_m),
        BuildingKind::Church => ("building.church_m", b.church_m),
        BuildingKind::Other => ("building.other_m", b.other_m),
    };
    let [low_m, likely_m, high_m] = ends(path, likely_m).each_ref().map(|m| *m as f32);
    AssumedHeight { low_m, likely_m, high_m, from_tagged: 0 }
}

/// A height that a key gives, and the ends of its range, metres.
fn ends(path: &str, stated_m: f64) -> PerCase<f64> {
    let (low_m, high_m) = VALUES.find(path).and_then(|key| key.likely).unwrap_or((stated_m, stated_m));
    PerCase { best: low_m.min(stated_m), likely: stated_m, worst: high_m.max(stated_m) }
}

/// Heights of tagged buildings nearby, drawn towards those of the kind: these count as much as `weigh` buildings.
fn shrunk(of_kind: AssumedHeight, near: &LocalHeights, weigh: f64) -> AssumedHeight {
    if near.count == 0 {
        return of_kind;
    }
    let own = f64::from(near.count) / (f64::from(near.count) + weigh);
    let between = |near_m: f64, kind_m: f32| (own * near_m + (1.0 - own) * f64::from(kind_m)) as f32;
    // Neighbours say where a height probably is. A single building may stand anywhere in the range of its kind all the same.
    AssumedHeight {
        low_m: between(near.low_m, of_kind.low_m).min(of_kind.low_m),
        likely_m: between(near.median_m, of_kind.likely_m),
        high_m: between(near.high_m, of_kind.high_m).max(of_kind.high_m),
        from_tagged: near.count,
    }
}
