//! Vehicle, terminal, driving, link and rating assumptions: one TOML file, every value with its mark.
//!
//! [`presets`] are where people put a panel, [`source`] turns a name, a file or `key=value` into a profile, [`keys`] is
//! the table of keys with their ranges, [`mod@print`] shows a profile as an annotated file.
mod around;
mod case;
pub mod keys;
mod model;
pub mod presets;
pub mod print;
mod relief;
pub mod source;
#[cfg(test)]
mod tests_keys;
mod trees;

pub use around::{Barriers, Buildings, MapTrust, Roadside};
pub use case::Cases;
pub use model::*;
pub use relief::Relief;
pub use trees::{CanopyProfile, Season};
