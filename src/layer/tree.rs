//! Boxes of rows, looked up in the nodes of an R-tree.
//!
//! The nodes are read as rows of the plain table that SQLite keeps them in (`..._node`; source: the comment at the head of
//! SQLite's `rtree.c`), not through the virtual table: a damaged or hostile tree, in which nodes name each other, would keep
//! that busy for ever without a chance to stop it, and here every node is read once.
use std::collections::HashSet;

use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension};

use super::container::rtree_name;
use super::geometry::Bounds;
use super::schema::Table;

/// Number of the root.
const ROOT: i64 = 1;
/// Highest tree that SQLite makes.
const HIGHEST: u16 = 40;
/// Bytes before the cells of a node: height of the tree (in the root), number of cells.
const HEAD: usize = 4;
/// Bytes of a cell: what it leads to, then lowest and highest longitude, lowest and highest latitude.
const CELL: usize = 8 + 4 * 4;

/// The plain table that holds the nodes of the R-tree of a table.
pub(super) fn node_table(table: &Table) -> String {
    format!("{}_node", rtree_name(table))
}

/// The R-tree of a table.
pub(super) struct BoxTree<'a> {
    connection: &'a Connection,
    sql: String,
}

/// Why a tree cannot be read.
pub(super) enum TreeTrouble {
    /// SQLite fails to read the table of its nodes.
    Sql(rusqlite::Error),
    /// What is wrong with the nodes.
    Fact(String),
}

impl From<rusqlite::Error> for TreeTrouble {
    fn from(e: rusqlite::Error) -> Self {
        Self::Sql(e)
    }
}

impl From<String> for TreeTrouble {
    fn from(fact: String) -> Self {
        Self::Fact(fact)
    }
}

/// A node as stored.
struct TreeNode {
    bytes: Vec<u8>,
}

/// A box of a node and what it leads to: a node, or the key of a row.
struct TreeBox {
    to: i64,
    /// Lowest and highest longitude, lowest and highest latitude, degrees.
    edges_deg: [f64; 4],
}

impl<'a> BoxTree<'a> {
    /// The tree of a feature table.
    pub(super) fn of(connection: &'a Connection, table: &Table) -> Self {
        Self { connection, sql: format!("SELECT data FROM {} WHERE nodeno = ?", node_table(table)) }
    }
    /// Keys of rows whose boxes meet a box. Boxes are rounded outwards, so that a few more may be among them.
    ///
    /// # Errors
    /// The file cannot be read, or the tree is damaged.
    pub(super) fn keys(&self, bounds: Bounds) -> Result<Vec<i64>, TreeTrouble> {
        let mut found = Vec::new();
        let root = self.node(ROOT)?;
        let height = root.height()?;
        let mut open = vec![(root, height)];
        let mut seen = HashSet::from([ROOT]);
        while let Some((node, level)) = open.pop() {
            for cell in node.cells()?.filter(|c| c.meets(bounds)) {
                if level == 0 {
                    found.push(cell.to);
                } else if seen.insert(cell.to) {
                    open.push((self.node(cell.to)?, level - 1));
                } else {
                    return Err(TreeTrouble::Fact(format!("node {} is named twice", cell.to)));
                }
            }
        }
        Ok(found)
    }
    /// The box around all rows; nothing where there are none.
    ///
    /// # Errors
    /// The file cannot be read, or the tree is damaged.
    pub(super) fn extent(&self) -> Result<Option<Bounds>, TreeTrouble> {
        let mut all: Option<Bounds> = None;
        for cell in self.node(ROOT)?.cells()? {
            let [west, east, south, north] = cell.edges_deg;
            // Single precision rounds boxes outwards by less than a degree.
            let on_earth =
                [west, east].iter().all(|x| x.abs() < 181.0) && [south, north].iter().all(|y| y.abs() < 91.0);
            if !(on_earth && west <= east && south <= north) {
                let fact = format!("a box from {west},{south} to {east},{north} is not on earth");
                return Err(TreeTrouble::Fact(fact));
            }
            let (west, east) = (west.max(-180.0), east.min(180.0));
            let own = Bounds::from_deg(west, south.max(-90.0), east, north.min(90.0));
            all = Some(all.map_or(own, |a| a.joined(own)));
        }
        Ok(all)
    }
    fn node(&self, number: i64) -> Result<TreeNode, TreeTrouble> {
        let mut statement = self.connection.prepare_cached(&self.sql)?;
        let bytes = statement.query_row([number], |row| match row.get_ref(0)? {
            ValueRef::Blob(bytes) => Ok(bytes.to_vec()),
            _ => Ok(Vec::new()),
        });
        match bytes.optional()? {
            Some(bytes) if bytes.len() >= HEAD => Ok(TreeNode { bytes }),
            _ => Err(TreeTrouble::Fact(format!("node {number} is missing or cut short"))),
        }
    }
}

impl TreeNode {
    /// Levels below the root.
    fn height(&self) -> Result<u16, String> {
        let height = u16::from_be_bytes([self.bytes[0], self.bytes[1]]);
        if height > HIGHEST { Err(format!("is {height} levels high")) } else { Ok(height) }
    }
    fn cells(&self) -> Result<impl Iterator<Item = TreeBox> + '_, String> {
        let count = usize::from(u16::from_be_bytes([self.bytes[2], self.bytes[3]]));
        match self.bytes.get(HEAD..HEAD + count * CELL) {
            Some(cells) => Ok(cells.chunks_exact(CELL).map(TreeBox::of)),
            None => Err(format!("a node claims {count} boxes in {} bytes", self.bytes.len())),
        }
    }
}

impl TreeBox {
    fn of(bytes: &[u8]) -> Self {
        let mut to = [0; 8];
        to.copy_from_slice(&bytes[..8]);
        let edge = |i: usize| {
            let mut raw = [0; 4];
            raw.copy_from_slice(&bytes[8 + 4 * i..12 + 4 * i]);
            f64::from(f32::from_be_bytes(raw))
        };
        Self { to: i64::from_be_bytes(to), edges_deg: [edge(0), edge(1), edge(2), edge(3)] }
    }
    fn meets(&self, bounds: Bounds) -> bool {
        let [west, east, south, north] = bounds.degrees();
        let [own_west, own_east, own_south, own_north] = self.edges_deg;
        own_east >= west && own_west <= east && own_north >= south && own_south <= north
    }
}
