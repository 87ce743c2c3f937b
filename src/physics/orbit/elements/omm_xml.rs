//! Orbit mean-elements messages as XML: one `omm`, or any number in an `ndm` (CCSDS 505.0-B).
use roxmltree::{Document, Node};

use super::message::Message;
use super::model::{SetsRead, Unreadable, WANTED};

pub(super) fn read(text: &str) -> Result<SetsRead, Unreadable> {
    let document = Document::parse(text).map_err(|e| {
        Unreadable::new(format!("is broken XML: {e}"), "download the file again, or mend it at that place")
    })?;
    let mut found = SetsRead::default();
    let messages = document.descendants().filter(|n| n.tag_name().name().eq_ignore_ascii_case("omm"));
    for (k, node) in messages.enumerate() {
        let mut message = Message::default();
        for leaf in node.descendants().filter(is_leaf) {
            message.add(leaf.tag_name().name(), leaf.text().unwrap_or_default());
        }
        found.take(|| message.label().unwrap_or_else(|| format!("message {}", k + 1)), message.elements());
    }
    let root = document.root_element().tag_name().name();
    if found.sets.is_empty() && found.defects.is_empty() {
        return Err(Unreadable::new(format!("is XML of another kind (<{root}>, without <omm>)"), WANTED));
    }
    Ok(found)
}

fn is_leaf(node: &Node) -> bool {
    node.is_element() && !node.children().any(|c| c.is_element())
}
