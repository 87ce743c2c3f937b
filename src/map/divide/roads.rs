//! Which roads belong to which districts: those that lie in or near one, tunnels and ferries as long as they go on, and every
//! road that shares a node with one of them.
use std::collections::{BTreeMap, HashMap};

use super::filing::{DistrictRoad, PieceNodes};
use super::shares::DivideShares;
use super::sheet::{BundleKind, ObjectRank, Sheet};
use crate::base::district::District;
use crate::base::error::Result;
use crate::base::spill::{Records, Spilled, packed};

/// Districts in order, each once.
type Districts = Vec<District>;

fn united<'d>(sets: impl Iterator<Item = &'d Districts>) -> Districts {
    let mut all: Districts = sets.flatten().copied().collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// Districts of the ways that go on beyond lines. They go where one of those goes that they are joined to node by node; all
/// pieces of a way go where one does. These ways are few and stay in memory: some hundred bytes each.
pub(super) fn follow(covered: &[PieceNodes]) -> HashMap<i64, Districts> {
    let mut groups = Groups((0..covered.len()).collect());
    let mut at: HashMap<i64, usize> = HashMap::new();
    for (index, piece) in covered.iter().enumerate() {
        for node in &piece.nodes {
            let other = *at.entry(*node).or_insert(index);
            groups.join(index, other);
        }
    }
    let mut of_groups: HashMap<usize, Districts> = HashMap::new();
    for (index, piece) in covered.iter().enumerate() {
        of_groups.entry(groups.of(index)).or_default().extend(&piece.districts);
    }
    let mut of_ways: HashMap<i64, Districts> = HashMap::new();
    for (index, piece) in covered.iter().enumerate() {
        let own = of_groups.get(&groups.of(index));
        of_ways.entry(piece.way).or_default().extend(own.into_iter().flatten());
    }
    of_ways.values_mut().for_each(|districts| *districts = united([&*districts].into_iter()));
    of_ways
}

/// Things that belong together, by the number of another one in the group.
struct Groups(Vec<usize>);

impl Groups {
    fn of(&mut self, mut index: usize) -> usize {
        while self.0[index] != index {
            self.0[index] = self.0[self.0[index]];
            index = self.0[index];
        }
        index
    }
    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.of(a), self.of(b));
        self.0[a.max(b)] = a.min(b);
    }
}

/// Pieces that share a node of one share with a road of a district in which they are not: the share of their way, the way, the
/// piece, and the districts.
pub(super) type Contact = (i64, u32, Districts);

/// Contacts at the nodes of one share, by the share of the way.
///
/// # Errors
/// The disk fails.
pub(super) fn contacts(nodes: &Spilled<u32>, shares: &DivideShares, share: u32) -> Result<BTreeMap<u32, Vec<u8>>> {
    let pieces: Vec<PieceNodes> = nodes.all(share)?;
    let mut at: Vec<(i64, usize)> = pieces
        .iter()
        .enumerate()
        .flat_map(|(index, piece)| piece.nodes.iter().map(move |node| (*node, index)))
        .collect();
    at.sort_unstable();
    let mut found: BTreeMap<(i64, u32), Districts> = BTreeMap::new();
    for met in at.chunk_by(|a, b| a.0 == b.0) {
        let mut here = met.iter().map(|(_, index)| &pieces[*index]);
        let same = here.next().is_none_or(|first| here.all(|piece| piece.districts == first.districts));
        if same {
            continue;
        }
        let all = united(met.iter().map(|(_, index)| &pieces[*index].districts));
        for piece in met.iter().map(|(_, index)| &pieces[*index]).filter(|piece| piece.districts != all) {
            let missing = all.iter().filter(|district| piece.districts.binary_search(district).is_err());
            found.entry((piece.way, piece.ordinal)).or_default().extend(missing);
        }
    }
    let mut out: BTreeMap<u32, Vec<u8>> = BTreeMap::new();
    for ((way, ordinal), districts) in found {
        let contact: Contact = (way, ordinal, united([&districts].into_iter()));
        out.entry(shares.of_object(way)).or_default().extend(packed(&contact)?);
    }
    Ok(out)
}

/// [`Sheet`]s of the roads of one share, by district.
///
/// # Errors
/// The disk fails.
pub(super) fn sheets(
    roads: &Spilled<u32>,
    contacts: &Spilled<u32>,
    followed: &HashMap<i64, Districts>,
    share: u32,
) -> Result<BTreeMap<District, Vec<u8>>> {
    let mut beside: HashMap<(i64, u32), Districts> = HashMap::new();
    for (way, ordinal, districts) in contacts.all::<Contact>(share)? {
        beside.entry((way, ordinal)).or_default().extend(districts);
    }
    let none = Districts::new();
    let mut out: BTreeMap<District, Vec<u8>> = BTreeMap::new();
    for piece in Records::<DistrictRoad>::of(&roads.read(share)?) {
        let DistrictRoad { way, ordinal, districts, body } = piece?;
        let others = [followed.get(&way), beside.get(&(way, ordinal))].map(|found| found.unwrap_or(&none));
        let sheet = packed(&Sheet { kind: BundleKind::Road, id: way, rank: ObjectRank::Way, ordinal, body })?;
        for district in united([&districts].into_iter().chain(others)) {
            out.entry(district).or_default().extend_from_slice(&sheet);
        }
    }
    Ok(out)
}
