//! From a layer and a question to the answer.
use super::answers;
use super::model::{NewLayer, RerateAnswer, RerateQuestion, Wanted};
use super::rated::{Rated, RerateWork, stored_outcome};
use super::stored::Stored;
use super::sweep::{roadside_km, sweep};
use super::write;
use crate::ask::elsewhere::check_roads;
use crate::ask::place::{NO_END_MASKS, no_masks};
use crate::base::error::{Error, Result};
use crate::base::files::check_apart;
use crate::base::progress::Progress;
use crate::layer::{Layer, LayerWriter};
use crate::profile::Profile;
use crate::profile::source::with_values;

/// Rates a layer again.
///
/// # Errors
/// The layer cannot be read or does not hold what the change asks for, or the new one cannot be written.
pub fn rerate(layer: &Layer, question: &RerateQuestion, progress: &dyn Progress) -> Result<RerateAnswer> {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(question.threads.unwrap_or(0))
        .build()
        .map_err(|e| Error::failed("worker threads", e.to_string(), "ask for fewer with --threads"))?;
    // A layer rated again is written row by row, and must not be the file it is read from.
    check_apart([layer.path()], question.output.as_ref().map(|new| new.path.as_path()))?;
    check_roads(layer)?;
    let stored = Stored::read(layer)?;
    let work = RerateWork { layer, stored: &stored, pool: &pool, progress };
    let wanted = match &question.wanted {
        Wanted::Sweep => return sweep(&work),
        Wanted::Profile(profile) => (**profile).clone(),
        Wanted::Values(values) => with_values(&stored.profile, values)?,
    };
    one(&work, &wanted, question.output.as_ref())
}

/// The answer under one profile.
fn one(work: &RerateWork, wanted: &Profile, output: Option<&NewLayer>) -> Result<RerateAnswer> {
    let stored = work.stored;
    answers::check(&stored.profile, stored.masks.grid.floor_deg, wanted)?;
    // Rating takes minutes: what cannot be written is said before.
    let writer = output.map(|new| LayerWriter::create(&new.path, new.overwrite)).transpose()?;
    if writer.is_some() && !work.layer.has_end_masks()? {
        return Err(no_masks(work.layer, NO_END_MASKS));
    }
    let rated = if writer.is_some() { Rated::of(work, wanted)? } else { Rated::as_stated(work, wanted)? };
    if let Some(writer) = writer {
        write::write(work, &rated, writer)?;
    }
    let changes = vec![rated.change(stored)?];
    let before = stored_outcome(work.layer, stored)?;
    Ok(RerateAnswer {
        stored: before,
        not_reproduced_km: None,
        roadside_km: roadside_km(stored),
        changes,
        refused: Vec::new(),
    })
}
