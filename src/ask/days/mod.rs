//! Days of a trip: a track cut into days, what a layer says about each, and its plan.
mod cut;
mod halts;
mod left_out;
mod meetings;
mod question;
mod trip;

pub use question::{NamedCalendar, PlanQuestion, PlanRoad};
pub use trip::plan;
