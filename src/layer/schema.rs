//! The tables: each column is declared once, with the kind that stores and reads it.
use rusqlite::types::{ToSqlOutput, Value, ValueRef};

use super::columns::{
    Bytes, ColumnKind, Count, Exact, Expected, Flag, Id, Maybe, Metres, Rate, RatingCode, Seconds, Share, Small, Speed,
    Text, Word,
};
use super::geometry::{self, Bounds};
use super::model::{
    Driven, EdgeRow, EndMaskRow, GroundLineRow, GroundRow, LaneRow, MaskRow, NameRow, NodeRow, OutageRow, OverheadRow,
    PlaceRow, RunRow, SegmentRow, StopRow, WayNodesRow,
};
use crate::base::words::{
    BlockerEvidence, Case, Cause, DrivingSide, Evidence, Highway, Overhang, OverheadKind, PerDirection, RatedBy,
    Rating, RoadAccess, SideFrom, TerrainEvidence, ValueFrom,
};

/// Name of the geometry column of feature tables.
pub(crate) const GEOMETRY: &str = "geom";
/// Primary key of every table of rows. Programs that convert the layer drop or renumber it, so nothing refers to it.
pub(crate) const KEY: &str = "fid";
/// Columns that name a segment across builds.
pub(crate) const STABLE_KEY: &str = "way_id, part";

/// A column.
pub struct Column {
    pub name: &'static str,
    pub sql: &'static str,
    pub nullable: bool,
}

/// A table of the layer.
pub struct Table {
    pub name: &'static str,
    /// What a viewer shows.
    pub title: &'static str,
    /// Its own id, which other tables refer to: a column that every conversion keeps.
    pub id: &'static str,
    /// `LINESTRING`, `POINT` or `POLYGON`; `None` without geometry.
    pub geometry: Option<&'static str>,
    /// Columns besides key, geometry and id.
    pub columns: &'static [Column],
    /// Columns looked up by later commands.
    pub indexed: &'static [&'static str],
}

/// A row that can be stored.
pub trait Row: Sized {
    /// Where it goes.
    const TABLE: Table;
    /// Its own id.
    fn id(&self) -> i64;
    /// Primary key, equal to the id where nothing speaks against it; `None` lets the file count.
    fn fid(&self) -> Option<i64> {
        Some(self.id())
    }
    /// Geometry and its box, for feature tables.
    fn shape(&self) -> Result<Option<(Vec<u8>, Bounds)>, String>;
    /// Values in the order of the columns.
    fn cells(&self) -> Result<Vec<ToSqlOutput<'_>>, String>;
}

impl Table {
    /// Names of all columns in the order of [`stored`]: key, geometry, id, the rest.
    pub fn names(&self) -> Vec<&'static str> {
        let mut names = vec![KEY];
        names.extend(self.geometry.map(|_| GEOMETRY));
        names.push(self.id);
        names.extend(self.columns.iter().map(|c| c.name));
        names
    }
    /// The statement that creates it.
    pub(crate) fn create_sql(&self) -> String {
        let mut sql = format!("CREATE TABLE {} ({KEY} INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL", self.name);
        if let Some(kind) = self.geometry {
            sql += &format!(", {GEOMETRY} {kind} NOT NULL");
        }
        sql += &format!(", {} {} NOT NULL", self.id, Id::SQL);
        for c in self.columns {
            sql += &format!(", {} {}{}", c.name, c.sql, if c.nullable { "" } else { " NOT NULL" });
        }
        sql + ")"
    }
    /// The statement that stores a row.
    pub(crate) fn insert_sql(&self) -> String {
        let names = self.names();
        let marks = vec!["?"; names.len()].join(", ");
        format!("INSERT INTO {} ({}) VALUES ({marks})", self.name, names.join(", "))
    }
    /// Start of a query of whole rows; `tail` begins with `WHERE` or `ORDER BY`.
    pub(crate) fn select_sql(&self, tail: &str) -> String {
        format!("SELECT {} FROM {} {tail}", self.names().join(", "), self.name)
    }
}

/// All values of a row in the order of [`Table::names`].
pub fn stored<R: Row>(row: &R) -> Result<(Vec<ToSqlOutput<'_>>, Option<Bounds>), String> {
    let mut values = vec![ToSqlOutput::Owned(row.fid().map_or(Value::Null, Value::Integer))];
    let mut bounds = None;
    if let Some((bytes, around)) = row.shape()? {
        values.push(ToSqlOutput::Owned(Value::Blob(bytes)));
        bounds = Some(around);
    }
    values.push(ToSqlOutput::Owned(Value::Integer(row.id())));
    values.append(&mut row.cells()?);
    Ok((values, bounds))
}

/// A row that can be read back.
pub(crate) trait Load: Row {
    /// The row from a query made by [`Table::select_sql`].
    fn load(row: &rusqlite::Row<'_>) -> Result<Self, String>;
}

pub(super) fn fetch<K: ColumnKind>(row: &rusqlite::Row<'_>, name: &str) -> Result<K::Value, String> {
    let stored = row.get_ref(name).map_err(|e| e.to_string())?;
    K::load(stored).map_err(|fact| format!("column {name}: {fact}"))
}

/// Places of columns in the order of [`Table::names`]. Looking each up by its name would cost more than all the rest.
pub(super) struct ColumnPlaces {
    pub next: usize,
    pub step: usize,
}

impl ColumnPlaces {
    pub fn take(&mut self) -> usize {
        let at = self.next;
        self.next += self.step;
        at
    }
    /// A column that is not read back.
    fn pass(&mut self, _column: &str) {
        self.next += self.step;
    }
}

pub(super) fn fetch_at<K: ColumnKind>(row: &rusqlite::Row<'_>, at: usize, name: &str) -> Result<K::Value, String> {
    let stored = row.get_ref(at).map_err(|e| e.to_string())?;
    K::load(stored).map_err(|fact| format!("column {name}: {fact}"))
}

pub(super) fn fetch_shape<T>(
    row: &rusqlite::Row<'_>,
    decode: impl Fn(&[u8]) -> Result<T, String>,
) -> Result<T, String> {
    match row.get_ref(GEOMETRY).map_err(|e| e.to_string())? {
        ValueRef::Blob(bytes) => decode(bytes).map_err(|fact| format!("column {GEOMETRY}: {fact}")),
        _ => Err(format!("column {GEOMETRY}: no geometry")),
    }
}

/// Declares the columns of a row: field, column, kind. `also` are columns written a second way and not read back;
/// `per` is a field with a value for each direction, whose columns are all empty where there is none.
macro_rules! table {
    ($row:ident, $name:literal, $title:literal, key $key:ident, indexed $indexed:expr,
     { $($field:ident $column:literal $kind:ty,)* }
     $(, also { $($again:ident $second:literal $as:ty,)* })?
     $(, per $pair:ident $one:ident { $($part:ident $forward:literal $backward:literal $of:ty,)* })?
     $(, $geometry:literal $shape:ident $encode:expr, $decode:path)?) => {
        impl Row for $row {
            const TABLE: Table = Table {
                name: $name,
                title: $title,
                id: stringify!($key),
                geometry: table!(@first $($geometry)?),
                columns: &[
                    $(Column { name: $column, sql: <$kind>::SQL, nullable: <$kind>::NULLABLE },)*
                    $($(Column { name: $second, sql: <$as>::SQL, nullable: <$as>::NULLABLE },)*)?
                    $($(Column { name: $forward, sql: <$of>::SQL, nullable: true },
                        Column { name: $backward, sql: <$of>::SQL, nullable: true },)*)?
                ],
                indexed: $indexed,
            };
            fn id(&self) -> i64 {
                self.$key
            }
            fn shape(&self) -> Result<Option<(Vec<u8>, Bounds)>, String> {
                $(return $encode(&self.$shape).map(Some);)?
                #[allow(unreachable_code)]
                Ok(None)
            }
            fn cells(&self) -> Result<Vec<ToSqlOutput<'_>>, String> {
                Ok(vec![
                    $(store::<$kind>($column, &self.$field)?,)*
                    $($(store::<$as>($second, &self.$again)?,)*)?
                    $($(store_part::<$of, _>($forward, self.$pair.forward.as_ref(), |d| &d.$part)?,
                        store_part::<$of, _>($backward, self.$pair.backward.as_ref(), |d| &d.$part)?,)*)?
                ])
            }
        }
        impl Load for $row {
            fn load(row: &rusqlite::Row<'_>) -> Result<Self, String> {
                let mut at = ColumnPlaces { next: 1 + usize::from(Self::TABLE.geometry.is_some()), step: 1 };
                let $key = fetch_at::<Id>(row, at.take(), stringify!($key))?;
                $(let $field = fetch_at::<$kind>(row, at.take(), $column)?;)*
                $($(at.pass($second);)*)?
                $(let $pair = {
                    let one = |side: usize, names: &[&str]| -> Result<Option<$one>, String> {
                        let mut at = ColumnPlaces { next: at.next + side, step: 2 };
                        if is_empty(row, &at, names)? {
                            return Ok(None);
                        }
                        let mut names = names.iter();
                        Ok(Some($one {
                            $($part: fetch_at::<$of>(row, at.take(), names.next().copied().unwrap_or_default())?,)*
                        }))
                    };
                    PerDirection { forward: one(0, &[$($forward),*])?, backward: one(1, &[$($backward),*])? }
                };)?
                Ok(Self { $key, $($field,)* $($pair,)? $($shape: fetch_shape(row, $decode)?,)? })
            }
        }
    };
    (@first $geometry:literal) => { Some($geometry) };
    (@first) => { None };
}
pub(super) use table;

pub(super) fn store<'a, K: ColumnKind>(column: &str, value: &'a K::Value) -> Result<ToSqlOutput<'a>, String> {
    K::store(value).map_err(|fact| format!("column {column}: {fact}"))
}

/// Stores a part of what may not be there.
fn store_part<'a, K: ColumnKind, T>(
    column: &str,
    whole: Option<&'a T>,
    part: impl Fn(&'a T) -> &'a K::Value,
) -> Result<ToSqlOutput<'a>, String>
where
    K::Value: 'a,
{
    whole.map_or(Ok(ToSqlOutput::Owned(Value::Null)), |w| store::<K>(column, part(w)))
}

/// Whether the first of some columns is empty; the others must be, too, if it is.
fn is_empty(row: &rusqlite::Row<'_>, at: &ColumnPlaces, names: &[&str]) -> Result<bool, String> {
    for (i, name) in names.iter().enumerate() {
        let empty = row.get_ref(at.next + i * at.step).map_err(|e| e.to_string())? == ValueRef::Null;
        match (i, empty) {
            (0, false) => return Ok(false),
            (_, true) => {}
            (_, false) => return Err(format!("column {name}: holds a value, although {} is empty", names[0])),
        }
    }
    Ok(true)
}

pub(super) fn line_shape(line: &[crate::base::geodesy::Position]) -> Result<(Vec<u8>, Bounds), String> {
    match Bounds::around(line) {
        Some(bounds) if line.len() >= 2 => Ok((geometry::encode_line(line, bounds), bounds)),
        _ => Err(format!("a line needs two positions, this one has {}", line.len())),
    }
}

pub(super) fn point_shape(at: &crate::base::geodesy::Position) -> Result<(Vec<u8>, Bounds), String> {
    Ok((geometry::encode_point(*at), Bounds { min: *at, max: *at }))
}

table!(SegmentRow, "segments", "Road segments by rating", key segment_id, indexed &["edge_forward", "edge_backward"], {
    way_id "way_id" Id,
    part "part" Count,
    name "name" Maybe<Text>,
    reference "ref" Maybe<Text>,
    highway "highway" Word<Highway>,
    lanes "lanes" Small,
    lanes_from "lanes_from" Word<ValueFrom>,
    width_m "width_m" Metres,
    width_from "width_from" Word<ValueFrom>,
    speed_kmh "speed_kmh" Speed,
    speed_from "speed_from" Word<ValueFrom>,
    keeps "keeps" Word<DrivingSide>,
    keeps_from "keeps_from" Word<SideFrom>,
    country "country" Maybe<Text>,
    length_m "length_m" Metres,
    rating "rating" RatingCode,
    rating_best "rating_best" RatingCode,
    rating_worst "rating_worst" Maybe<RatingCode>,
    rated_by "rated_by" Word<RatedBy>,
    open_share "open_share" Share,
    open_share_min "open_share_min" Share,
    outage_share "outage_share" Share,
    outage_share_best "outage_share_best" Share,
    outage_share_worst "outage_share_worst" Maybe<Share>,
    outages_per_10km "outages_per_10km" Rate,
    outage_p50_s "outage_p50_s" Seconds,
    outage_p95_s "outage_p95_s" Seconds,
    longest_outage_s "longest_outage_s" Seconds,
    blocked_cover "blocked_cover" Share,
    blocked_deck "blocked_deck" Share,
    blocked_building "blocked_building" Share,
    blocked_terrain "blocked_terrain" Share,
    blocked_canopy "blocked_canopy" Share,
    main_cause "main_cause" Word<Cause>,
    maxheight_m "maxheight_m" Maybe<Metres>,
    overhang "overhang" Flag,
    overhang_reason "overhang_reason" Word<Overhang>,
    evidence_terrain "evidence_terrain" Word<TerrainEvidence>,
    terrain_coarse_share "terrain_coarse_share" Share,
    terrain_unknown_share "terrain_unknown_share" Share,
    evidence_canopy "evidence_canopy" Word<BlockerEvidence>,
    evidence_building "evidence_building" Word<BlockerEvidence>,
    evidence "evidence" Word<Evidence>,
}, also {
    rating "rating_name" Word<Rating>,
}, per driven Driven {
    edge "edge_forward" "edge_backward" Id,
    rating "rating_forward" "rating_backward" RatingCode,
    rating_best "rating_best_forward" "rating_best_backward" RatingCode,
    rating_worst "rating_worst_forward" "rating_worst_backward" Maybe<RatingCode>,
    outage_share_best "outage_share_best_forward" "outage_share_best_backward" Share,
    outage_share_worst "outage_share_worst_forward" "outage_share_worst_backward" Maybe<Share>,
    time_s "time_forward_s" "time_backward_s" Seconds,
    outage_s "outage_forward_s" "outage_backward_s" Seconds,
    outage_p95_s "outage_p95_forward_s" "outage_p95_backward_s" Seconds,
    beyond_blips "beyond_blips_forward" "beyond_blips_backward" Expected,
    beyond_gaps "beyond_gaps_forward" "beyond_gaps_backward" Expected,
    beyond_drops "beyond_drops_forward" "beyond_drops_backward" Expected,
    running_blips "running_blips_forward" "running_blips_backward" Share,
    running_gaps "running_gaps_forward" "running_gaps_backward" Share,
    running_drops "running_drops_forward" "running_drops_backward" Share,
    main_cause "main_cause_forward" "main_cause_backward" Word<Cause>,
}, "LINESTRING" line line_shape, geometry::decode_line);

table!(EdgeRow, "edges", "Directions of travel between junctions", key edge_id, indexed &["from_node", "to_node", "way_id"], {
    from_node "from_node" Id,
    to_node "to_node" Id,
    way_id "way_id" Id,
    forward "forward" Flag,
    length_m "length_m" Metres,
    time_s "time_s" Seconds,
    outage_s "outage_s" Seconds,
    longest_outage_s "longest_outage_s" Seconds,
    rating "rating" RatingCode,
    highway "highway" Word<Highway>,
    access "access" Word<RoadAccess>,
    local "local" Flag,
    unpaved "unpaved" Flag,
    unpaved_from "unpaved_from" Word<ValueFrom>,
    maxheight_m "maxheight_m" Maybe<Metres>,
});

table!(OverheadRow, "overheads", "What stands over the road", key overhead_id, indexed &["segment_id"], {
    segment_id "segment_id" Id,
    kind "kind" Word<OverheadKind>,
    osm_id "osm_id" Id,
    name "name" Maybe<Text>,
    deck_width_m "deck_width_m" Metres,
    covered_m "covered_m" Metres,
    underside_m "underside_m" Metres,
    underside_from "underside_from" Word<ValueFrom>,
    maxheight_m "maxheight_m" Maybe<Metres>,
    half_shadow_s "half_shadow_s" Seconds,
}, "POINT" at point_shape, geometry::decode_point);

table!(LaneRow, "lanes", "Directions of travel along segments", key lane_id, indexed &["segment_id"], {
    segment_id "segment_id" Id,
    forward "forward" Flag,
    stroke "stroke" Count,
    step "step" Count,
    road_kmh "road_kmh" Exact,
    road_kmh_from "road_kmh_from" Word<ValueFrom>,
    climb "climb" Maybe<Exact>,
    overheads "overheads" Maybe<Bytes>,
    outage_from "outage_from" Maybe<Id>,
});

table!(EndMaskRow, "end_masks", "Sky masks at the favourable and unfavourable ends of what is \
                                 assumed", key end_mask_id, indexed &["segment_id"], {
    segment_id "segment_id" Id,
    forward "forward" Flag,
    at "at" Word<Case>,
    stations "stations" Count,
    packed "packed" Bytes,
});

/// Those of a part: names and water come when parts are joined.
pub(super) const PART_TABLES: &[Table] = TABLES.split_at(TABLES.len() - 4).0;
/// The tables that hold rows, in the order they are created; programs that open one table open the first.
pub const TABLES: [Table; 15] = [
    SegmentRow::TABLE,
    EdgeRow::TABLE,
    NodeRow::TABLE,
    WayNodesRow::TABLE,
    OverheadRow::TABLE,
    LaneRow::TABLE,
    RunRow::TABLE,
    MaskRow::TABLE,
    EndMaskRow::TABLE,
    StopRow::TABLE,
    OutageRow::TABLE,
    PlaceRow::TABLE,
    GroundRow::TABLE,
    GroundLineRow::TABLE,
    NameRow::TABLE,
];
