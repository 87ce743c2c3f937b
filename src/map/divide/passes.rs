//! The passes over the file: relations, then ways, then nodes go to the disk, split into shares.
use std::fs::File;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::shares::DivideShares;
use crate::base::error::Result;
use crate::base::geodesy::Position;
use crate::base::progress::Progress;
use crate::base::spill::{Spill, SpillFolder, Spilled, packed};
use crate::map::extract::blocks::{Blocks, batches, cannot_open, sha256};
use crate::map::extract::frames::{self, DataBlock, Frames};
use crate::map::extract::model::ExtractInfo;
use crate::map::extract::pbf::{self, Block, Damage, Kinds};
use crate::map::extract::select::{self, Members, PointDraft, RelationDraft};
use crate::map::extract::steps::ids;

/// The frames of an extract.
///
/// # Errors
/// It cannot be read or is not whole.
pub(super) fn frames(path: &Path) -> Result<Frames> {
    let mut file = File::open(path).map_err(|e| cannot_open(path, &e))?;
    frames::walk(path, &mut file)
}

/// What the file holds, on the disk.
pub(super) struct Passes<'f> {
    /// [`RelationDraft`]s, by the share of the relation.
    pub relations: Spilled<'f, u32>,
    /// [`select::WayDraft`]s in file order, by the share of the way.
    pub ways: Spilled<'f, u32>,
    /// [`NodeUses`], by the share of the nodes.
    pub uses: Spilled<'f, u32>,
    /// [`NodeNews`], by the share of the nodes.
    pub nodes: Spilled<'f, u32>,
    /// What was counted.
    pub info: ExtractInfo,
}

/// Nodes of one share that follow each other in a way.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct NodeUses {
    /// The share of the way.
    pub way_share: u32,
    /// The place of the first in the list of all references of that share's ways.
    pub slot: u64,
    /// Node ids.
    #[serde(with = "ids")]
    pub ids: Vec<i64>,
}

/// What a block tells of the nodes of one share.
#[derive(Debug, Serialize, Deserialize)]
pub(super) enum NodeNews {
    /// Ids, longitudes and latitudes, each as its step from the one before.
    Places(Vec<(i64, i64, i64)>),
    /// A node that is something by itself.
    Point(PointDraft),
    /// A node whose coordinates are not on the earth, and whether it has tags.
    Bad(i64, bool),
}

/// The share of some nodes, and [`NodeNews`] of them, packed.
type PackedNews = (u32, Result<Vec<u8>>);

/// Reads a file.
pub(super) struct FilePasses<'a, 'f> {
    /// Runs over its blocks.
    pub blocks: Blocks<'a>,
    /// Its frames.
    pub frames: &'a Frames,
    /// Where things go.
    pub folder: &'f SpillFolder,
    /// How they are split.
    pub shares: DivideShares,
}

impl<'a, 'f> FilePasses<'a, 'f> {
    /// A reading of a file.
    pub fn new(
        (path, frames): (&'a Path, &'a Frames),
        folder: &'f SpillFolder,
        shares: DivideShares,
        progress: &'a dyn Progress,
    ) -> Self {
        Self { blocks: Blocks { path, progress }, frames, folder, shares }
    }

    fn spill(&self) -> Result<Spill<'f, u32>> {
        Spill::new(self.folder, self.shares.buffer_bytes)
    }

    /// Reads the file: its sum and its relations in one pass, then its ways, then its nodes. Of all that is read, only the ids
    /// of the ways that relations are made of stay in memory.
    ///
    /// # Errors
    /// The file is damaged, or the disk full.
    pub fn run(&self) -> Result<Passes<'f>> {
        let (sum, survey) = rayon::join(|| sha256(self.blocks.path), || self.survey());
        let ((sha256, bytes), mut survey) = (sum?, survey?);
        if bytes != self.frames.bytes {
            return Err(super::stamp::changed(self.blocks.path));
        }
        let members = std::mem::take(&mut survey.members).sorted();
        let having = |wanted: fn(&Kinds) -> bool| -> Vec<DataBlock> {
            self.frames.data.iter().zip(&survey.kinds).filter(|(_, k)| wanted(k)).map(|(f, _)| *f).collect()
        };
        let (ways, way_spill, uses) = self.ways(&having(|k| k.ways), &members)?;
        drop(members);
        let (nodes, node_spill) = self.nodes(&having(|k| k.nodes))?;
        let counted = ExtractInfo { nodes, ways, relations: survey.count, sha256, ..ExtractInfo::default() };
        Ok(Passes {
            relations: survey.relations,
            ways: way_spill,
            uses,
            nodes: node_spill,
            info: self.frames.info(counted),
        })
    }

    fn survey(&self) -> Result<Surveyed<'f>> {
        let look = |bytes: &[u8]| {
            let kinds = pbf::kinds(bytes)?;
            Ok((kinds, if kinds.relations { select::relations(&Block::decode(bytes)?)? } else { (0, Vec::new()) }))
        };
        let (mut kinds, mut count, mut members, mut spill) = (Vec::new(), 0, MemberIds::default(), self.spill()?);
        self.blocks.each("relations", &self.frames.data, look, |(held, (number, relations))| {
            kinds.push(held);
            count += number;
            members.take(&relations);
            relations.iter().try_for_each(|r: &RelationDraft| spill.put(self.shares.of_object(r.id), r))
        })?;
        Ok(Surveyed { kinds, count, members, relations: spill.finish()? })
    }

    fn ways(&self, frames: &[DataBlock], members: &Members) -> Result<(u64, Spilled<'f, u32>, Spilled<'f, u32>)> {
        let (mut total, mut ways, mut uses) = (0, self.spill()?, self.spill()?);
        let mut slots = vec![0_u64; self.shares.count as usize];
        let decode = |bytes: &[u8]| -> Result<_, Damage> {
            let (count, drafts) = select::ways(&Block::decode(bytes)?, members)?;
            let packed: Vec<_> =
                drafts.iter().map(|way| (self.shares.of_object(way.id), packed(way), self.runs(&way.refs))).collect();
            Ok((count, packed))
        };
        self.blocks.each("ways", frames, decode, |(count, drafts)| {
            total += count;
            for (way_share, draft, runs) in drafts {
                ways.put_bytes(way_share, &draft?)?;
                for ids in runs {
                    let Some(first) = ids.first() else { continue };
                    let (share, slot) = (self.shares.of_node(*first), slots[way_share as usize]);
                    slots[way_share as usize] += ids.len() as u64;
                    uses.put(share, &NodeUses { way_share, slot, ids })?;
                }
            }
            Ok(())
        })?;
        Ok((total, ways.finish()?, uses.finish()?))
    }

    /// References in runs of one share of nodes each.
    fn runs(&self, refs: &[i64]) -> Vec<Vec<i64>> {
        refs.chunk_by(|a, b| self.shares.of_node(*a) == self.shares.of_node(*b)).map(<[i64]>::to_vec).collect()
    }

    fn nodes(&self, frames: &[DataBlock]) -> Result<(u64, Spilled<'f, u32>)> {
        let (mut total, mut spill) = (0, self.spill()?);
        let progress = self.blocks.progress;
        progress.begin("nodes", "blocks", Some(frames.len() as u64));
        for batch in batches(frames) {
            for (count, news) in self.blocks.batch(batch, |bytes| self.news(bytes))? {
                total += count;
                news.into_iter().try_for_each(|(share, news)| spill.put_bytes(share, &news?))?;
            }
        }
        progress.end();
        Ok((total, spill.finish()?))
    }

    /// What one block tells of nodes, packed by share.
    fn news(&self, bytes: &[u8]) -> Result<(u64, Vec<PackedNews>), Damage> {
        let mut harvest = select::nodes(&Block::decode(bytes)?, Some)?;
        // In shares, and in each in order of id, where they are found fastest and steps are short.
        harvest.places.sort_by_key(|(id, _)| (self.shares.of_node(*id), *id));
        let by_share = harvest.places.chunk_by(|a, b| self.shares.of_node(a.0) == self.shares.of_node(b.0));
        let mut news: Vec<PackedNews> = by_share
            .filter_map(|places| {
                Some((self.shares.of_node(places.first()?.0), packed(&NodeNews::Places(place_steps(places)))))
            })
            .collect();
        news.extend(harvest.points.into_iter().map(|p| (self.shares.of_node(p.id), packed(&NodeNews::Point(p)))));
        let bad = harvest.bad.into_iter();
        news.extend(bad.map(|(id, tagged)| (self.shares.of_node(id), packed(&NodeNews::Bad(id, tagged)))));
        Ok((harvest.count, news))
    }
}

/// Numbered places, each as its step from the one before.
pub(super) fn place_steps(places: &[(i64, Position)]) -> Vec<(i64, i64, i64)> {
    let (mut before, mut lon, mut lat) = (0_i64, 0_i64, 0_i64);
    let step = |(id, at): &(i64, Position)| {
        let (lon_e7, lat_e7) = (i64::from(at.lon_e7), i64::from(at.lat_e7));
        let step = (id.wrapping_sub(before), lon_e7 - lon, lat_e7 - lat);
        (before, lon, lat) = (*id, lon_e7, lat_e7);
        step
    };
    places.iter().map(step).collect()
}

/// The places again.
pub(super) fn stepped(steps: &[(i64, i64, i64)]) -> impl Iterator<Item = (i64, Position)> {
    let (mut id, mut lon, mut lat) = (0_i64, 0_i64, 0_i64);
    steps.iter().map(move |step| {
        (id, lon, lat) = (id.wrapping_add(step.0), lon + step.1, lat + step.2);
        (id, Position { lon_e7: lon as i32, lat_e7: lat as i32 })
    })
}

struct Surveyed<'f> {
    kinds: Vec<Kinds>,
    count: u64,
    members: MemberIds,
    relations: Spilled<'f, u32>,
}

/// The member ways of relations as they come, with few repeats.
#[derive(Default)]
struct MemberIds {
    members: Members,
    /// Ids held when repeats were last taken out.
    once: usize,
}

/// Repeats are not taken out of fewer ids than this.
const FEW_IDS: usize = 1 << 16;

impl MemberIds {
    fn take(&mut self, relations: &[RelationDraft]) {
        self.members.extend(relations);
        if self.members.all.len() > 2 * self.once.max(FEW_IDS) {
            self.members.sort();
            self.once = self.members.all.len();
        }
    }
    fn sorted(mut self) -> Members {
        self.members.sort();
        self.members
    }
}
