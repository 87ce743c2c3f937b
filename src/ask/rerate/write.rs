//! A layer rated again, written as a layer.
//!
//! Places to stop are carried over: a layer keeps no masks of the hundred places looked at around each, which would be larger than
//! all the rest. Where a change moves which sky counts, the record says that their shares are those of the build.
use super::rated::{Rated, RerateWork};
use super::stored::Stored;
use crate::base::error::Result;
use crate::base::index::{LaneIndex, SegmentIndex};
use crate::base::words::{Case, Cause, Direction, Evidence, PerDirection};
use crate::layer::model::{BuildRecord, EdgeRow, EndMaskRow, LaneRow, MaskRow, OverheadRow, SegmentRow};
use crate::layer::{Layer, LayerWriter};
use crate::physics::sky::shares::{Shares, shares};
use crate::profile::Profile;
use crate::rating::outages::{OutageSources, note_causes};
use crate::rating::overheads::{listed, shadowing};
use crate::rating::summary;
use crate::rating::verdict::{agree, leave_worst_unknown};

/// Writes the layer with the figures of a rating. What depends on the build alone (evidence, overhang) stays.
pub(super) fn write(work: &RerateWork, rated: &Rated, mut writer: LayerWriter) -> Result<()> {
    let (layer, stored) = (work.layer, work.stored);
    let mut record = begin(layer, rated);
    let mut causes = vec![Cause::None; 2 * stored.rows.len()];
    for (id, row) in SegmentIndex::numbered(&stored.rows) {
        let row = segment(stored, rated, id, row)?;
        note_causes(&mut causes, id, &row);
        summary::count_segment(&mut record, &row);
        summary::count_chance(&mut record, &row, rated.verdicts().is_by_chance(&stored.judged(id)));
        writer.segment(&row)?;
        for row in overheads(work, rated, id)? {
            writer.overhead(&row)?;
        }
        let judged = stored.judged(id);
        for direction in judged.directions() {
            let lane = id.lane(direction);
            if let Some((packed, stations)) = stored.masks.packed(lane, Case::Likely)? {
                let forward = direction == Direction::Forward;
                write_ends(stored, lane, &mut writer)?;
                writer.masks(&MaskRow {
                    mask_id: lane.row_id(),
                    segment_id: row.segment_id,
                    forward,
                    stations,
                    packed,
                })?;
            }
        }
    }
    write_edges(work, rated, &mut writer)?;
    for row in layer.nodes()? {
        writer.node(&row)?;
    }
    layer.each_way_nodes(|row| writer.way_nodes(&row))?;
    for row in layer.stops()? {
        writer.stop(&row)?;
    }
    write_backdrop(layer, &mut writer)?;
    let sources = OutageSources {
        profile: &rated.profile,
        pieces: &stored.pieces,
        strokes: &stored.strokes,
        stats: rated.stats_by_stroke(),
        causes: &causes,
        id_of: &SegmentIndex::row_id,
    };
    let outages = sources.find();
    for row in &stored.lane_rows {
        let lane = SegmentIndex::of_row(row.segment_id).map(|id| id.lane(Direction::of(row.forward)));
        let outage_from = lane.and_then(|lane| outages.begun.get(&lane)).map(|from| from.row_id());
        writer.lane(&LaneRow { outage_from, ..row.clone() })?;
    }
    for row in layer.runs()? {
        writer.run(&row)?;
    }
    for row in &outages.rows {
        writer.outage(row)?;
    }
    record.counts.insert("outages".to_owned(), outages.rows.len() as u64);
    summary::round_km(&mut record);
    writer.finish(&record)
}

/// Names and water, from which nothing is rated, as they are.
fn write_backdrop(layer: &Layer, writer: &mut LayerWriter) -> Result<()> {
    layer.named_places()?.iter().try_for_each(|row| writer.place(row))?;
    layer.ground()?.iter().try_for_each(|row| writer.ground(row))?;
    layer.ground_lines()?.iter().try_for_each(|row| writer.ground_line(row))
}

/// Writes the masks of a lane at best and at worst, where it has such.
fn write_ends(stored: &Stored, lane: LaneIndex, writer: &mut LayerWriter) -> Result<()> {
    let (segment_id, forward) = (lane.segment().row_id(), lane.direction().is_forward());
    for at in [Case::Best, Case::Worst].into_iter().filter(|_| stored.masks.apart(lane)) {
        if let Some((packed, stations)) = stored.masks.packed(lane, at)? {
            let end_mask_id = EndMaskRow::id_of(lane.row_id(), at);
            writer.end_masks(&EndMaskRow { end_mask_id, segment_id, forward, at, stations, packed })?;
        }
    }
    Ok(())
}

fn segment(stored: &Stored, rated: &Rated, id: SegmentIndex, row: &SegmentRow) -> Result<SegmentRow> {
    let judged = stored.judged(id);
    let mut found: PerDirection<Option<Shares>> = PerDirection::default();
    for direction in judged.directions() {
        found[direction] = lane_shares(stored, rated, id.lane(direction))?;
    }
    let mut row = SegmentRow { length_m: judged.piece.length_m, ..row.clone() };
    rated.verdicts().fill(&mut row, &judged, &|lane| found[lane.direction()]);
    if stored.profile.terminal != rated.profile.terminal && row.terrain_unknown_share > 0.0 {
        // Of another part of the sky nobody knows how much ground that is not known could hide.
        row.evidence = Evidence::Unknown;
    }
    match row.evidence {
        Evidence::Unknown => leave_worst_unknown(&mut row),
        // Under other assumptions on the link what is assumed about the roadside may begin to matter.
        Evidence::Data if !agree(&row) => row.evidence = Evidence::Default,
        Evidence::Data | Evidence::Default => {}
    }
    Ok(row)
}

/// What a lane sees under the profile; nothing on a ferry.
fn lane_shares(stored: &Stored, rated: &Rated, lane: LaneIndex) -> Result<Option<Shares>> {
    let masks = stored.masks.of(lane, Case::Likely)?;
    if masks.is_empty() {
        return Ok(None);
    }
    let piece = &stored.pieces[lane.segment().at()];
    let overheads = shadowing(&stored.links, &stored.own, lane);
    let weights = rated.skies.weights(piece, piece.middle_heading_deg(lane.direction()));
    let seen = rated.skies.seen_through(&weights);
    Ok(Some(shares(&seen, &masks, piece.length_m, &overheads).unwrap_or_default()))
}

fn overheads(work: &RerateWork, rated: &Rated, id: SegmentIndex) -> Result<Vec<OverheadRow>> {
    let stored = work.stored;
    let judged = stored.judged(id);
    let rows = work.layer.overheads(id.row_id())?;
    let listed = listed(id, judged.piece.length_m, judged.directions(), &stored.own);
    let half_shadow_s = |(lane, i): (LaneIndex, usize)| {
        rated.verdicts().shadow_s(&rated.skies, judged.piece, lane, &stored.own[lane.at()], i)
    };
    Ok(rows.into_iter().zip(listed).map(|(row, at)| OverheadRow { half_shadow_s: half_shadow_s(at), ..row }).collect())
}

fn write_edges(work: &RerateWork, rated: &Rated, writer: &mut LayerWriter) -> Result<()> {
    let mut by_edge: std::collections::BTreeMap<i64, Vec<SegmentIndex>> = std::collections::BTreeMap::new();
    for (id, row) in SegmentIndex::numbered(&work.stored.rows) {
        for edge in Direction::BOTH.into_iter().filter_map(|d| row.driven[d]).map(|d| d.edge) {
            by_edge.entry(edge).or_default().push(id);
        }
    }
    for edge in work.layer.edges() {
        let mut row: EdgeRow = edge?;
        let mut segments = by_edge.remove(&row.edge_id).unwrap_or_default();
        // Segments of an edge are numbered in node order.
        if !row.forward {
            segments.reverse();
        }
        rated.verdicts().fill_edge(&mut row, &segments, &work.stored.pieces);
        writer.edge(&row)?;
    }
    Ok(())
}

/// Said once where shares of stops are no longer those of the profile.
const STOPS_CARRIED: &str =
    "stops: open shares and best places are still those of the build, for its panel and its satellites";

/// Sentences of a record, with one on stops where their shares would be others in a new build.
fn with_word_on_stops(mut kept: Vec<String>, before: &Profile, now: &Profile) -> Vec<String> {
    let moved = before.terminal != now.terminal
        || before.constellation != now.constellation
        || before.link.elevation_preference != now.link.elevation_preference;
    if moved && !kept.iter().any(|s| s == STOPS_CARRIED) && kept.iter().any(|s| s.starts_with("stops: ")) {
        kept.push(STOPS_CARRIED.into());
    }
    kept
}

/// The stored record under the profile, ready for kilometres to be counted.
fn begin(layer: &Layer, rated: &Rated) -> BuildRecord {
    let mut record = layer.record().clone();
    let BuildRecord { km_by_rating, km_by_cause, km_by_evidence, km_by_side, .. } = &mut record;
    for km in [km_by_rating, km_by_cause, km_by_evidence, km_by_side] {
        km.clear();
    }
    record.km_by_rating_best.clear();
    record.km_by_chance = 0.0;
    record.km_by_rating_worst.clear();
    let (before, now) = (summary::assumed_by(&record.profile), summary::assumed_by(&rated.profile));
    let sky_before = record.assumed.len().saturating_sub(rated.skies.expected().count());
    let kept: Vec<String> = record.assumed.drain(..sky_before).skip(before.len()).collect();
    let kept = with_word_on_stops(kept, &layer.record().profile, &rated.profile);
    record.assumed = [now, kept, summary::expected(&rated.skies)].concat();
    record.profile = rated.profile.clone();
    record
}
