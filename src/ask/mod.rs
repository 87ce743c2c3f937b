//! Questions to a layer: each takes an open layer (`diff` takes two, `mounts` several) and a question, and gives an answer. No rasters, no printing.
//!
//! | function | from | to |
//! | --- | --- | --- |
//! | [`corridor()`] | [`CorridorQuestion`](corridor::CorridorQuestion) | [`Corridor`](corridor::Corridor) |
//! | [`route()`] | [`RouteQuestion`](route::RouteQuestion) | [`RouteAnswer`](route::RouteAnswer) |
//! | [`stops()`] | [`StopsQuestion`](stops::StopsQuestion) | [`StopsAnswer`](stops::StopsAnswer) |
//! | [`plan()`] | [`PlanQuestion`](days::PlanQuestion) | [`Trip`](trip::Trip) |
//! | [`sky()`] | [`SkyQuestion`](place::SkyQuestion) | [`SkyAnswer`](place::SkyAnswer) |
//! | [`portion()`] | [`PortionQuestion`](portion::PortionQuestion) | [`Portion`](portion::Portion) |
//! | [`diff()`] | [`DiffQuestion`](diff::DiffQuestion) | [`DiffAnswer`](diff::DiffAnswer) |
//! | [`mounts()`] | [`MountsQuestion`](mounts::MountsQuestion) | [`MountsAnswer`](mounts::MountsAnswer) |
//! | [`rerate()`] | [`RerateQuestion`](rerate::RerateQuestion) | [`RerateAnswer`](rerate::RerateAnswer) |
//!
//! Questions hold parsed values. Files are opened by the caller; what reads their content stands here
//! ([`track::read`], [`place::read_elements`], [`settings::Settings::read`]) or in [`crate::calendar`].
mod battery;
mod boxes;
pub mod by_map;
pub mod corridor;
pub mod days;
pub mod diff;
mod elsewhere;
pub mod matching;
pub mod mounts;
pub mod neighbours;
pub mod people;
pub mod place;
pub mod plan;
pub mod portion;
pub mod rerate;
mod road_name;
pub mod route;
pub mod search;
pub mod settings;
mod simulate;
pub mod source;
pub mod stops;
pub mod surroundings;
pub mod track;
pub mod trip;

pub use corridor::corridor;
pub use days::plan;
pub use diff::diff;
pub use elsewhere::check_roads;
pub use mounts::mounts;
pub use place::sky;
pub use portion::portion;
pub use rerate::rerate;
pub use route::route;
pub use stops::stops;
pub use surroundings::{places_around, roads_around};
