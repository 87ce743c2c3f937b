//! Columns side by side for people: every column as wide as its widest cell.
use crate::base::plain::PlainLines;

/// Longest cell, letters: a name that is longer is cut.
const MOST_LETTERS: usize = 26;

/// A row of a table.
pub(super) enum TableRow {
    /// Over all columns.
    Heading(String),
    /// What it is called, and a cell for each column.
    Cells(String, Vec<String>),
}

/// Rows under the heads of their columns.
pub(super) struct SideBySide {
    /// What each column is called.
    pub heads: Vec<String>,
    /// Rows.
    pub rows: Vec<TableRow>,
}

impl SideBySide {
    /// Adds it, every column as wide as its widest cell.
    pub fn print(self, out: &mut PlainLines) {
        let cut: Vec<TableRow> = self.rows.into_iter().map(cut_row).collect();
        let letters = |text: &String| text.chars().count();
        let mut widths: Vec<usize> = self.heads.iter().map(letters).collect();
        let mut first = 0;
        for row in &cut {
            if let TableRow::Cells(name, cells) = row {
                first = first.max(letters(name));
                widths.iter_mut().zip(cells).for_each(|(width, cell)| *width = (*width).max(letters(cell)));
            }
        }
        let line = |name: &str, cells: &[String]| {
            let cells: String = cells.iter().zip(&widths).map(|(cell, width)| format!("  {cell:>width$}")).collect();
            format!("  {name:first$}{cells}")
        };
        writeln!(out, "{}", line("", &self.heads));
        for row in &cut {
            match row {
                TableRow::Heading(text) => writeln!(out, "  {text}"),
                TableRow::Cells(name, cells) => writeln!(out, "{}", line(name, cells)),
            }
        }
    }
}

/// A row whose cells are no longer than a table can hold.
fn cut_row(row: TableRow) -> TableRow {
    let short = |text: String| match text.chars().nth(MOST_LETTERS) {
        Some(_) => text.chars().take(MOST_LETTERS - 1).chain(['…']).collect(),
        None => text,
    };
    match row {
        TableRow::Cells(name, cells) => TableRow::Cells(name, cells.into_iter().map(short).collect()),
        heading => heading,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_whatever_their_cells_hold() {
        let long = "x".repeat(40);
        let rows = vec![
            TableRow::Cells("risk".into(), vec!["below 1 %".into(), "-".into()]),
            TableRow::Heading("Datum\nreview".into()),
            TableRow::Cells("place".into(), vec!["Fjær\u{1b}".into(), long]),
        ];
        let mut out = PlainLines::new();
        SideBySide { heads: vec!["1 roof".into(), "2 hood".into()], rows }.print(&mut out);
        let text = out.text();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 4, "{text}");
        assert_eq!(lines[2], "  Datum review");
        let ends: Vec<usize> = [0, 1, 3].map(|n| lines[n].chars().count()).to_vec();
        assert!(ends.iter().all(|end| *end == ends[0]), "{text}");
        assert!(lines[3].ends_with(&format!("{}…", "x".repeat(25))) && lines[3].contains("Fjær\u{fffd}"), "{text}");
    }
}
