//! Days of a trip: a track cut into days, what a layer says about each, and its plan.
mod by_hours;
mod cut;
mod ends;
mod halts;
mod left_out;
mod meetings;
mod nights;
mod question;
mod split;
mod trip;

pub use question::{NamedCalendar, PlanQuestion, PlanRoad};
pub use trip::plan;
