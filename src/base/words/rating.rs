//! Words for what a road is like and what that is based on.
use std::ops::{Index, IndexMut};

use super::declare::words;

words! {
    /// What a drive through is like, best first.
    #[derive(Default)]
    pub enum Rating {
        /// Nothing a call would notice.
        Steady = "steady",
        /// Outages of a blink.
        Blips = "blips",
        /// Outages of some seconds.
        Gaps = "gaps",
        /// Outages that may end a live call.
        Drops = "drops",
        /// No link for long. Where nothing was said, this is.
        #[default]
        Dark = "dark",
    }

    /// Which figure decides a rating.
    #[derive(Default)]
    pub enum RatedBy {
        /// The 95th percentile outage.
        #[default]
        Outage = "outage",
        /// The share of the driving time without a link, which makes the word of the outage worse.
        Share = "share",
        /// Neither: both are within the edges of steady.
        None = "none",
    }

    /// With what is assumed about the roadside at which end of its range.
    #[derive(Default)]
    pub enum Case {
        /// At its favourable end.
        Best = "best",
        /// At its stated value.
        #[default]
        Likely = "likely",
        /// At its unfavourable end.
        Worst = "worst",
    }

    /// What blocks the sky most, in the order in which one of two equals is named.
    #[derive(Default)]
    pub enum Cause {
        /// Tunnels, galleries, roofs.
        Cover = "cover",
        /// Bridges overhead.
        Deck = "deck",
        /// Buildings, walls, cliffs.
        Building = "building",
        /// The ground itself.
        Terrain = "terrain",
        /// Trees.
        Canopy = "canopy",
        /// Vehicles stand below deck on ferries and in wagons of shuttle trains.
        Boarded = "boarded",
        /// Too few satellites: open road here is no better.
        Satellites = "satellites",
        /// Nothing that counts.
        #[default]
        None = "none",
    }

    /// What a rating is based on as a whole.
    #[derive(Default)]
    pub enum Evidence {
        /// What map and rasters say: best, likely and worst agree.
        Data = "data",
        /// What is assumed about the roadside blocks a part of the sky that counts, or may, or moves the figures.
        Default = "default",
        /// A cause nobody could know about here; unknown is not clear.
        #[default]
        Unknown = "unknown",
    }

    /// What the terrain answer is based on.
    #[derive(Default)]
    pub enum TerrainEvidence {
        /// Elevation at every station.
        Raster = "raster",
        /// The same, in pixels that may hide a rock face beside the road.
        Coarse = "coarse",
        /// At some, or with voids in sight that ground could rise in.
        Part = "part",
        /// No sky was looked at here: a ferry or shuttle train.
        Map = "map",
        /// At none.
        #[default]
        None = "none",
    }

    /// What the answer on trees, or on buildings and walls, is based on: the weakest height that blocks.
    #[derive(Default)]
    pub enum BlockerEvidence {
        /// A raster shows it.
        Raster = "raster",
        /// A height in the map.
        Tag = "tag",
        /// An assumed height.
        Default = "default",
        /// The map shows nothing that blocks.
        Map = "map",
        /// Nobody has mapped anything of the kind around here, and no raster shows it.
        #[default]
        Unknown = "unknown",
    }

    /// Why a vehicle or its panel may touch something.
    #[derive(Default)]
    pub enum Overhang {
        /// Crowns close over the road.
        Crowns = "crowns",
        /// A posted clearance is below the vehicle's height.
        Clearance = "clearance",
        /// Crowns and clearance.
        Both = "both",
        /// As far as the map knows it does not.
        #[default]
        None = "none",
    }
}

impl Rating {
    /// 0 for steady to 4 for dark.
    pub const fn code(self) -> u8 {
        self as u8
    }
    /// The rating of a code; `None` above 4.
    pub(crate) fn from_code(code: u8) -> Option<Self> {
        Self::ALL.get(usize::from(code)).copied()
    }
    /// Writes the code, as tables and JSON hold it.
    ///
    /// # Errors
    /// Those of the serializer.
    pub(crate) fn as_code<S: serde::Serializer>(rating: &Self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_u8(rating.code())
    }
    /// Writes the code, or nothing.
    ///
    /// # Errors
    /// Those of the serializer.
    pub(crate) fn as_code_if_known<S: serde::Serializer>(rating: &Option<Self>, to: S) -> Result<S::Ok, S::Error> {
        match rating {
            Some(rating) => to.serialize_some(&rating.code()),
            None => to.serialize_none(),
        }
    }
}

/// One value for each rating; written as a list, steady first.
#[derive(Debug, Clone, Copy, PartialEq, Default, serde::Serialize)]
pub struct PerRating<T>([T; Rating::ALL.len()]);

impl<T> PerRating<T> {
    /// Ratings in their order, each with its value.
    pub fn iter(&self) -> impl Iterator<Item = (Rating, &T)> {
        Rating::ALL.iter().copied().zip(&self.0)
    }
}

impl<T> Index<Rating> for PerRating<T> {
    type Output = T;
    fn index(&self, rating: Rating) -> &T {
        &self.0[usize::from(rating.code())]
    }
}

impl<T> IndexMut<Rating> for PerRating<T> {
    fn index_mut(&mut self, rating: Rating) -> &mut T {
        &mut self.0[usize::from(rating.code())]
    }
}

impl Cause {
    /// What people call it.
    pub(crate) const fn phrase(self) -> &'static str {
        match self {
            Self::Cover => "tunnel or roof",
            Self::Deck => "bridge overhead",
            Self::Building => "buildings",
            Self::Terrain => "terrain",
            Self::Canopy => "trees",
            Self::Boarded => "on a ferry or train",
            Self::Satellites => "few satellites",
            Self::None => "nothing",
        }
    }
}

impl TerrainEvidence {
    /// Whether nobody could know everywhere.
    pub(crate) const fn is_unknown(self) -> bool {
        matches!(self, Self::Part | Self::None)
    }
}

impl Overhang {
    /// From its two reasons.
    pub const fn of(crowns: bool, clearance: bool) -> Self {
        match (crowns, clearance) {
            (true, true) => Self::Both,
            (true, false) => Self::Crowns,
            (false, true) => Self::Clearance,
            (false, false) => Self::None,
        }
    }
    /// Crowns are among the reasons.
    pub(crate) const fn has_crowns(self) -> bool {
        matches!(self, Self::Crowns | Self::Both)
    }
}

/// Something under what is assumed about the roadside at the favourable end, as stated, and at the unfavourable end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PerCase<T> {
    /// At the favourable end.
    pub best: T,
    /// As stated.
    pub likely: T,
    /// At the unfavourable end.
    pub worst: T,
}

impl<T> PerCase<T> {
    /// Of each case.
    pub fn of(mut each: impl FnMut(Case) -> T) -> Self {
        Self { best: each(Case::Best), likely: each(Case::Likely), worst: each(Case::Worst) }
    }
    /// Made of what there is of each case.
    pub fn map<U>(self, mut made: impl FnMut(T) -> U) -> PerCase<U> {
        PerCase { best: made(self.best), likely: made(self.likely), worst: made(self.worst) }
    }
    /// From best to worst.
    pub fn each_ref(&self) -> [&T; 3] {
        [&self.best, &self.likely, &self.worst]
    }
    /// From best to worst.
    pub fn each_mut(&mut self) -> [&mut T; 3] {
        [&mut self.best, &mut self.likely, &mut self.worst]
    }
}

impl<T> Index<Case> for PerCase<T> {
    type Output = T;
    fn index(&self, case: Case) -> &T {
        match case {
            Case::Best => &self.best,
            Case::Likely => &self.likely,
            Case::Worst => &self.worst,
        }
    }
}

impl<T> IndexMut<Case> for PerCase<T> {
    fn index_mut(&mut self, case: Case) -> &mut T {
        match case {
            Case::Best => &mut self.best,
            Case::Likely => &mut self.likely,
            Case::Worst => &mut self.worst,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_of_ratings_count_from_the_best() {
        for (i, r) in Rating::ALL.iter().enumerate() {
            assert_eq!(usize::from(r.code()), i);
            assert_eq!(Rating::from_code(r.code()), Some(*r));
        }
        assert_eq!(Rating::from_code(5), None);
    }
}
