//! What belongs to segments or lies beside them: overheads, places to stop, names of places, water. Each once.
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap, HashSet};

use super::piece::{RowOf, WayPiece, lower};
use super::placed::PlacedRows;
use crate::ask::matching::nearest;
use crate::base::district::District;
use crate::base::error::Result;
use crate::base::geodesy::{LocalPlane, Position};
use crate::base::words::{GroundKind, GroundLineKind, MapObject, OverheadKind, Roofed, StopKind};
use crate::layer::model::{GroundLineRow, GroundRow, OverheadRow, PlaceRow, StopRow};
use crate::layer::{Bounds, Layer, LayerWriter};

/// What stands over the pieces of a way, by piece; `ids` are those that the pieces have been given. Ids are still to come.
///
/// # Errors
/// A layer cannot be read.
pub(super) fn overheads(layers: &[Layer], pieces: &[WayPiece], ids: &[i64]) -> Result<Vec<OverheadRow>> {
    let mut of_row: BTreeMap<RowOf, Vec<usize>> = BTreeMap::new();
    for (at, piece) in pieces.iter().enumerate() {
        piece.rows().for_each(|row| of_row.entry(row).or_default().push(at));
    }
    let mut found: Vec<OverheadRow> = Vec::new();
    let mut known: HashMap<(OverheadKind, i64, Position), usize> = HashMap::new();
    for (row, at) in of_row {
        for overhead in layers[row.layer].overheads(row.id)? {
            // A row that was cut: the part of it that comes nearest.
            let away_mm = |at: &&usize| {
                let plane = LocalPlane::at_position(overhead.at);
                (nearest(&plane, &pieces[**at].row.line).distance_m * 1e3) as u64
            };
            let Some(at) = at.iter().min_by_key(away_mm) else { continue };
            match known.entry((overhead.kind, overhead.osm_id, overhead.at)) {
                Entry::Vacant(free) => {
                    free.insert(found.len());
                    found.push(OverheadRow { segment_id: ids[*at], ..overhead });
                }
                // The lower of two posted clearances counts.
                Entry::Occupied(nth) => {
                    let kept = &mut found[*nth.get()];
                    kept.maxheight_m = lower(kept.maxheight_m, overhead.maxheight_m);
                }
            }
        }
    }
    found.sort_by_key(|o| o.segment_id);
    Ok(found)
}

/// The places to stop of all layers, in boxes where there are some; of one that two layers have the roof, the worse sky and the
/// stricter access count.
///
/// # Errors
/// A layer cannot be read.
pub(super) fn stops(layers: &[Layer], boxes: Option<&[Bounds]>, placed: &PlacedRows) -> Result<Vec<StopRow>> {
    let mut found: HashMap<(MapObject, i64, StopKind), (usize, StopRow)> = HashMap::new();
    for (nth, layer) in layers.iter().enumerate() {
        for stop in stops_of(layer, boxes)? {
            let row = RowOf { layer: nth, id: stop.segment_id };
            let Some((segment_id, along_m)) = placed.along(row, stop.along_m) else { continue };
            let stop = StopRow { segment_id, along_m, ..stop };
            let key = (stop.osm_type, stop.osm_id, stop.kind);
            let in_e4 = |share: f64| (share * 1e4).round() as i64;
            // A roof, or one that is not known, then the sky at the panel, then that on the vehicle.
            let weight = |s: &StopRow| {
                let roof = [Roofed::Yes, Roofed::Unknown, Roofed::No].iter().position(|r| *r == s.roofed);
                (roof, in_e4(s.best_open_share), in_e4(s.open_share), in_e4(s.road_distance_m))
            };
            match found.entry(key) {
                Entry::Vacant(free) => drop(free.insert((nth, stop))),
                Entry::Occupied(mut kept) => {
                    let access = kept.get().1.access.max(stop.access);
                    if weight(&stop) < weight(&kept.get().1) {
                        kept.insert((nth, stop));
                    }
                    kept.get_mut().1.access = access;
                }
            }
        }
    }
    // As a layer of all of it has them, where equal ones are told in the order of rows.
    let mut rows: Vec<(usize, StopRow)> = found.into_values().collect();
    rows.sort_by_key(|(layer, stop)| (District::of(stop.at), *layer, stop.stop_id));
    Ok((1..).zip(rows).map(|(stop_id, (_, stop))| StopRow { stop_id, ..stop }).collect())
}

/// The places to stop of a layer, in boxes where there are some.
///
/// # Errors
/// It cannot be read.
pub(super) fn stops_of(layer: &Layer, boxes: Option<&[Bounds]>) -> Result<Vec<StopRow>> {
    match boxes {
        None => layer.stops(),
        Some(boxes) => layer.rows_in(boxes),
    }
}

/// Copies names of places, all of them, since positions are told by places far away; and water, in boxes where there are some.
/// How many rows of each.
///
/// # Errors
/// A layer cannot be read, or the joined one not be written.
pub(super) fn backdrop(layers: &[Layer], boxes: Option<&[Bounds]>, writer: &mut LayerWriter) -> Result<[u64; 3]> {
    let mut counts = [0; 3];
    let mut places: HashMap<(MapObject, i64), Vec<PlaceRow>> = HashMap::new();
    let mut water: HashSet<(GroundKind, Vec<Vec<Position>>)> = HashSet::new();
    let mut lines: HashSet<(GroundLineKind, Vec<Position>)> = HashSet::new();
    for layer in layers {
        for row in layer.named_places()? {
            let known = places.entry((row.osm_type, row.osm_id)).or_default();
            if known.iter().all(|k| k.name != row.name || k.kind != row.kind) {
                known.push(row.clone());
                counts[0] += 1;
                writer.place(&PlaceRow { place_id: counts[0] as i64, ..row })?;
            }
        }
        let (areas, rivers): (Vec<GroundRow>, Vec<GroundLineRow>) = match boxes {
            None => (layer.ground()?, layer.ground_lines()?),
            Some(boxes) => (layer.rows_in(boxes)?, layer.rows_in(boxes)?),
        };
        for row in areas {
            if water.insert((row.kind, row.rings.clone())) {
                counts[1] += 1;
                writer.ground(&GroundRow { ground_id: counts[1] as i64, ..row })?;
            }
        }
        for row in rivers {
            if lines.insert((row.kind, row.line.clone())) {
                counts[2] += 1;
                writer.ground_line(&GroundLineRow { ground_line_id: counts[2] as i64, ..row })?;
            }
        }
    }
    Ok(counts)
}
