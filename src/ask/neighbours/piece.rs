//! A piece of a way as several layers hold it.
use crate::base::geodesy::Position;
use crate::base::words::{Direction, Evidence, Overhang};
use crate::layer::model::{Driven, SegmentRow, WayNode};

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
    for direction in Direction::BOTH {
        if let (Some(own), Some(theirs)) = (kept.row.driven[direction], other.row.driven[direction]) {
            kept.row.driven[direction] = Some(worse_driven(own, theirs));
        }
    }
    let (row, of) = (&mut kept.row, &other.row);
    row.rating_worst = row.rating_worst.zip(of.rating_worst).map(|(a, b)| a.max(b));
    row.outage_share_worst = row.outage_share_worst.zip(of.outage_share_worst).map(|(a, b)| a.max(b));
    row.outage_share = row.outage_share.max(of.outage_share);
    row.outage_p50_s = row.outage_p50_s.max(of.outage_p50_s);
    row.outage_p95_s = row.outage_p95_s.max(of.outage_p95_s);
    row.longest_outage_s = row.longest_outage_s.max(of.longest_outage_s);
    row.outages_per_10km = row.outages_per_10km.max(of.outages_per_10km);
    row.maxheight_m = lower(row.maxheight_m, of.maxheight_m);
    row.overhang |= of.overhang;
    row.overhang_reason = either(row.overhang_reason, of.overhang_reason);
    kept.also.extend(other.rows());
    kept
}

/// The worse of two figures of one direction, with the worse of what may be; the edge is that of the first.
fn worse_driven(own: Driven, theirs: Driven) -> Driven {
    let weight = |d: &Driven| (d.rating, (d.outage_s * 1e3).round() as i64, (d.outage_p95_s * 1e3).round() as i64);
    let worse = if weight(&theirs) > weight(&own) { theirs } else { own };
    let most = |of: fn(&Driven) -> f64| of(&own).max(of(&theirs));
    Driven {
        edge: own.edge,
        outage_s: most(|d| d.outage_s).min(worse.time_s),
        outage_p95_s: most(|d| d.outage_p95_s),
        beyond_blips: most(|d| d.beyond_blips),
        beyond_gaps: most(|d| d.beyond_gaps),
        beyond_drops: most(|d| d.beyond_drops),
        running_blips: most(|d| d.running_blips),
        running_gaps: most(|d| d.running_gaps),
        running_drops: most(|d| d.running_drops),
        rating_worst: own.rating_worst.zip(theirs.rating_worst).map(|(a, b)| a.max(b)),
        outage_share_worst: own.outage_share_worst.zip(theirs.outage_share_worst).map(|(a, b)| a.max(b)),
        ..worse
    }
}

/// The lower of two posted clearances.
pub(super) fn lower(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    a.into_iter().chain(b).reduce(f64::min)
}

/// What either says may hang too low.
fn either(a: Overhang, b: Overhang) -> Overhang {
    match (a, b) {
        (Overhang::None, other) | (other, Overhang::None) => other,
        (a, b) if a == b => a,
        _ => Overhang::Both,
    }
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
    fn each_direction_has_its_worse_figures_and_the_lower_clearance_stays() {
        let driven =
            |rating, outage_s, edge| Some(Driven { rating, outage_s, edge, time_s: 60.0, ..Driven::default() });
        let of = |layer, forward, backward, maxheight_m| {
            let mut piece = piece(layer, Rating::Drops, Evidence::Data);
            piece.row.driven.forward = forward;
            piece.row.driven.backward = backward;
            piece.row.maxheight_m = maxheight_m;
            piece
        };
        let a = of(0, driven(Rating::Drops, 9.0, 1), driven(Rating::Steady, 0.0, 2), None);
        let b = of(1, driven(Rating::Gaps, 3.0, 3), driven(Rating::Gaps, 4.0, 4), Some(3.1));
        for (first, second) in [(a.clone(), b.clone()), (b, a)] {
            let kept = worse(first, second, &mut OverlapTally::default());
            let [forward, backward] = [kept.row.driven.forward, kept.row.driven.backward].map(Option::unwrap);
            assert_eq!((forward.rating, forward.outage_s), (Rating::Drops, 9.0));
            assert_eq!((backward.rating, backward.outage_s), (Rating::Gaps, 4.0));
            assert_eq!(kept.row.maxheight_m, Some(3.1));
            // Edges are those of one layer.
            assert_eq!(forward.edge + 1, backward.edge);
        }
        assert_eq!(either(Overhang::Crowns, Overhang::Clearance), Overhang::Both);
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
