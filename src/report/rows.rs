//! Rows of RFC 4180: each a struct whose fields are the columns.
//!
//! Text of the map is quoted always, so that a reader tells it from words of the program and from figures; figures have
//! a fixed number of decimals.
use std::fmt::Display;
use std::io::Write;
use std::path::Path;

use csv::{QuoteStyle, Terminator, WriterBuilder};
use serde::{Serialize, Serializer};

use crate::base::error::{Error, Result};
use crate::base::files::cannot_write;
use crate::base::plain::one_line;

/// A figure with this many decimals.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Fixed<const DECIMALS: usize>(pub f64);

impl<const DECIMALS: usize> Serialize for Fixed<DECIMALS> {
    fn serialize<S: Serializer>(&self, to: S) -> std::result::Result<S::Ok, S::Error> {
        to.collect_str(&format_args!("{:.*}", DECIMALS, self.0))
    }
}

/// Text of the map, in quotes and on one line; what a terminal would obey is taken out. A leading sign of a formula gets an apostrophe, so that a spreadsheet shows the text.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Quoted<'a>(pub &'a str);

impl Serialize for Quoted<'_> {
    fn serialize<S: Serializer>(&self, to: S) -> std::result::Result<S::Ok, S::Error> {
        let guard = if self.0.starts_with(['=', '+', '-', '@', '\t', '\r']) { "'" } else { "" };
        to.collect_str(&format_args!("\"{guard}{}\"", one_line(self.0).replace('"', "\"\"")))
    }
}

/// Writes rows one by one, under the names of their fields. Quotes come from [`Quoted`] alone.
pub(super) fn row_writer<W: Write>(to: W) -> csv::Writer<W> {
    WriterBuilder::new().quote_style(QuoteStyle::Never).terminator(Terminator::CRLF).from_writer(to)
}

/// A table under the names of the fields, which stand there without a row too.
///
/// # Errors
/// A row that cannot be written, which is a fault of the program.
pub(super) fn table<R: Serialize + Default>(rows: &[R]) -> Result<String> {
    let mut writer = row_writer(Vec::new());
    let mut write = |row: &R| writer.serialize(row).map_err(failed);
    match rows {
        [] => write(&R::default())?,
        rows => rows.iter().try_for_each(write)?,
    }
    let text = String::from_utf8(writer.into_inner().map_err(failed)?).map_err(failed)?;
    // Names come with a first row only; the one made for them goes again.
    let names = text.find("\r\n").map_or(text.len(), |end| end + 2);
    Ok(if rows.is_empty() { text[..names].to_owned() } else { text })
}

/// Why rows could not be written to a file.
pub(super) fn csv_failed(path: &Path, e: csv::Error) -> Error {
    match e.into_kind() {
        csv::ErrorKind::Io(e) => cannot_write(path, &e),
        other => cannot_write(path, &std::io::Error::other(format!("{other:?}"))),
    }
}

fn failed(fact: impl Display) -> Error {
    Error::failed("table", fact.to_string(), "this is a fault of the program; please report it")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Serialize, Default)]
    struct Stop<'a> {
        at_km: Option<Fixed<3>>,
        name: Quoted<'a>,
        roofed: bool,
        kind: &'a str,
    }

    #[test]
    fn text_is_quoted_and_figures_have_their_decimals() {
        let row =
            |at_km: Option<f64>, name| Stop { at_km: at_km.map(Fixed), name: Quoted(name), roofed: true, kind: "fuel" };
        let rows = [row(Some(1.0 / 3.0), "a, \"b\""), row(None, "=x"), row(Some(-0.0), "")];
        let want = "at_km,name,roofed,kind\r\n0.333,\"a, \"\"b\"\"\",true,fuel\r\n,\"'=x\",true,fuel\r\n-0.000,\"\",true,fuel\r\n";
        assert_eq!(table(&rows).unwrap(), want);
        assert_eq!(table::<Stop>(&[]).unwrap(), "at_km,name,roofed,kind\r\n");
    }
}
