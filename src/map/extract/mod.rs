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
mod barred;
mod building;
mod cover;
mod features;
mod frames;
mod nodes;
mod pbf;
mod rings;
mod road;
mod select;
mod stop;
mod tags;
mod tags_barred;
mod tags_cover;
mod tags_deck;
mod tags_road;
mod tags_side;
mod tags_stop;
#[cfg(test)]
mod tests_tags;

use std::fs::File;
use std::io::Read;
use std::path::Path;

use rayon::prelude::*;
use sha2::{Digest, Sha256};

use crate::base::error::{Error, Result};
use crate::base::input::cannot_read;
use crate::base::progress::Progress;
use assemble::Drafts;
use frames::{DataBlock, Frames};
use model::{Extract, ExtractInfo};
use nodes::NodeTable;
use pbf::{Block, Damage, Kinds};
use select::{Members, RelationDraft, WayDraft};

/// Blocks in flight for each thread; enough to keep threads busy, at most 32 MiB each.
const BLOCKS_PER_THREAD: usize = 4;
/// Bytes hashed at a time.
const HASH_CHUNK_BYTES: usize = 1 << 20;

fn cannot_open(path: &Path, error: &std::io::Error) -> Error {
    cannot_read(path, error, "Check the path and that you may read it.")
}

/// Refuses what is not a file on disk before it is opened: opening a pipe would wait for its other end, and
/// an extract is read in several passes.
fn check_file(path: &Path) -> Result<()> {
    let metadata = std::fs::metadata(path).map_err(|e| cannot_open(path, &e))?;
    if metadata.is_dir() {
        return Err(Error::file(path, "is a folder", "Give the .osm.pbf file itself."));
    }
    if !metadata.is_file() {
        let next = "Save the extract to a file first; it is read in several passes.";
        return Err(Error::file(path, "is a pipe or device, not a file", next));
    }
    Ok(())
}

/// Reads an extract. `progress` counts blocks, one stage for each kind of object.
pub fn read(path: &Path, progress: &dyn Progress) -> Result<Extract> {
    check_file(path)?;
    let mut file = File::open(path).map_err(|e| cannot_open(path, &e))?;
    let frames = frames::walk(path, &mut file)?;
    let blocks = Blocks { path, progress };
    let (sha256, survey) = rayon::join(|| sha256(path), || survey(&blocks, &frames.data));
    let (sha256, survey) = (sha256?, survey?);

    let members = Members::of(&survey.relations);
    let with_ways = survey.having(&frames.data, |k| k.ways);
    let with_nodes = survey.having(&frames.data, |k| k.nodes);
    let (way_count, ways) = read_ways(&blocks, &with_ways, &members)?;
    let mut table = NodeTable::of(ways.iter().flat_map(|w| w.refs.iter().copied()).collect());

    let mut drafts = Drafts { ways, relations: survey.relations, ..Drafts::default() };
    let node_count = read_nodes(&blocks, &with_nodes, &mut table, &mut drafts)?;
    check_places(path, &frames, &table)?;

    let mut extract = assemble::assemble(drafts, &table);
    extract.defects.merge(frames.passed_over());
    extract.info = ExtractInfo {
        nodes: node_count,
        ways: way_count,
        relations: survey.relation_count,
        blocks: frames.data.len() as u64,
        bytes: frames.bytes,
        sha256,
        writing_program: frames.header.writing_program,
        data_time_unix_s: frames.header.data_time_unix_s,
    };
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
    })?;
    Ok(survey)
}

fn read_ways(blocks: &Blocks, frames: &[DataBlock], members: &Members) -> Result<(u64, Vec<WayDraft>)> {
    let (mut total, mut ways) = (0, Vec::new());
    let decode = |bytes: &[u8]| select::ways(&Block::decode(bytes)?, members);
    blocks.each("ways", frames, decode, |(count, drafts)| {
        total += count;
        ways.extend(drafts);
    })?;
    Ok((total, ways))
}

fn read_nodes(blocks: &Blocks, frames: &[DataBlock], table: &mut NodeTable, drafts: &mut Drafts) -> Result<u64> {
    let mut total = 0;
    blocks.progress.begin("nodes", "blocks", Some(frames.len() as u64));
    for batch in frames.chunks(batch_length()) {
        // The table is read by all threads of a batch and written between batches.
        let shared: &NodeTable = table;
        let harvests = blocks.batch(batch, |bytes| select::nodes(&Block::decode(bytes)?, shared))?;
        for harvest in harvests {
            total += harvest.count;
            harvest.places.into_iter().for_each(|(index, at)| table.set(index, at));
            drafts.points.extend(harvest.points);
            drafts.bad_nodes.extend(harvest.bad);
        }
    }
    blocks.progress.end();
    Ok(total)
}

/// Files that keep node places on the ways only would come out empty: say so instead.
fn check_places(path: &Path, frames: &Frames, table: &NodeTable) -> Result<()> {
    let (missing, wanted) = table.missing();
    if frames.header.locations_on_ways && missing * 2 > wanted {
        return Err(Error::file(
            path,
            format!(
                "the positions of nodes are stored on the ways (LocationsOnWays), and {missing} of {wanted} nodes \
                 are not in the file"
            ),
            "Use the extract it was made from, or make it again with `osmium add-locations-to-ways --keep-untagged-nodes`.",
        ));
    }
    Ok(())
}

/// SHA-256 of a file, lower-case hexadecimal.
fn sha256(path: &Path) -> Result<String> {
    let mut file = File::open(path).map_err(|e| frames::unreadable(path, 0, &e))?;
    let mut hash = Sha256::new();
    let mut chunk = vec![0; HASH_CHUNK_BYTES];
    let mut offset = 0;
    loop {
        let read = file.read(&mut chunk).map_err(|e| frames::unreadable(path, offset, &e))?;
        if read == 0 {
            break;
        }
        hash.update(&chunk[..read]);
        offset += read as u64;
    }
    Ok(hash.finalize().iter().map(|b| format!("{b:02x}")).collect())
}

fn batch_length() -> usize {
    rayon::current_num_threads() * BLOCKS_PER_THREAD
}

/// Runs over the blocks of a file.
struct Blocks<'a> {
    path: &'a Path,
    progress: &'a dyn Progress,
}

impl Blocks<'_> {
    /// Decodes blocks in parallel and takes the results in file order.
    fn each<T: Send>(
        &self,
        stage: &str,
        frames: &[DataBlock],
        decode: impl Fn(&[u8]) -> Result<T, Damage> + Sync,
        mut take: impl FnMut(T),
    ) -> Result<()> {
        self.progress.begin(stage, "blocks", Some(frames.len() as u64));
        for batch in frames.chunks(batch_length()) {
            self.batch(batch, &decode)?.into_iter().for_each(&mut take);
        }
        self.progress.end();
        Ok(())
    }

    /// Decodes one batch; the error is that of the first block that has one.
    fn batch<T: Send>(
        &self,
        batch: &[DataBlock],
        decode: impl Fn(&[u8]) -> Result<T, Damage> + Sync,
    ) -> Result<Vec<T>> {
        let results: Vec<Result<T>> = batch.par_iter().map(|frame| self.one(frame, &decode)).collect();
        results.into_iter().collect()
    }

    fn one<T>(&self, frame: &DataBlock, decode: impl Fn(&[u8]) -> Result<T, Damage>) -> Result<T> {
        let mut file = File::open(self.path).map_err(|e| frames::unreadable(self.path, frame.offset, &e))?;
        let bytes = frames::block_bytes(self.path, &mut file, frame)?;
        let decoded = decode(&bytes).map_err(|damage| frames::corrupt(self.path, frame.block, frame.offset, damage))?;
        self.progress.advance(1);
        Ok(decoded)
    }
}
