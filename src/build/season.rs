//! Which season trees are assumed to be in.
use jiff::civil::Date;

use super::options::{BuildOptions, SeasonOf};
use crate::profile::{Profile, Season};

/// Between the tropics leaves do not fall by the sun; degrees of latitude.
const TROPICS_DEG: f64 = 23.44;
/// First and last day deciduous trees are in leaf north of the tropics, month and day: from the middle of April to the end of
/// October, as seen at 45 to 50 degrees; assumed. South of them half a year later.
const IN_LEAF_NORTH: ((i8, i8), (i8, i8)) = ((4, 15), (10, 31));
/// The same south of the tropics.
const IN_LEAF_SOUTH: ((i8, i8), (i8, i8)) = ((10, 15), (4, 30));

/// The profile of a build in the season asked for, at the mean latitude of the roads, degrees.
pub(crate) fn in_season(options: &BuildOptions, latitude_deg: f64) -> Profile {
    let mut profile = options.profile.clone();
    match options.season {
        Some(SeasonOf::Named(season)) => profile.canopy.season = season,
        Some(SeasonOf::Date(date)) => profile.canopy.season = season_at(date, latitude_deg),
        None => {}
    }
    profile
}

/// Season of deciduous trees on a date at a latitude.
pub(crate) fn season_at(date: Date, latitude_deg: f64) -> Season {
    let day = (date.month(), date.day());
    let in_leaf = if latitude_deg.abs() <= TROPICS_DEG {
        true
    } else if latitude_deg > 0.0 {
        (IN_LEAF_NORTH.0..=IN_LEAF_NORTH.1).contains(&day)
    } else {
        day >= IN_LEAF_SOUTH.0 || day <= IN_LEAF_SOUTH.1
    };
    if in_leaf { Season::LeafOn } else { Season::LeafOff }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn leaves_follow_the_hemisphere() {
        let (july, january) = (date(2026, 7, 1), date(2026, 1, 10));
        assert_eq!((season_at(july, 47.0), season_at(january, 47.0)), (Season::LeafOn, Season::LeafOff));
        assert_eq!((season_at(july, -38.0), season_at(january, -38.0)), (Season::LeafOff, Season::LeafOn));
        assert_eq!((season_at(july, -3.0), season_at(january, 3.0)), (Season::LeafOn, Season::LeafOn));
    }

    #[test]
    fn the_first_and_last_days_belong_to_the_season_of_leaves() {
        let on = |m, d, latitude| season_at(date(2027, m, d), latitude) == Season::LeafOn;
        assert!(!on(4, 14, 50.0) && on(4, 15, 50.0) && on(10, 31, 50.0) && !on(11, 1, 50.0));
        assert!(!on(10, 14, -40.0) && on(10, 15, -40.0) && on(4, 30, -40.0) && !on(5, 1, -40.0));
    }
}
