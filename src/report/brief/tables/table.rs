//! Tables as HTML: a caption, column heads, rows; on a narrow screen every row becomes a block of named values.
use std::fmt::Write;

use crate::base::markup::escape;

/// A cell: plain text, escaped when it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in super::super) enum PageCell {
    /// Words of the program: broken between words only.
    Text(String),
    /// A name from a map, a calendar or a file: may be broken anywhere.
    Name(String),
    /// A figure, kept right.
    Figure(String),
}

impl PageCell {
    /// Words of the program.
    pub(in super::super) fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }
    /// A name from outside.
    pub(in super::super) fn name(text: impl Into<String>) -> Self {
        Self::Name(text.into())
    }
    /// A figure.
    pub(in super::super) fn figure(text: impl Into<String>) -> Self {
        Self::Figure(text.into())
    }
}

/// A table; the first cell of a row names it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(in super::super) struct PageTable {
    /// What the table is about.
    pub caption: String,
    /// Heads of the columns.
    pub heads: Vec<String>,
    /// Rows, with as many cells as there are heads.
    pub rows: Vec<Vec<PageCell>>,
    /// Rows to stand out, by index.
    pub strong: Vec<usize>,
}

impl PageTable {
    /// A table without rows.
    pub(in super::super) fn new(caption: impl Into<String>, heads: &[&str]) -> Self {
        Self { caption: caption.into(), heads: heads.iter().map(|h| (*h).to_owned()).collect(), ..Self::default() }
    }
    /// Adds a row.
    pub(in super::super) fn row(&mut self, cells: Vec<PageCell>) {
        self.rows.push(cells);
    }
    /// As HTML; nothing where there are no rows.
    pub(in super::super) fn write(&self, out: &mut String) {
        if self.rows.is_empty() {
            return;
        }
        let _ = write!(
            out,
            "<div class=\"wide\"><table role=\"table\">\n<caption>{}</caption>\n<thead role=\"rowgroup\"><tr role=\"row\">",
            escape(&self.caption)
        );
        for head in &self.heads {
            let _ = write!(out, "<th scope=\"col\" role=\"columnheader\">{}</th>", escape(head));
        }
        *out += "</tr></thead>\n<tbody role=\"rowgroup\">\n";
        for (i, row) in self.rows.iter().enumerate() {
            *out += if self.strong.contains(&i) { "<tr role=\"row\" class=\"strong\">" } else { "<tr role=\"row\">" };
            for (k, cell) in row.iter().enumerate() {
                self.cell(out, k, cell);
            }
            *out += "</tr>\n";
        }
        *out += "</tbody>\n</table></div>\n";
    }
    fn cell(&self, out: &mut String, k: usize, cell: &PageCell) {
        let head = escape(self.heads.get(k).map_or("", String::as_str));
        let (text, class) = match cell {
            PageCell::Text(text) => (text, ""),
            PageCell::Name(text) => (text, " class=\"a\""),
            PageCell::Figure(text) => (text, " class=\"n\""),
        };
        let text = escape(text);
        let _ = match k {
            0 => write!(out, "<th scope=\"row\" role=\"rowheader\" data-head=\"{head}\"{class}>{text}</th>"),
            _ => write!(out, "<td role=\"cell\" data-head=\"{head}\"{class}>{text}</td>"),
        };
    }
}
