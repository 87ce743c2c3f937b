//! Words of the backdrop of a map: places with a name, areas and lines of water.
use super::declare::words;

words! {
    /// Kind of place with a name.
    #[derive(Default)]
    pub enum PlaceKind {
        /// `place=city`
        City = "city",
        /// `place=town`
        Town = "town",
        /// `place=village`
        #[default]
        Village = "village",
        /// `place=hamlet`
        Hamlet = "hamlet",
        /// `place=suburb`
        Suburb = "suburb",
        /// `place=island`
        Island = "island",
        /// `mountain_pass=yes`
        Pass = "pass",
    }

    /// Kind of what a name is of.
    #[derive(Default)]
    pub enum NameKind {
        /// As of [`PlaceKind`].
        City = "city",
        /// The same; so are those that follow.
        Town = "town",
        /// See `Town`.
        #[default]
        Village = "village",
        /// See `Town`.
        Hamlet = "hamlet",
        /// See `Town`.
        Suburb = "suburb",
        /// See `Town`.
        Island = "island",
        /// See `Town`.
        Pass = "pass",
        /// A place to stop.
        Stop = "stop",
        /// A road, by its name or its reference.
        Road = "road",
    }

    /// Kind of an area of water.
    #[derive(Default)]
    pub enum GroundKind {
        /// A lake or lagoon.
        Lake = "lake",
        /// A pond.
        Pond = "pond",
        /// Water held back by a dam.
        Reservoir = "reservoir",
        /// A basin made to hold water, which may be empty.
        Basin = "basin",
        /// A river between its banks.
        River = "river",
        /// A canal between its banks.
        Canal = "canal",
        /// Water whose kind the map does not give.
        #[default]
        Water = "water",
    }

    /// Kind of a line of water.
    #[derive(Default)]
    pub enum GroundLineKind {
        /// The coast, land on its left and sea on its right.
        Coastline = "coastline",
        /// A river, drawn downstream.
        #[default]
        River = "river",
        /// A canal.
        Canal = "canal",
    }
}

/// More people than live in any one place.
pub const MOST_PEOPLE: u32 = 100_000_000;
/// Rank of the places whose names are drawn last.
pub const LAST_RANK: u8 = 7;

impl From<PlaceKind> for NameKind {
    fn from(kind: PlaceKind) -> Self {
        match kind {
            PlaceKind::City => Self::City,
            PlaceKind::Town => Self::Town,
            PlaceKind::Village => Self::Village,
            PlaceKind::Hamlet => Self::Hamlet,
            PlaceKind::Suburb => Self::Suburb,
            PlaceKind::Island => Self::Island,
            PlaceKind::Pass => Self::Pass,
        }
    }
}

impl PlaceKind {
    /// Which names are drawn first, from 0: by the kind, and one rank earlier with many people for it.
    pub fn rank(self, population: Option<u32>) -> u8 {
        let (rank, many) = match self {
            Self::City => (1, 500_000),
            Self::Town => (3, 25_000),
            Self::Village | Self::Island => (5, 2_500),
            Self::Pass => (5, MOST_PEOPLE),
            Self::Suburb => (7, 25_000),
            Self::Hamlet => (LAST_RANK, 250),
        };
        rank - u8::from(population.is_some_and(|people| people >= many))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn larger_places_come_first_and_many_people_move_one_up() {
        assert_eq!((PlaceKind::City.rank(None), PlaceKind::City.rank(Some(500_000))), (1, 0));
        assert_eq!((PlaceKind::Town.rank(Some(24_999)), PlaceKind::Town.rank(Some(25_000))), (3, 2));
        assert_eq!((PlaceKind::Village.rank(Some(0)), PlaceKind::Hamlet.rank(Some(300))), (5, 6));
        assert!(PlaceKind::ALL.iter().all(|kind| (1..=LAST_RANK).contains(&kind.rank(None))));
    }
}
