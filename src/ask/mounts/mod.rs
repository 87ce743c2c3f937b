//! Several layers of one region, each rated for a panel mounted elsewhere: how a trip fares with each.
//!
//! Every layer is planned by itself as [`plan`](crate::ask::days::plan) plans it, so that its figures are those of that answer.
//! Before that the layers are held against the first: what is not a fair comparison is refused.
mod comparable;
mod figures;
mod model;
mod run;
mod stand;

pub use comparable::{MOST_MOUNTS, check_count};
pub use model::{MountAnswer, MountDay, MountFigures, MountMeeting, MountsAnswer, MountsQuestion};
pub use run::mounts;
