//! Every reader of ours, by what it is fed with.
mod layers;
mod maps;
mod masks;
mod settings;
mod texts;
mod tracks;

use crate::target::Target;

/// Every target.
pub fn all() -> Vec<&'static Target> {
    [texts::TARGETS, tracks::TARGETS, settings::TARGETS, masks::TARGETS, maps::TARGETS, layers::TARGETS]
        .into_iter()
        .flatten()
        .collect()
}

/// A file of the demo.
fn sample(name: &str) -> Vec<u8> {
    std::fs::read(format!("{}/data-samples/{name}", env!("CARGO_MANIFEST_DIR"))).expect("a file of data-samples")
}

/// Texts as seeds.
fn seeds(texts: &[&str]) -> Vec<Vec<u8>> {
    texts.iter().map(|text| text.as_bytes().to_vec()).collect()
}

/// The text of an input; what is not UTF-8 is refused before any reader of ours, so it is made so.
fn text(input: &[u8]) -> std::borrow::Cow<'_, str> {
    String::from_utf8_lossy(input)
}
