//! Places of the nodes that ways refer to: sorted ids beside positions, found by search.
//!
//! Sixteen bytes a node, whatever the file holds besides.
use crate::base::geodesy::Position;

/// Stands for a node whose place is not known (no longitude is this far west).
pub(crate) const UNKNOWN: Position = Position { lon_e7: i32::MIN, lat_e7: i32::MIN };

/// A place, where it is known.
pub(crate) fn known(place: Position) -> Option<Position> {
    (place != UNKNOWN).then_some(place)
}

/// Ids and places of wanted nodes.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct NodeTable {
    ids: Vec<i64>,
    places: Vec<Position>,
}

impl NodeTable {
    /// A table of the given ids (any order, repeats allowed), no place known yet.
    pub fn of(mut ids: Vec<i64>) -> Self {
        ids.sort_unstable();
        ids.dedup();
        ids.shrink_to_fit();
        let places = vec![UNKNOWN; ids.len()];
        Self { ids, places }
    }

    /// Index of an id. `hint` remembers the last place of a search: ids that come in rising order, as
    /// they do in sorted files, are found in a few steps.
    pub fn find(&self, id: i64, hint: &mut usize) -> Option<usize> {
        let rising = *hint == 0 || self.ids.get(*hint - 1).is_some_and(|before| *before < id);
        let from = if rising { *hint } else { 0 };
        let mut step = 1;
        let mut to = from;
        while self.ids.get(to).is_some_and(|at| *at < id) {
            to += step;
            step *= 2;
        }
        let to = (to + 1).min(self.ids.len());
        let index = from + self.ids.get(from..to)?.partition_point(|at| *at < id);
        *hint = index;
        (self.ids.get(index) == Some(&id)).then_some(index)
    }

    /// Notes a place. Where a file holds a node twice, the smaller place wins, so that the order of
    /// objects does not matter.
    pub fn set(&mut self, index: usize, at: Position) {
        if let Some(place) = self.places.get_mut(index)
            && (*place == UNKNOWN || at < *place)
        {
            *place = at;
        }
    }

    /// The place of a node, where the extract holds it.
    pub fn place(&self, id: i64) -> Option<Position> {
        let index = self.ids.binary_search(&id).ok()?;
        self.places.get(index).copied().and_then(known)
    }

    /// How many nodes have no place, and how many there are.
    pub fn missing(&self) -> (usize, usize) {
        (self.places.iter().filter(|p| **p == UNKNOWN).count(), self.ids.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        #[test]
        fn found_as_by_plain_search(ids in proptest::collection::vec(-50_i64..50, 0..40), asked in proptest::collection::vec(-60_i64..60, 0..80)) {
            let table = NodeTable::of(ids.clone());
            let mut hint = 0;
            for id in asked {
                let found = table.find(id, &mut hint).and_then(|i| table.ids.get(i).copied());
                proptest::prop_assert_eq!(found, ids.contains(&id).then_some(id));
            }
        }
    }

    #[test]
    fn places_are_kept_and_missing_ones_counted() {
        let mut table = NodeTable::of(vec![7, 3, 7, 5]);
        let index = table.find(5, &mut 0).expect("5 is wanted");
        let (far, near) = (Position { lon_e7: 9, lat_e7: 9 }, Position { lon_e7: 1, lat_e7: 1 });
        table.set(index, far);
        table.set(index, near);
        table.set(index, far);
        assert_eq!(table.place(5), Some(near));
        assert_eq!(table.place(3), None);
        assert_eq!(table.missing(), (2, 3));
    }
}
