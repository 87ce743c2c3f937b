//! A way that two layers cut differently, as neighbouring extracts do: each knows only the junctions with its own roads.
//!
//! It is cut wherever one of them cuts it. A new piece has the shares and ratings of the piece that it was cut from, and of its
//! times and expected counts as much as it has of its length; of two layers the worse counts.
use super::chain::{Alignment, ChainMeeting, PieceChain};
use super::piece::{OverlapTally, WayPiece, worse};
use crate::base::geodesy::{Position, distance_m, length_m};
use crate::layer::model::{Driven, SegmentRow, WayNode};

/// Cuts this near to each other are one, metres, unless both are at nodes.
const ONE_CUT_M: f64 = 0.5;

/// Whether two layers cut a way the same way where both hold it, so that its parts have the same numbers.
pub(super) fn is_cut_alike(ours: &[WayPiece], theirs: &[WayPiece]) -> bool {
    let find = |part: u32| ours.iter().find(|p| p.row.part == part);
    let same = |p: &WayPiece| find(p.row.part).is_none_or(|own| own.row.line == p.row.line);
    if !theirs.iter().all(same) {
        return false;
    }
    let mut all: Vec<&WayPiece> = ours.iter().chain(theirs.iter().filter(|p| find(p.row.part).is_none())).collect();
    all.sort_by_key(|p| p.row.part);
    let of_one = |a: &WayPiece, b: &WayPiece| a.taken.layer == b.taken.layer;
    all.windows(2).all(|w| of_one(w[0], w[1]) || (w[0].row.part + 1 == w[1].row.part) == (w[0].end() == w[1].start()))
}

/// The pieces of two layers together.
pub(super) fn joined(ours: Vec<WayPiece>, theirs: Vec<WayPiece>, tally: &mut OverlapTally) -> Vec<WayPiece> {
    if is_cut_alike(&ours, &theirs) {
        let mut all = ours;
        for piece in theirs {
            match all.iter().position(|own| own.row.part == piece.row.part) {
                Some(at) => all[at] = worse(all[at].clone(), piece, tally),
                None => all.push(piece),
            }
        }
        all.sort_by_key(|p| p.row.part);
        return all;
    }
    let mut chains = PieceChain::all(ours);
    for mut new in PieceChain::all(theirs) {
        let mut at = 0;
        while at < chains.len() {
            match chains[at].meeting(&new) {
                ChainMeeting::Apart => at += 1,
                ChainMeeting::Along(along) => new = cut_at_both(&chains.remove(at), &new, &along, tally),
                ChainMeeting::Redrawn => {
                    tally.redrawn += 1;
                    new = one_of(chains.remove(at), new);
                }
            }
        }
        chains.push(new);
    }
    // In the order of the way as far as parts tell it.
    chains.sort_by_key(|c| c.pieces.first().map(|p| (p.row.part, p.taken)));
    let mut part = 0;
    for chain in &mut chains {
        for piece in &mut chain.pieces {
            piece.row.part = part;
            part += 1;
        }
        // A number is left out where the road has a gap.
        part += 1;
    }
    chains.into_iter().flat_map(|c| c.pieces).collect()
}

/// Of two drawings of a road the longer, and of equal ones that with more time without a link; rows of the other stand for what
/// is nearest.
fn one_of(ours: PieceChain, theirs: PieceChain) -> PieceChain {
    const SAME_SHARE: f64 = 0.01;
    let outage = |c: &PieceChain| c.pieces.iter().map(|p| p.row.outage_share * p.row.length_m).sum::<f64>();
    let (a, b) = (ours.length_m(), theirs.length_m());
    let is_theirs = if (a - b).abs() > SAME_SHARE * a.max(b) { b > a } else { outage(&theirs) > outage(&ours) };
    let (mut kept, dropped) = if is_theirs { (theirs, ours) } else { (ours, theirs) };
    let middle = |p: &WayPiece| p.row.line[p.row.line.len() / 2];
    for piece in &dropped.pieces {
        let away = |p: &&mut WayPiece| (distance_m(middle(p), middle(piece)) * 1e3) as u64;
        if let Some(near) = kept.pieces.iter_mut().min_by_key(away) {
            near.also.extend(piece.rows());
        }
    }
    kept
}

/// A place where a piece begins or ends, along the first chain.
struct WayCut {
    along_m: f64,
    at: Position,
    nodes: Vec<i64>,
}

/// Both chains, cut where either is.
fn cut_at_both(ours: &PieceChain, theirs: &PieceChain, along: &Alignment, tally: &mut OverlapTally) -> PieceChain {
    let own = ours.borders_m.iter().map(|m| (*m, ours.at(*m)));
    let other = theirs.borders_m.iter().map(|m| (along.ours(*m), theirs.at(*m)));
    let mut cuts: Vec<WayCut> = own.chain(other).map(|(along_m, (at, nodes))| WayCut { along_m, at, nodes }).collect();
    cuts.sort_by(|a, b| a.along_m.total_cmp(&b.along_m));
    let mut kept: Vec<WayCut> = Vec::new();
    for cut in cuts {
        match kept.last_mut() {
            Some(last) if cut.along_m - last.along_m <= ONE_CUT_M => {
                let is_other_node = !cut.nodes.is_empty() && !last.nodes.is_empty() && cut.nodes != last.nodes;
                if is_other_node && cut.at != last.at {
                    kept.push(cut);
                } else if last.nodes.is_empty() {
                    *last = cut;
                } else {
                    let new = cut.nodes.into_iter().filter(|n| !last.nodes.contains(n)).collect::<Vec<_>>();
                    last.nodes.extend(new);
                }
            }
            _ => kept.push(cut),
        }
    }
    let of = |pair: &[WayCut]| {
        let middle_m = 0.5 * (pair[0].along_m + pair[1].along_m);
        let (here, there) = (ours.piece_at(middle_m), theirs.piece_at(along.theirs(middle_m)));
        let (line, nodes) = match here {
            Some(_) => line_between(ours, pair, &|m| m),
            None => line_between(theirs, pair, &|m| along.ours(m)),
        };
        let part = |chain: &PieceChain, nth: usize| part_of(&chain.pieces[nth], &line, &nodes);
        match (here.map(|n| part(ours, n)), there.map(|n| part(theirs, n))) {
            (Some(a), Some(b)) => Some(worse(a, b, tally)),
            (a, b) => a.or(b),
        }
    };
    PieceChain::of(kept.windows(2).filter_map(of).collect())
}

/// The line from one cut to the next, and the nodes along it.
fn line_between(chain: &PieceChain, pair: &[WayCut], to_first: &dyn Fn(f64) -> f64) -> (Vec<Position>, Vec<WayNode>) {
    let (from, to) = (&pair[0], &pair[1]);
    let (mut line, mut nodes) = (Vec::new(), Vec::new());
    let mut put = |at: Position, ids: &[i64]| {
        if line.last() != Some(&at) {
            line.push(at);
        }
        let vertex = line.len() as u32 - 1;
        nodes.extend(ids.iter().map(|id| WayNode { vertex, id: *id }));
    };
    put(from.at, &from.nodes);
    for v in chain.vertices.iter().filter(|v| !v.nodes.is_empty()) {
        let along_m = to_first(v.along_m);
        let at_end = [from, to].iter().any(|cut| cut.at == v.at || v.nodes.iter().any(|n| cut.nodes.contains(n)));
        if along_m > from.along_m && along_m < to.along_m && !at_end {
            put(v.at, &v.nodes);
        }
    }
    put(to.at, &to.nodes);
    (line, nodes)
}

/// A part of a piece with its own line; the piece itself where that is all of it.
fn part_of(piece: &WayPiece, line: &[Position], nodes: &[WayNode]) -> WayPiece {
    if piece.start() == line[0] && piece.end() == line[line.len() - 1] {
        return piece.clone();
    }
    let own_m = length_m(line);
    let share = if piece.row.length_m > 0.0 { (own_m / piece.row.length_m).min(1.0) } else { 1.0 };
    let lane = |d: &Driven| Driven {
        time_s: share * d.time_s,
        outage_s: share * d.outage_s,
        beyond_blips: share * d.beyond_blips,
        beyond_gaps: share * d.beyond_gaps,
        beyond_drops: share * d.beyond_drops,
        ..*d
    };
    let row =
        SegmentRow { length_m: own_m, line: line.to_vec(), driven: piece.row.driven.map(lane), ..piece.row.clone() };
    WayPiece { row, nodes: nodes.to_vec(), is_whole: false, ..piece.clone() }
}
