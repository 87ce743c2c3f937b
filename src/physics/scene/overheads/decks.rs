//! Decks of a whole extract: pieces joined into bridges, their widths, and an index by place.
//!
//! In: the extract. Out: [`DeckIndex`], built once per run and shared by all cells. Positions in
//! degrees, lengths in metres. Does not know lanes: which deck stands over which lane is decided in
//! [`super::cell`].
use std::collections::{BTreeMap, BTreeSet};

use rstar::primitives::Rectangle;
use rstar::{AABB, RTree};

use super::deck_width::deck_width_m;
use super::toll_roofs::toll_roofs;
use crate::base::geodesy::{LocalPlane, Point, Position, distance_m, turn_deg, unwrapped_deg};
use crate::map::extract::model::{Area, Building, Deck, DeckShape, DeckUse, Extract, Road, TunnelKind};
use crate::physics::scene::boxed::{InBox, TURNS_DEG, box_of};
use crate::physics::scene::rings::contains;

/// Pieces that meet with a sharper turn than this are different decks, degrees.
const STRAIGHT_ON_DEG: f64 = 50.0;
/// Roads that meet a deck's end are its approach up to this far from the end, metres.
const APPROACH_M: f64 = 200.0;
/// Share of a line's points that must lie in an outline for the line to run on it.
const ON_OUTLINE_SHARE: f64 = 0.5;
/// Buildings whose underside is higher than this may span a road, metres: lower ones are
/// ground-floor offsets no lorry passes under.
const SPANS_ABOVE_M: f32 = 2.5;

/// One straight piece of a deck's centre line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeckSpan {
    /// Id of the way it belongs to.
    pub id: i64,
    /// Width across, parapets included, metres.
    pub width_m: f64,
    /// Outline it runs on, index into [`DeckIndex::outlines`].
    pub outline: Option<u32>,
}

/// Consecutive deck pieces as one bridge, from abutment to abutment.
#[derive(Debug, Clone, PartialEq)]
pub struct JoinedDeck {
    /// Ids of its ways, in order, without repeats.
    pub ids: Vec<i64>,
    /// What it carries (its first piece's use).
    pub carries: DeckUse,
    /// `layer`.
    pub layer: i8,
    /// Centre line.
    pub line: Vec<Position>,
    /// One span per piece of the line.
    pub spans: Vec<DeckSpan>,
    /// Positions of its nodes, in order, for telling shared nodes: two nodes of a map never stand
    /// at exactly one place unless one of them is a mistake.
    pub nodes: Vec<Position>,
    /// Positions of the nodes of roads that carry on from its ends, near those ends, in order.
    pub approach: Vec<Position>,
    /// Underside above the ground as tagged, metres.
    pub min_height_m: Option<f32>,
}

/// A bridge drawn as an area.
#[derive(Debug, Clone, PartialEq)]
pub struct DeckOutline {
    /// Id of the way or relation.
    pub id: i64,
    /// Where it is.
    pub area: Area,
    /// What it carries, where known.
    pub carries: DeckUse,
    /// `layer`.
    pub layer: i8,
    /// Underside above the ground as tagged, metres.
    pub min_height_m: Option<f32>,
    /// No line deck runs on it, so the outline itself is the deck.
    pub alone: bool,
}

/// What is found near a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum MayCover {
    /// Index into [`DeckIndex::decks`].
    Deck(u32),
    /// Index into [`DeckIndex::outlines`]; only outlines that are decks themselves.
    Outline(u32),
    /// Index into [`DeckIndex::roofs`].
    Roof(u32),
}

/// Everything of an extract that may stand over a road, by place.
#[derive(Debug)]
pub struct DeckIndex {
    /// Bridges drawn as lines.
    pub decks: Vec<JoinedDeck>,
    /// Bridges drawn as areas.
    pub outlines: Vec<DeckOutline>,
    /// Roofs and buildings that start above head height, and roofs assumed to stand over toll booths.
    pub roofs: Vec<Building>,
    tree: RTree<InBox<MayCover>>,
}

impl DeckIndex {
    /// Joins the deck pieces of an extract and indexes them. The order of the objects in the
    /// extract changes nothing but the numbering.
    pub fn new(extract: &Extract) -> Self {
        let roads = roads_by_id(extract);
        let (mut outlines, outline_tree) = outlines(extract);
        let pieces = pieces(extract, &roads, &mut outlines, &outline_tree);
        let mut decks = join(&pieces);
        add_approaches(&mut decks, &extract.roads);
        let mut roofs: Vec<Building> = extract.buildings.iter().filter(|b| may_span(b)).cloned().collect();
        roofs.extend(toll_roofs(extract));
        let tree = RTree::bulk_load(entries(&decks, &outlines, &roofs));
        Self { decks, outlines, roofs, tree }
    }

    /// What lies in or touches a box of longitudes and latitudes, degrees, in order of index; empty
    /// where a bound is not a number.
    pub(crate) fn in_box(&self, low_deg: [f64; 2], high_deg: [f64; 2]) -> Vec<MayCover> {
        if !low_deg.iter().chain(&high_deg).all(|v| v.is_finite()) {
            return Vec::new();
        }
        let touching = |box_deg| self.tree.locate_in_envelope_intersecting(box_deg).map(|e| e.data);
        let mut found: Vec<MayCover> = turned(low_deg, high_deg).flat_map(touching).collect();
        found.sort_unstable();
        found.dedup();
        found
    }
}

fn may_span(b: &Building) -> bool {
    b.area.outer.len() >= 4 && (b.roof_only || b.min_height_m.is_some_and(|h| h > SPANS_ABOVE_M))
}

fn roads_by_id(extract: &Extract) -> BTreeMap<i64, &Road> {
    let mut map = BTreeMap::new();
    for road in &extract.roads {
        map.entry(road.id).or_insert(road);
    }
    map
}

fn entries(decks: &[JoinedDeck], outlines: &[DeckOutline], roofs: &[Building]) -> Vec<InBox<MayCover>> {
    let lines = decks.iter().zip(0..).filter(|(d, _)| d.line.len() > 1);
    let mut out: Vec<InBox<MayCover>> = lines.map(|(d, i)| InBox::new(around(&d.line), MayCover::Deck(i))).collect();
    let alone = outlines.iter().zip(0..).filter(|(o, _)| o.alone);
    out.extend(alone.map(|(o, i)| InBox::new(around(&o.area.outer), MayCover::Outline(i))));
    out.extend(roofs.iter().zip(0..).map(|(b, i)| InBox::new(around(&b.area.outer), MayCover::Roof(i))));
    out
}

/// Bounding rectangle in degrees of a line that is not empty.
fn around(line: &[Position]) -> Rectangle<[f64; 2]> {
    let (low, high) = box_of(&line.first().copied().unwrap_or_default(), line);
    Rectangle::from_corners(low, high)
}

/// A box as it may be counted from either side of the antimeridian.
fn turned(low: [f64; 2], high: [f64; 2]) -> impl Iterator<Item = AABB<[f64; 2]>> {
    TURNS_DEG.into_iter().map(move |t| AABB::from_corners([low[0] + t, low[1]], [high[0] + t, high[1]]))
}

/// Outlines of bridges by their bounding rectangles, degrees.
type OutlineTree = RTree<InBox<u32>>;

fn outlines(extract: &Extract) -> (Vec<DeckOutline>, OutlineTree) {
    let mut out = Vec::new();
    for deck in &extract.decks {
        if let DeckShape::Outline(area) = &deck.shape
            && area.outer.len() >= 4
        {
            out.push(DeckOutline {
                id: deck.id,
                area: area.clone(),
                carries: deck.carries,
                layer: deck.layer,
                min_height_m: deck.min_height_m,
                alone: true,
            });
        }
    }
    let boxes = out.iter().zip(0..).map(|(o, i)| InBox::new(around(&o.area.outer), i));
    let tree = RTree::bulk_load(boxes.collect());
    (out, tree)
}

/// A deck piece before joining.
struct DeckPiece<'a> {
    deck: &'a Deck,
    line: &'a [Position],
    span: DeckSpan,
}

fn pieces<'a>(
    extract: &'a Extract,
    roads: &BTreeMap<i64, &Road>,
    outlines: &mut [DeckOutline],
    tree: &OutlineTree,
) -> Vec<DeckPiece<'a>> {
    let mut out = Vec::new();
    for deck in &extract.decks {
        let DeckShape::Line(line) = &deck.shape else {
            continue;
        };
        if line.len() < 2 {
            continue;
        }
        let road = roads.get(&deck.id).copied().filter(|_| matches!(deck.carries, DeckUse::Road(_)));
        // A road in a tunnel is drawn as no deck even where a stray bridge tag says so.
        if road.is_some_and(|r| matches!(r.tunnel, Some(TunnelKind::Tunnel))) {
            continue;
        }
        let outline = outline_under(deck.layer, line, outlines, tree);
        out.push(DeckPiece { deck, line, span: DeckSpan { id: deck.id, width_m: deck_width_m(deck, road), outline } });
    }
    out
}

/// The outline a line runs on at its own level; every outline with a line on it, at whatever
/// level, is marked as not alone.
fn outline_under(layer: i8, line: &[Position], outlines: &mut [DeckOutline], tree: &OutlineTree) -> Option<u32> {
    let rect = around(line);
    let mut best: Option<(f64, u32)> = None;
    for entry in turned(rect.lower(), rect.upper()).flat_map(|box_deg| tree.locate_in_envelope_intersecting(box_deg)) {
        let Some(outline) = outlines.get_mut(entry.data as usize) else {
            continue;
        };
        let share = share_inside(&outline.area, line);
        if share < ON_OUTLINE_SHARE {
            continue;
        }
        outline.alone = false;
        let same_level = outline.layer == layer || outline.layer == 0;
        let better = best.is_none_or(|(s, i)| share > s || (share == s && entry.data < i));
        if same_level && better {
            best = Some((share, entry.data));
        }
    }
    best.map(|b| b.1)
}

/// Share of a line's inner points (vertices and middles of its pieces) inside an area.
fn share_inside(area: &Area, line: &[Position]) -> f64 {
    let from_deg = line[0].lon_deg();
    let point = |p: &Position| Point::new(unwrapped_deg(from_deg, p.lon_deg()), p.lat_deg());
    let rings: Vec<Vec<Point>> =
        std::iter::once(&area.outer).chain(&area.inners).map(|r| r.iter().map(point).collect()).collect();
    let mut probes: Vec<Point> = line.windows(2).map(|w| point(&w[0]).towards(point(&w[1]), 0.5)).collect();
    probes.extend(line[1..line.len() - 1].iter().map(point));
    let inside = probes.iter().filter(|p| contains(&rings, **p)).count();
    inside as f64 / probes.len() as f64
}

/// One end of a piece: its index and which end (0 first, 1 last).
type PieceEnd = (usize, usize);

/// What kinds of deck may be joined.
fn family(carries: DeckUse) -> u8 {
    match carries {
        DeckUse::Road(_) => 0,
        DeckUse::Foot => 1,
        DeckUse::Rail => 2,
        DeckUse::Water => 3,
        DeckUse::Pipe => 4,
        DeckUse::Gantry => 5,
        DeckUse::Structure => 6,
    }
}

/// Joins pieces of one family and layer that meet end to end and run straight on.
fn join(pieces: &[DeckPiece]) -> Vec<JoinedDeck> {
    let partners = partners(pieces);
    let mut done = vec![false; pieces.len()];
    let free = |i: &usize| partners[*i].iter().any(Option::is_none);
    let starts: Vec<usize> = (0..pieces.len()).filter(free).chain((0..pieces.len()).filter(|i| !free(i))).collect();
    let mut out = Vec::new();
    for start in starts {
        if !done[start] {
            let from = usize::from(partners[start][0].is_some());
            out.push(walk(pieces, &partners, &mut done, (start, from)));
        }
    }
    out
}

/// For each end of each piece the end it is joined to, the straightest first.
fn partners(pieces: &[DeckPiece]) -> Vec<[Option<PieceEnd>; 2]> {
    let mut meetings: BTreeMap<(i64, u8, i8), Vec<PieceEnd>> = BTreeMap::new();
    for (i, p) in pieces.iter().enumerate() {
        for end in 0..2 {
            let node = p.deck.end_nodes[end];
            if node != 0 && p.deck.carries != DeckUse::Gantry {
                let key = (node, family(p.deck.carries), p.deck.layer);
                meetings.entry(key).or_default().push((i, end));
            }
        }
    }
    let mut out = vec![[None; 2]; pieces.len()];
    for ends in meetings.values() {
        let mut pairs: Vec<(f64, PieceEnd, PieceEnd)> = Vec::new();
        for (k, a) in ends.iter().enumerate() {
            for b in &ends[k + 1..] {
                let turn = turn_deg(inward_deg(pieces, *a) + 180.0, inward_deg(pieces, *b)).abs();
                if a.0 != b.0 && turn <= STRAIGHT_ON_DEG {
                    pairs.push((turn, *a, *b));
                }
            }
        }
        pairs.sort_by(|x, y| x.0.total_cmp(&y.0).then((x.1, x.2).cmp(&(y.1, y.2))));
        for (_, a, b) in pairs {
            if out[a.0][a.1].is_none() && out[b.0][b.1].is_none() {
                out[a.0][a.1] = Some(b);
                out[b.0][b.1] = Some(a);
            }
        }
    }
    out
}

/// Azimuth from an end into its piece, degrees.
fn inward_deg(pieces: &[DeckPiece], (i, end): PieceEnd) -> f64 {
    let line = pieces[i].line;
    let (a, b) = match end {
        0 => (line[0], line[1]),
        _ => (line[line.len() - 1], line[line.len() - 2]),
    };
    Point::default().azimuth_deg(LocalPlane::at_position(a).to_plane(b))
}

/// Follows joined pieces from one end until the bridge ends.
fn walk(pieces: &[DeckPiece], partners: &[[Option<PieceEnd>; 2]], done: &mut [bool], start: PieceEnd) -> JoinedDeck {
    let first = pieces[start.0].deck;
    let mut deck = JoinedDeck {
        ids: Vec::new(),
        carries: first.carries,
        layer: first.layer,
        line: Vec::new(),
        spans: Vec::new(),
        nodes: Vec::new(),
        approach: Vec::new(),
        min_height_m: first.min_height_m,
    };
    let mut at = Some(start);
    while let Some((i, end)) = at.filter(|e| !done[e.0]) {
        done[i] = true;
        let piece = &pieces[i];
        let mut line = piece.line.to_vec();
        if end == 1 {
            line.reverse();
        }
        let joint = usize::from(!deck.line.is_empty());
        deck.line.extend(&line[joint..]);
        deck.spans.extend(std::iter::repeat_n(piece.span, line.len() - 1));
        deck.ids.push(piece.deck.id);
        at = partners[i][1 - end];
    }
    deck.ids.sort_unstable();
    deck.ids.dedup();
    deck.nodes = deck.line.clone();
    deck.nodes.sort_unstable();
    deck.nodes.dedup();
    deck
}

/// Notes for every road deck the nodes of the roads that carry on from its ends.
fn add_approaches(decks: &mut [JoinedDeck], roads: &[Road]) {
    let carries_road = |d: &&JoinedDeck| matches!(d.carries, DeckUse::Road(_));
    let ends: BTreeSet<Position> = decks.iter().filter(carries_road).flat_map(ends_of).collect();
    let mut meeting: BTreeMap<Position, Vec<usize>> = BTreeMap::new();
    for (i, road) in roads.iter().enumerate() {
        for node in road.nodes.iter().filter(|n| ends.contains(&n.at)) {
            meeting.entry(node.at).or_default().push(i);
        }
    }
    for deck in decks.iter_mut().filter(|d| carries_road(&&**d)) {
        let mut near: Vec<Position> = Vec::new();
        for end in ends_of(deck) {
            let there = meeting.get(&end).into_iter().flatten().flat_map(|i| &roads[*i].nodes);
            near.extend(there.map(|n| n.at).filter(|p| distance_m(*p, end) <= APPROACH_M));
        }
        near.sort_unstable();
        near.dedup();
        deck.approach = near;
    }
}

/// First and last position of a deck.
fn ends_of(deck: &JoinedDeck) -> impl Iterator<Item = Position> + use<> {
    deck.line.first().copied().into_iter().chain(deck.line.last().copied())
}
