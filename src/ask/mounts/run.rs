//! From the layers of several mounts to the answer.
use super::comparable::check;
use super::figures;
use super::model::{MountAnswer, MountDay, MountsAnswer, MountsQuestion};
use super::stand::{is_on_stand, nobody_in_motion};
use crate::ask::days::plan;
use crate::base::error::{Error, Result};
use crate::base::progress::Progress;
use crate::layer::Layer;
use crate::profile::{Profile, presets};

/// What a panel is called that no preset has where it is.
const OWN: &str = "own";

/// Plans a trip with each of some layers, which differ in where the panel is.
///
/// # Errors
/// Layers that cannot be compared, and whatever keeps one of them from being planned.
pub fn mounts(layers: &[Layer], question: &MountsQuestion, progress: &dyn Progress) -> Result<MountsAnswer> {
    let mut out = MountsAnswer {
        title: question.title.clone(),
        zone: String::new(),
        shown: question.plan.shown,
        mounts: Vec::with_capacity(layers.len()),
        notes: check(layers)?,
    };
    for layer in layers {
        let profile = &layer.record().profile;
        let on_stand = is_on_stand(profile);
        let asked = if on_stand { nobody_in_motion(&question.plan) } else { question.plan.clone() };
        let trip = plan(layer, &asked, progress).map_err(|error| of_layer(error, layer))?;
        let days: Vec<MountDay> = trip.days.into_iter().map(|day| figures::day(day, on_stand)).collect();
        let same_as = out.mounts.iter().find(|before| before.profile == *profile).map(|before| before.number);
        out.zone = trip.zone;
        out.mounts.push(MountAnswer {
            number: out.mounts.len() + 1,
            layer: layer.path().display().to_string(),
            name: presets::of(profile).map_or(OWN, |preset| preset.name),
            place: place(profile),
            antenna_height_m: profile.vehicle.antenna_height_m,
            on_stand,
            same_as,
            whole: figures::whole(&days),
            days,
            profile: profile.clone(),
        });
    }
    Ok(out)
}

/// Where a panel is, in words.
fn place(profile: &Profile) -> String {
    match (presets::of(profile), is_on_stand(profile)) {
        (Some(preset), _) => preset.title.to_owned(),
        (None, true) => "panel on a stand of your own".to_owned(),
        (None, false) => "panel on the vehicle in a place of your own".to_owned(),
    }
}

/// The same trouble, with the layer it is about.
fn of_layer(error: Error, layer: &Layer) -> Error {
    match error {
        Error::Failed { what, fact, next_step } => {
            Error::failed(format!("{}: {what}", layer.path().display()), fact, next_step)
        }
        other => other,
    }
}
