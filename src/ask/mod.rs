//! Questions to a layer: each takes a layer and a question, and gives an answer. No rasters, no printing.
pub mod corridor;
pub mod matching;
pub mod place;
pub mod plan;
pub mod rerate;
pub mod route;
pub mod settings;
pub mod source;
pub mod stops;
pub mod track;
pub mod trip;
