//! What may run on the page, and how it is told which layer a page is of.
use std::fmt::Write;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

use super::library::LIBRARY_LICENCE;
use crate::base::hex::hexadecimal;
use crate::base::markup::escape;
use crate::layer::model::BuildRecord;

/// Name of the element that says which layer a page is of.
const MARK: &str = "waymask-map";
/// Hexadecimal digits of a mark.
const MARK_DIGITS: usize = 32;

/// The parts of a page that run or style it.
pub(super) struct PageParts<'a> {
    pub style: &'a str,
    pub library: &'a str,
    pub program: &'a str,
}

impl PageParts<'_> {
    /// The head, with an escaped title: the policy names the parts by their sums, so that nothing else runs even if a text had slipped through.
    pub fn head(&self, out: &mut String, title: &str, mark: &str) {
        let sum = |text: &str| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())));
        // The library starts its workers from itself; pictures it draws are data.
        let _ = write!(
            out,
            "<meta charset=\"utf-8\">\n<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; script-src {} {}; \
             style-src {}; worker-src blob:; img-src data: blob:; base-uri 'none'; form-action 'none'\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <meta name=\"color-scheme\" content=\"light dark\">\n<meta name=\"{MARK}\" content=\"{}\">\n<title>{}</title>\n\
             <style>{}</style>",
            sum(self.library),
            sum(self.program),
            sum(self.style),
            escape(mark),
            title,
            self.style,
        );
    }
    /// What is packed, the library with its licence, the program.
    pub fn scripts(&self, out: &mut String, data: &str) {
        let _ = write!(
            out,
            "<script type=\"text/plain\" id=\"data\">{data}</script>\n<!--\n{}\n-->\n<script>{}</script>\n<script>{}</script>",
            LIBRARY_LICENCE.replace("--", "- -"),
            self.library,
            self.program
        );
    }
}

/// A mark of a layer: pages of it carry it.
pub fn layer_mark(record: &BuildRecord) -> String {
    // A record that cannot be written was never read.
    let text = serde_json::to_vec(record).unwrap_or_default();
    hexadecimal(&Sha256::digest(&text)[..MARK_DIGITS / 2])
}

/// Whether the beginning of a file is that of a map page of a layer.
pub fn is_map_of(beginning: &str, mark: &str) -> bool {
    beginning.contains(&format!("<meta name=\"{MARK}\" content=\"{mark}\">"))
}
