//! The data flow of `build`: one call per stage, and the only place that runs districts and cells in parallel.
//!
//! Work goes district by district, and cell by cell within each; whatever the number of threads, results are taken in the
//! order of districts and cells, so equal inputs give equal bytes. A build is made ready, its districts are
//! rated to parts in a work folder (`parts`), and the parts are joined to a layer (`finish`).
mod around;
mod backdrop;
mod caster;
mod cells;
mod check;
mod finish;
mod footprints;
pub mod forecast;
mod ground;
mod ids;
mod inputs;
mod lane_masks;
mod lanes;
mod look;
mod masks;
mod named_parts;
mod nodes;
mod options;
mod orbits;
mod overall;
mod overheads;
mod parts;
pub mod plan;
mod planned;
mod planned_rasters;
mod rate;
mod readers;
mod ready;
mod record;
mod results;
mod rows;
mod rows_of_strokes;
mod run;
mod season;
mod shards;
mod sources;
mod stages;
mod stops;
mod strict;
mod sums;
mod terrain;
mod whole;
mod work;

pub use crate::base::progress::StageTime;
pub use options::{BuildOptions, OrbitOptions, SeasonOf};
pub use shards::{
    FoundPlan, MergeOptions, RatedShard, Shard, ShardOptions, estimate, found_plan, merge, plan_shards,
    rate_planned_shard, rate_shard,
};
pub use whole::{Built, build};
pub use work::{beside as default_work, check_outside};
