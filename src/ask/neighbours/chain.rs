//! Pieces of a way that follow each other without a gap, measured along.
use std::collections::HashMap;

use super::piece::WayPiece;
use crate::base::geodesy::{Position, distance_m};

/// Two layers measure the road from node to node alike up to this, metres: each cut is rounded to a centimetre.
const SAME_M: f64 = 1.0;

/// A vertex of a chain.
#[derive(Debug, Clone)]
pub(super) struct ChainVertex {
    pub at: Position,
    pub along_m: f64,
    /// Nodes of the map there, none where the line was cut.
    pub nodes: Vec<i64>,
}

/// Pieces that follow each other.
#[derive(Debug, Clone)]
pub(super) struct PieceChain {
    pub pieces: Vec<WayPiece>,
    pub vertices: Vec<ChainVertex>,
    /// Where pieces begin, and where the last one ends, metres.
    pub borders_m: Vec<f64>,
}

/// How a chain lies along another: places along the first and along the second, in order.
#[derive(Debug, Clone)]
pub(super) struct Alignment(Vec<(f64, f64)>);

/// How two chains of a way lie to each other.
pub(super) enum ChainMeeting {
    /// Nowhere at one place.
    Apart,
    /// The same road, or one goes on where the other ends.
    Along(Alignment),
    /// Both name a node, but the road between nodes is drawn otherwise.
    Redrawn,
}

impl PieceChain {
    /// Of pieces in the order of their way: one chain up to each gap.
    pub fn all(pieces: Vec<WayPiece>) -> Vec<Self> {
        let mut chains: Vec<Vec<WayPiece>> = Vec::new();
        for piece in pieces {
            match chains.last_mut() {
                Some(chain) if chain.last().is_some_and(|last| last.end() == piece.start()) => chain.push(piece),
                _ => chains.push(vec![piece]),
            }
        }
        chains.into_iter().map(Self::of).collect()
    }
    /// Of pieces that follow each other.
    pub fn of(pieces: Vec<WayPiece>) -> Self {
        let mut vertices: Vec<ChainVertex> = Vec::new();
        let mut borders_m = vec![0.0];
        for piece in &pieces {
            let mut of_vertex: HashMap<u32, Vec<i64>> = HashMap::new();
            piece.nodes.iter().for_each(|node| of_vertex.entry(node.vertex).or_default().push(node.id));
            for (vertex, at) in (0..).zip(&piece.row.line) {
                let nodes = of_vertex.remove(&vertex).unwrap_or_default();
                match vertices.last_mut() {
                    Some(last) if vertex == 0 && last.at == *at => {
                        nodes.into_iter().for_each(|n| {
                            if !last.nodes.contains(&n) {
                                last.nodes.push(n)
                            }
                        });
                    }
                    last => {
                        let along_m = last.map_or(0.0, |last| last.along_m + distance_m(last.at, *at));
                        vertices.push(ChainVertex { at: *at, along_m, nodes });
                    }
                }
            }
            borders_m.push(vertices.last().map_or(0.0, |v| v.along_m));
        }
        Self { pieces, vertices, borders_m }
    }
    /// Length, metres.
    pub fn length_m(&self) -> f64 {
        self.borders_m.last().copied().unwrap_or(0.0)
    }
    /// The piece at a place; nothing beyond the ends.
    pub fn piece_at(&self, along_m: f64) -> Option<usize> {
        let within = (0.0..=self.length_m()).contains(&along_m);
        within.then(|| self.borders_m.partition_point(|m| *m <= along_m).clamp(1, self.pieces.len().max(1)) - 1)
    }
    /// The position at a place, and the nodes of the map there.
    pub fn at(&self, along_m: f64) -> (Position, Vec<i64>) {
        const NEAR_M: f64 = 0.05;
        let next = self.vertices.partition_point(|v| v.along_m < along_m);
        let beside = [next.checked_sub(1), Some(next)].into_iter().flatten().filter_map(|i| self.vertices.get(i));
        if let Some(v) = beside.min_by(|a, b| (a.along_m - along_m).abs().total_cmp(&(b.along_m - along_m).abs()))
            && (v.along_m - along_m).abs() <= NEAR_M
        {
            return (v.at, v.nodes.clone());
        }
        let line: Vec<Position> = self.vertices.iter().map(|v| v.at).collect();
        (crate::base::geodesy::along(&line, along_m).unwrap_or_default(), Vec::new())
    }
    /// Nodes that come once, and where.
    fn once(&self) -> HashMap<i64, f64> {
        let mut found: HashMap<i64, Option<f64>> = HashMap::new();
        for (node, along_m) in self.vertices.iter().flat_map(|v| v.nodes.iter().map(|n| (*n, v.along_m))) {
            found.entry(node).and_modify(|at| *at = None).or_insert(Some(along_m));
        }
        found.into_iter().filter_map(|(node, at)| Some((node, at?))).collect()
    }
    /// How another chain of the way lies to this one.
    pub fn meeting(&self, other: &Self) -> ChainMeeting {
        let (ours, theirs) = (self.once(), other.once());
        let both = ours.iter().filter_map(|(node, at)| Some((*at, *theirs.get(node)?)));
        let mut common: Vec<(f64, f64)> = both.collect();
        common.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (end, other_end) = (self.length_m(), other.length_m());
        let (first, last) = (|c: &Self| c.vertices[0].at, |c: &Self| c.vertices[c.vertices.len() - 1].at);
        if common.is_empty() {
            return match () {
                () if last(self) == first(other) => ChainMeeting::Along(Alignment(vec![(end, 0.0)])),
                () if first(self) == last(other) => ChainMeeting::Along(Alignment(vec![(0.0, other_end)])),
                () => ChainMeeting::Apart,
            };
        }
        let alike = |w: &[(f64, f64)]| w[1].1 > w[0].1 && ((w[1].0 - w[0].0) - (w[1].1 - w[0].1)).abs() <= SAME_M;
        let along = Alignment(common);
        let is_same = along.0.windows(2).all(alike) && self.all_known(&ours, &theirs, |m| along.theirs(m), other_end);
        let is_known = other.all_known(&theirs, &ours, |m| along.ours(m), end);
        if is_same && is_known { ChainMeeting::Along(along) } else { ChainMeeting::Redrawn }
    }
    /// Whether every node of this chain where the other one lies, too, is a node of that.
    fn all_known(
        &self,
        own: &HashMap<i64, f64>,
        theirs: &HashMap<i64, f64>,
        there: impl Fn(f64) -> f64,
        end_m: f64,
    ) -> bool {
        own.iter().all(|(node, at)| theirs.contains_key(node) || !(SAME_M..end_m - SAME_M).contains(&there(*at)))
    }
}

impl Alignment {
    /// The place along the second of one along the first.
    pub fn theirs(&self, along_m: f64) -> f64 {
        between(&self.0, along_m)
    }
    /// The place along the first of one along the second.
    pub fn ours(&self, along_m: f64) -> f64 {
        let turned: Vec<(f64, f64)> = self.0.iter().map(|(a, b)| (*b, *a)).collect();
        between(&turned, along_m)
    }
}

/// A place on the other side, in proportion between pairs; beyond them both are measured alike.
fn between(pairs: &[(f64, f64)], at: f64) -> f64 {
    let next = pairs.partition_point(|(a, _)| *a <= at);
    match (next.checked_sub(1).map(|i| pairs[i]), pairs.get(next)) {
        (Some((a, b)), Some((c, d))) if *c > a => b + (at - a) * (d - b) / (c - a),
        (Some((a, b)), _) => b + at - a,
        (None, Some((c, d))) => d + at - c,
        (None, None) => at,
    }
}
