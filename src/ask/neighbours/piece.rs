//! A piece of a way as several layers hold it.
use crate::base::geodesy::Position;
use crate::base::words::Evidence;
use crate::layer::model::{SegmentRow, WayNode};

/// A row of one of the layers: the place of the layer among those asked, and its id there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct RowOf {
    pub layer: usize,
    pub id: i64,
}

/// A piece of a way with the figures of one of the layers.
#[derive(Debug, Clone)]
pub(super) struct WayPiece {
    /// Figures; ids are still those of the layer.
    pub row: SegmentRow,
    /// Nodes of the map along the line.
    pub nodes: Vec<WayNode>,
    /// Whose figures they are.
    pub taken: RowOf,
    /// Whether it is that row from end to end.
    pub is_whole: bool,
    /// Rows of other layers for the same road.
    pub also: Vec<RowOf>,
}

/// What was met where layers overlap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct OverlapTally {
    /// Pieces that several layers hold.
    pub shared: u64,
    /// Those of them that they rate differently.
    pub rated_otherwise: u64,
    /// Ways drawn differently, each taken from one layer where they differ.
    pub redrawn: u64,
}

impl WayPiece {
    /// Where it begins, in node order.
    pub fn start(&self) -> Position {
        self.row.line.first().copied().unwrap_or_default()
    }
    /// Where it ends.
    pub fn end(&self) -> Position {
        self.row.line.last().copied().unwrap_or_default()
    }
    /// The node it begins at; nothing where it was cut between two.
    pub fn start_node(&self) -> Option<i64> {
        self.nodes.first().filter(|node| node.vertex == 0).map(|node| node.id)
    }
    /// The node it ends at.
    pub fn end_node(&self) -> Option<i64> {
        self.nodes.last().filter(|node| node.vertex as usize + 1 == self.row.line.len()).map(|node| node.id)
    }
    /// Every row for this road, that of its figures first.
    pub fn rows(&self) -> impl Iterator<Item = RowOf> + '_ {
        std::iter::once(self.taken).chain(self.also.iter().copied())
    }
    /// How bad it is: the larger of two counts. Where both are as likely to lose the link, what is known counts, then what is
    /// whole, then the worse of what may be.
    fn weight(&self) -> impl Ord + use<> {
        let row = &self.row;
        let in_e4 = |share: f64| (share * 1e4).round() as i64;
        (
            row.rating,
            in_e4(row.outage_share),
            row.evidence != Evidence::Unknown,
            self.is_whole,
            row.rating_worst,
            row.outage_share_worst.map(in_e4),
        )
    }
}

/// One piece of road of two layers: the worse counts, the first where they say the same.
pub(super) fn worse(ours: WayPiece, theirs: WayPiece, tally: &mut OverlapTally) -> WayPiece {
    let ratings = |p: &WayPiece| {
        let of_lanes = [p.row.driven.forward, p.row.driven.backward].map(|d| d.map(|d| d.rating));
        (p.row.rating, p.row.rating_best, p.row.rating_worst, of_lanes)
    };
    tally.shared += 1;
    tally.rated_otherwise += u64::from(ratings(&ours) != ratings(&theirs));
    let (mut kept, other) = if theirs.weight() > ours.weight() { (theirs, ours) } else { (ours, theirs) };
    kept.also.extend(other.rows());
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::Rating;

    fn piece(layer: usize, rating: Rating, evidence: Evidence) -> WayPiece {
        let row = SegmentRow { rating, evidence, ..SegmentRow::default() };
        WayPiece { row, nodes: Vec::new(), taken: RowOf { layer, id: 1 }, is_whole: true, also: Vec::new() }
    }

    #[test]
    fn the_worse_rating_counts_then_what_is_known_then_the_first() {
        use Evidence::{Data, Unknown};
        let mut tally = OverlapTally::default();
        let mut kept = |a, b| worse(a, b, &mut tally).taken.layer;
        assert_eq!(kept(piece(0, Rating::Steady, Data), piece(1, Rating::Drops, Unknown)), 1);
        assert_eq!(kept(piece(0, Rating::Drops, Unknown), piece(1, Rating::Steady, Data)), 0);
        assert_eq!(kept(piece(0, Rating::Steady, Unknown), piece(1, Rating::Steady, Data)), 1);
        assert_eq!(kept(piece(0, Rating::Steady, Data), piece(1, Rating::Steady, Data)), 0);
        assert_eq!((tally.shared, tally.rated_otherwise), (4, 2));
    }
}
