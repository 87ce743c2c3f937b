//! Two layers compared: what changed between two builds of a region.
//!
//! Segments are matched by way and part, which name them across builds, and places to stop by their object of the map. Both
//! layers are read side by side in that order: memory does not grow with roads, geometry or masks, only with the list of
//! places to stop. A change of rating is told only where road and evidence allow it: a segment whose line changed is
//! another road, and one of which something became unknown did not become clear.
mod builds;
mod largest;
mod model;
mod pairs;
mod run;
mod segment;
mod stops;
mod tally;

pub use builds::{BuildsCompared, InputChange, InputTold, KeyChange, TimelineChange};
pub use largest::ChangedStretch;
pub use model::{DiffAnswer, DiffKm, DiffQuestion, LayerTold, RatingMove};
pub(in crate::ask) use pairs::KeyedPairs;
pub use run::diff;
pub use segment::{ChangeKind, SegmentChange, SegmentTold};
pub use stops::{StopMoved, StopsCompared};
