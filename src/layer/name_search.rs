//! Rows of names, asked for by spelling. Rows come in the order of their ids.
use super::checked::Allowance;
use super::model::{NameRow, PlaceRow};
use super::reader::Layer;
use super::schema::Row;
use super::trouble::{damaged, damaged_value};
use crate::base::error::Result;
use crate::base::fold::folded;
use crate::base::words::NameKind;

/// Comes after every letter that a spelling may go on with.
const LAST: char = char::MAX;

impl Layer {
    /// All names.
    pub fn names(&self) -> Result<Vec<NameRow>> {
        self.query("ORDER BY name_id", [])
    }
    /// Names of one spelling.
    pub fn names_of(&self, folded: &str) -> Result<Vec<NameRow>> {
        self.query("WHERE folded = ? ORDER BY name_id", [folded])
    }
    /// Names that begin with a spelling, at most some.
    pub fn names_that_begin(&self, folded: &str, most: usize) -> Result<Vec<NameRow>> {
        let tail = format!("WHERE folded >= ? AND folded < ? ORDER BY folded, name_id LIMIT {most}");
        self.query(&tail, [folded, &format!("{folded}{LAST}")])
    }
    /// Every spelling once, in their order, read from the index alone.
    pub fn each_spelling(&self, mut take: impl FnMut(&str)) -> Result<()> {
        let broken = |e: rusqlite::Error| self.broken("names", &e);
        let sql = "SELECT DISTINCT folded FROM names ORDER BY folded";
        let mut statement = self.connection.prepare_cached(sql).map_err(broken)?;
        let mut rows = statement.query([]).map_err(broken)?;
        let mut left = Allowance::of(self.bytes);
        while let Some(row) = rows.next().map_err(broken)? {
            left.row().map_err(|fact| damaged(self.path(), &format!("table names {fact}")))?;
            take(&row.get::<_, String>(0).map_err(broken)?);
        }
        Ok(())
    }
    /// The row that a name points to is there, of that name and at that place: an editor may have changed one table alone.
    ///
    /// # Errors
    /// It is not, or the layer cannot be read.
    pub fn check_name(&self, name: &NameRow) -> Result<()> {
        let is_named = |own: &str| folded(own) == name.folded;
        let holds = match name.kind {
            NameKind::Road => self.segment(name.row_id)?.is_some_and(|s| {
                let references = s.reference.iter().flat_map(|all| all.split(';'));
                s.name.as_deref().into_iter().chain(references).any(is_named) && s.line.contains(&name.at())
            }),
            NameKind::Stop => {
                self.stop(name.row_id)?.is_some_and(|s| s.name.as_deref().is_some_and(is_named) && s.at == name.at())
            }
            kind => {
                let place: Option<PlaceRow> = self.query("WHERE place_id = ?", [name.row_id])?.pop();
                place.is_some_and(|p| {
                    let names = [Some(&p.name), p.name_en.as_ref()];
                    names.into_iter().flatten().any(|own| is_named(own))
                        && p.at == name.at()
                        && NameKind::from(p.kind) == kind
                })
            }
        };
        let fact = format!("there is no {} {} of this name at this place", name.kind, name.row_id);
        if holds { Ok(()) } else { Err(damaged_value(self.path(), &NameRow::TABLE, name.name_id, "row_id", &fact)) }
    }
    /// The place that a row of names lies in or near.
    ///
    /// # Errors
    /// There is none, or the layer cannot be read.
    pub fn place_of_name(&self, name: &NameRow, place_id: i64) -> Result<PlaceRow> {
        let gone = || {
            let fact = format!("there is no place {place_id}");
            damaged_value(self.path(), &NameRow::TABLE, name.name_id, "near_id", &fact)
        };
        self.query("WHERE place_id = ?", [place_id])?.pop().ok_or_else(gone)
    }
}
