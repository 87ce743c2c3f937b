//! Reads a map extract (OSM PBF) into [`model::Extract`].
//!
//! In: a `.osm.pbf` file with zlib or raw blocks. Out: roads, canopy, buildings, barriers, decks,
//! stops, water and tracks with their tags parsed, geometry resolved, order independent of the order in the file.
//! Does not apply defaults and does not know rasters.
//!
//! The frames are walked first (`frames`), which finds broken files early. Then every block is
//! unpacked once to learn what it holds and to read relations; ways are decoded when their relations
//! are known, nodes when the ways are: each object is decoded once. Blocks are decoded in parallel in
//! batches and taken in file order, so memory holds a batch and what is wanted, nothing else.
pub mod model;

mod area;
mod assemble;
pub mod backdrop;
mod barred;
pub(crate) mod blocks;
mod building;
mod cover;
pub(crate) mod crossing;
pub(crate) mod features;
pub(crate) mod frames;
pub(crate) mod nodes;
pub(crate) mod pbf;
pub(crate) mod polygons;
mod rings;
mod road;
mod road_node;
pub(crate) mod select;
pub(crate) mod shape;
mod simplify;
pub(crate) mod steps;
mod stop;
mod tags;
mod tags_backdrop;
mod tags_barred;
mod tags_cover;
mod tags_deck;
mod tags_road;
mod tags_side;
mod tags_stop;
#[cfg(test)]
mod tests_tags;

use std::fs::File;
use std::path::Path;

use crate::base::error::Result;
use crate::base::progress::Progress;
use assemble::Drafts;
use blocks::{Blocks, batches, cannot_open, check_file, sha256};
use frames::DataBlock;
use model::{Extract, ExtractInfo};
use nodes::NodeTable;
use pbf::{Block, Kinds};
use select::{Members, RelationDraft, WayDraft};

/// Reads an extract. `progress` counts blocks, one stage for each kind of object.
pub fn read(path: &Path, progress: &dyn Progress) -> Result<Extract> {
    check_file(path)?;
    let mut file = File::open(path).map_err(|e| cannot_open(path, &e))?;
    let frames = frames::walk(path, &mut file)?;
    let blocks = Blocks { path, progress };
    let (sha256, survey) = rayon::join(|| sha256(path), || survey(&blocks, &frames.data));
    let ((sha256, _), survey) = (sha256?, survey?);

    let members = Members::of(&survey.relations);
    let with_ways = survey.having(&frames.data, |k| k.ways);
    let with_nodes = survey.having(&frames.data, |k| k.nodes);
    let (way_count, ways) = read_ways(&blocks, &with_ways, &members)?;
    let mut table = NodeTable::of(ways.iter().flat_map(|w| w.refs.iter().copied()).collect());

    let mut drafts = Drafts { ways, relations: survey.relations, ..Drafts::default() };
    let node_count = read_nodes(&blocks, &with_nodes, &mut table, &mut drafts)?;
    let (missing, wanted) = table.missing();
    frames.check_places(path, missing as u64, wanted as u64)?;

    let mut extract = assemble::assemble(drafts, &table);
    extract.defects.merge(frames.passed_over());
    let counted = ExtractInfo {
        nodes: node_count,
        ways: way_count,
        relations: survey.relation_count,
        sha256,
        ..ExtractInfo::default()
    };
    extract.info = frames.info(counted);
    Ok(extract)
}

/// What the first look at every block gives.
#[derive(Default)]
struct Survey {
    kinds: Vec<Kinds>,
    relation_count: u64,
    relations: Vec<RelationDraft>,
}

impl Survey {
    fn having(&self, frames: &[DataBlock], wanted: impl Fn(&Kinds) -> bool) -> Vec<DataBlock> {
        frames.iter().zip(&self.kinds).filter(|(_, k)| wanted(k)).map(|(f, _)| *f).collect()
    }
}

fn survey(blocks: &Blocks, frames: &[DataBlock]) -> Result<Survey> {
    let mut survey = Survey::default();
    let look = |bytes: &[u8]| {
        let kinds = pbf::kinds(bytes)?;
        let found = if kinds.relations { select::relations(&Block::decode(bytes)?)? } else { (0, Vec::new()) };
        Ok((kinds, found))
    };
    blocks.each("relations", frames, look, |(kinds, (count, relations))| {
        survey.kinds.push(kinds);
        survey.relation_count += count;
        survey.relations.extend(relations);
        Ok(())
    })?;
    Ok(survey)
}

fn read_ways(blocks: &Blocks, frames: &[DataBlock], members: &Members) -> Result<(u64, Vec<WayDraft>)> {
    let (mut total, mut ways) = (0, Vec::new());
    let decode = |bytes: &[u8]| select::ways(&Block::decode(bytes)?, members);
    blocks.each("ways", frames, decode, |(count, drafts)| {
        total += count;
        ways.extend(drafts);
        Ok(())
    })?;
    Ok((total, ways))
}

fn read_nodes(blocks: &Blocks, frames: &[DataBlock], table: &mut NodeTable, drafts: &mut Drafts) -> Result<u64> {
    let mut total = 0;
    blocks.progress.begin("nodes", "blocks", Some(frames.len() as u64));
    for batch in batches(frames) {
        // The table is read by all threads of a batch and written between batches.
        let shared: &NodeTable = table;
        let harvests = blocks.batch(batch, |bytes| {
            let mut hint = 0;
            select::nodes(&Block::decode(bytes)?, |id| shared.find(id, &mut hint))
        })?;
        for harvest in harvests {
            total += harvest.count;
            harvest.places.into_iter().for_each(|(index, at)| table.set(index, at));
            drafts.points.extend(harvest.points);
            drafts.bad_nodes.extend(harvest.bad.into_iter().map(|(id, _)| id));
        }
    }
    blocks.progress.end();
    Ok(total)
}
