//! Orbit mean-elements messages as XML: one `omm`, or any number in an `ndm` (CCSDS 505.0-B).
use roxmltree::{Document, Node};

use super::message::Message;
use super::model::{LeftOut, SetsRead, Unreadable, WANTED};

/// Elements deeper than this are not part of a message: one in an `ndm` has eight levels.
const DEEPEST: usize = 20;

pub(super) fn read(text: &str) -> Result<SetsRead, Unreadable> {
    let document = Document::parse(text).map_err(|e| {
        Unreadable::new(format!("is broken XML: {e}"), "download the file again, or fix it at that place")
    })?;
    if document.descendants().any(|n| n.ancestors().nth(DEEPEST).is_some()) {
        return Err(Unreadable::new(format!("is XML whose elements are nested more than {DEEPEST} deep"), WANTED));
    }
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
    // Messages of other kinds in the same file hold their data in elements, as ours do.
    let ours = !found.sets.is_empty();
    let others = document.root_element().children().filter(|n| ours && is_message(n));
    for (k, node) in others.enumerate() {
        let name = node.tag_name().name();
        found.take(|| format!("other message {}", k + 1), Err(LeftOut::bad(format!("<{name}> is not an <omm>"))));
    }
    if found.sets.is_empty() && found.defects.is_empty() {
        return Err(Unreadable::new(format!("is XML of another kind (<{root}>, without <omm>)"), WANTED));
    }
    Ok(found)
}

/// Whether an element of the outermost one is a message of another kind.
fn is_message(node: &Node) -> bool {
    let name = node.tag_name().name();
    let ours =
        name.eq_ignore_ascii_case("omm") || node.ancestors().any(|a| a.tag_name().name().eq_ignore_ascii_case("omm"));
    node.is_element() && !ours && node.children().any(|c| c.is_element())
}

fn is_leaf(node: &Node) -> bool {
    node.is_element() && !node.children().any(|c| c.is_element())
}
