//! What is the same in every layer of this version.

/// Version of the tables of the layer. Readers refuse files with another one.
pub const SCHEMA_VERSION: u32 = 13;

/// The moment written wherever the file format asks for one and the map data gives none: the beginning of Unix time, never
/// the clock's, so that equal builds give equal bytes.
pub(super) const NO_TIME: &str = "1970-01-01T00:00:00.000Z";

/// Begin of every SQLite file (SQLite file format, 1.3.1).
pub(super) const SQLITE: &[u8] = b"SQLite format 3\0";

/// Identifier of the only coordinate system used, WGS 84 longitude and latitude.
pub(super) const SRS_ID: i32 = 4326;

/// Longest text or bytes in a row that are read: twice what the masks of a segment unpack to.
pub(super) const LONGEST_BYTES: i32 = 32 << 20;
