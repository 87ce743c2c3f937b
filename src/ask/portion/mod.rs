//! A part of a layer, for a map of it: roads, places to stop, the worst outages, and the drive it is made for.
mod inside;
mod model;
mod near;
mod numbered;
mod question;
mod rings;
mod thin;

pub use model::{NumberedOutage, Portion, RoadsLeftOut};
pub use question::{PortionOf, PortionQuestion, portion};
