//! Places in lists that many rooms share, each of a type of its own: a segment's cannot be taken for an edge's.
use super::words::Direction;

/// Declares the type of an index: a place in a list, from 0.
macro_rules! index {
    ($(#[$doc:meta])+ $name:ident) => {
        $(#[$doc])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(u32);

        impl $name {
            /// The index of a place, from 0. Lists hold fewer than 2^32 things.
            pub const fn new(place: usize) -> Self {
                Self(place as u32)
            }
            /// The place, to look it up in its list.
            pub const fn at(self) -> usize {
                self.0 as usize
            }
        }
    };
}

/// Lets the things of an indexed list be walked with their indices.
macro_rules! numbered {
    ($($name:ident),+) => {$(
        impl $name {
            /// Things of the list in order, each with its index.
            pub fn numbered<T>(things: &[T]) -> impl Iterator<Item = (Self, &T)> {
                things.iter().enumerate().map(|(place, thing)| (Self::new(place), thing))
            }
        }
    )+};
}

/// Gives an index the id that its row has in a layer.
macro_rules! with_rows {
    ($($name:ident),+) => {$(
        impl $name {
            /// Id of its row in a layer: these begin with 1.
            pub(crate) const fn row_id(self) -> i64 {
                self.0 as i64 + 1
            }
        }
    )+};
}

index! {
    /// Place of a segment in its network or layer.
    SegmentIndex
}
index! {
    /// Place of a segment in one direction: of the first segment forward, backward, then of the second.
    LaneIndex
}
index! {
    /// Place of a stroke in its network or layer.
    StrokeIndex
}
index! {
    /// Place of an edge in its network.
    EdgeIndex
}
index! {
    /// Place of a road, which is a piece of a way, in its extract.
    RoadIndex
}
index! {
    /// Place of a junction in a list of those that edges join.
    JunctionIndex
}
index! {
    /// Place of a point at which lanes meet, in the graph that a track is matched on.
    VertexIndex
}
index! {
    /// Place of a lane in that graph, which holds none of the directions that nobody may drive in.
    GraphLaneIndex
}
numbered!(SegmentIndex, StrokeIndex, EdgeIndex, RoadIndex, GraphLaneIndex);
with_rows!(SegmentIndex, LaneIndex);

impl SegmentIndex {
    /// The segment driven in a direction.
    pub const fn lane(self, direction: Direction) -> LaneIndex {
        LaneIndex(2 * self.0 + if direction.is_forward() { 0 } else { 1 })
    }
    /// The segment with this id; `None` for a number that is not an id.
    pub(crate) fn of_row(row_id: i64) -> Option<Self> {
        u32::try_from(row_id.checked_sub(1)?).ok().map(Self)
    }
}

impl LaneIndex {
    /// The segment that is driven.
    pub const fn segment(self) -> SegmentIndex {
        SegmentIndex(self.0 / 2)
    }
    /// The direction it is driven in.
    pub const fn direction(self) -> Direction {
        Direction::of(self.0.is_multiple_of(2))
    }
}

impl StrokeIndex {
    /// Its number in the rows of its lanes: these begin with 0.
    pub(crate) const fn row_number(self) -> u32 {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lanes_count_both_directions_of_every_segment_once() {
        let segments = (0..3).map(SegmentIndex::new);
        let lanes: Vec<LaneIndex> = segments.flat_map(|s| Direction::BOTH.map(|d| s.lane(d))).collect();
        assert_eq!(lanes, (0..6).map(LaneIndex::new).collect::<Vec<_>>());
        for lane in lanes {
            assert_eq!(lane.segment().lane(lane.direction()), lane);
        }
        assert_eq!(LaneIndex::new(5).segment(), SegmentIndex::new(2));
        assert_eq!(LaneIndex::new(5).direction(), Direction::Backward);
    }

    #[test]
    fn ids_of_rows_begin_with_one_and_lead_back() {
        let fifth = SegmentIndex::new(4);
        assert_eq!((fifth.row_id(), SegmentIndex::of_row(5)), (5, Some(fifth)));
        assert_eq!(LaneIndex::new(9).row_id(), 10);
        for none in [i64::MIN, -1, 0, i64::from(u32::MAX) + 2, i64::MAX] {
            assert_eq!(SegmentIndex::of_row(none), None, "{none}");
        }
    }

    #[test]
    fn things_are_numbered_by_their_places() {
        let things = ["a", "b", "c"];
        let seen: Vec<(EdgeIndex, &&str)> = EdgeIndex::numbered(&things).collect();
        assert_eq!(seen.len(), 3);
        assert!(seen.iter().all(|(i, thing)| things[i.at()] == **thing));
        assert_eq!(StrokeIndex::new(7).row_number(), 7);
    }
}
