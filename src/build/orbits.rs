//! Real satellites in a build: elements read, shells fitted to them, timelines made for a date.
use std::fmt::Write;
use std::path::Path;

use jiff::Timestamp;
use rayon::prelude::*;
use sha2::{Digest, Sha256};

use super::options::{BuildOptions, OrbitOptions};
use super::record::file_name;
use super::run::Run;
use super::strict::strict_error;
use crate::base::count::counted;
use crate::base::defect::{Defect, Defects};
use crate::base::error::{Error, Result};
use crate::base::input::{self, InputKind};
use crate::base::progress::Progress;
use crate::base::words::InputRole;
use crate::layer::model::{BuildRecord, InputRecord};
use crate::physics::orbit::elements::fit::{self, ShellFit};
use crate::physics::orbit::elements::satellite::{Failure, Satellite};
use crate::physics::orbit::elements::track::{SatelliteTrack, TimelineSpan};
use crate::physics::orbit::elements::{self, ElementSets, MeanElements};
use crate::physics::orbit::frames::Observer;
use crate::physics::orbit::model::Timeline;
use crate::profile::Shell;
use crate::rating::drives::TIMELINE_S;

/// Elements are trusted for this many days: beyond, satellites have been moved and drag has added up.
const TRUSTED_DAYS: f64 = 14.0;

/// What a build knows of real satellites.
pub(crate) struct Orbits {
    input: InputRecord,
    format: String,
    /// Earliest and latest epoch of the satellites in shells.
    epochs: (Timestamp, Timestamp),
    objects: u64,
    superseded: u64,
    used: u64,
    fit: ShellFit,
    /// Where the satellites are, if timelines are made of them; and their start.
    tracks: Option<(Timestamp, Vec<SatelliteTrack>)>,
    /// Objects that could not be used.
    pub defects: Defects,
}

/// Reads the elements of a build and fits shells to them; nothing where none are asked for.
pub fn read(options: &BuildOptions, progress: &dyn Progress) -> Result<Option<Orbits>> {
    let Some(asked) = &options.orbits else { return Ok(None) };
    let path = &asked.path;
    let bytes = input::bytes(path, InputKind::Elements, "give the path of a readable file of orbital elements")?;
    let sets = elements::read(&bytes).map_err(|e| Error::file(path, e.fact, e.next_step))?;
    let fit = fit::shells(&sets.objects);
    if fit.shells.is_empty() {
        return Err(no_shell(path, &sets, &fit));
    }
    let members: Vec<&MeanElements> = fit.shells.iter().flat_map(|s| &s.members).map(|k| &sets.objects[*k]).collect();
    warn_of_age(asked, &members, progress);
    let mut defects = sets.defects;
    let tracks = match asked.timeline_start {
        Some(start) => Some((start, tracks(path, &members, start, &mut defects)?)),
        None => None,
    };
    if options.strict && !defects.is_empty() {
        return Err(strict_error(path, &defects));
    }
    let epochs = || members.iter().map(|m| m.epoch);
    let epochs = (epochs().min().unwrap_or_default(), epochs().max().unwrap_or_default());
    let used = members.len() as u64;
    let input = input(path, &bytes, epochs.1);
    let (format, objects) = (sets.format.to_string(), sets.objects.len() as u64);
    Ok(Some(Orbits { input, format, epochs, objects, superseded: sets.superseded, used, fit, tracks, defects }))
}

/// The options with the fitted shells in the place of the profile's.
pub(crate) fn in_force(options: &BuildOptions, orbits: Option<&Orbits>) -> BuildOptions {
    let mut options = options.clone();
    if let Some(orbits) = orbits {
        options.profile.constellation.shells = orbits.fit.shells.iter().map(|s| s.shell).collect();
    }
    options
}

fn input(path: &Path, bytes: &[u8], latest: Timestamp) -> InputRecord {
    let mut sha256 = String::with_capacity(64);
    for byte in Sha256::digest(bytes) {
        // Writing to a String does not fail.
        let _ = write!(sha256, "{byte:02x}");
    }
    InputRecord {
        name: file_name(path),
        role: InputRole::Orbits,
        bytes: bytes.len() as u64,
        sha256,
        data_time: Some(latest.to_string()),
        attribution: None,
        raster: None,
    }
}

fn no_shell(path: &Path, sets: &ElementSets, fit: &ShellFit) -> Error {
    Error::file(
        path,
        format!("no circular shell among its {} ({})", counted(sets.objects.len(), "object"), left_out(fit)),
        "give the elements of one constellation, or list [[constellation.shells]] in a profile instead",
    )
}

fn left_out(fit: &ShellFit) -> String {
    format!("{} on eccentric orbits, {} coming down or climbing, {} in no shell", fit.eccentric, fit.moving, fit.stray)
}

/// Old elements give wrong places; shells change more slowly, but they change.
fn warn_of_age(asked: &OrbitOptions, members: &[&MeanElements], progress: &dyn Progress) {
    let date = asked.timeline_start.unwrap_or(asked.today);
    let away_days = |m: &&MeanElements| date.duration_since(m.epoch).as_secs_f64().abs() / 86_400.0;
    let old = members.iter().filter(|m| away_days(m) > TRUSTED_DAYS).count();
    if old > 0 {
        let most = members.iter().map(away_days).fold(0.0, f64::max);
        progress.warn(&format!(
            "{}: the elements of {old} of {} are more than {TRUSTED_DAYS} days away from {} (up to {most:.0} days): get \
             newer ones",
            asked.path.display(),
            counted(members.len(), "satellite"),
            date.strftime("%Y-%m-%d"),
        ));
    }
}

/// Where satellites are from a time on; those that do not reach it are counted.
fn tracks(
    path: &Path,
    members: &[&MeanElements],
    start: Timestamp,
    defects: &mut Defects,
) -> Result<Vec<SatelliteTrack>> {
    let track = |m: &&MeanElements| -> Result<SatelliteTrack, Failure> {
        SatelliteTrack::new(&Satellite::new((*m).clone())?, start, f64::from(TIMELINE_S))
    };
    let mut tracks = Vec::new();
    for (member, track) in members.iter().zip(members.par_iter().map(track).collect::<Vec<_>>()) {
        match track {
            Ok(track) => tracks.push(track),
            Err(failure) => defects.add(Defect::LostOrbit, || format!("{}: {failure}", member.label())),
        }
    }
    if tracks.is_empty() {
        let fact = format!("none of its satellites can be carried to {start}");
        return Err(Error::file(path, fact, "give elements of that time, or leave out --orbit-date"));
    }
    Ok(tracks)
}

impl Orbits {
    /// The satellites themselves over a whole degree of latitude and the middle longitude of the region;
    /// nothing where timelines are to be made from shells.
    pub fn timeline(&self, run: &Run, latitude_key: i32, floor_deg: f64) -> Option<Timeline> {
        let (_, tracks) = self.tracks.as_ref()?;
        let observer = Observer::at(f64::from(latitude_key), middle_longitude_deg(run), 0.0);
        let geostationary_exclusion_deg = run.profile.constellation.geostationary_exclusion_deg;
        Some(elements::timeline(
            tracks,
            &observer,
            TimelineSpan { seconds: TIMELINE_S, floor_deg, geostationary_exclusion_deg },
        ))
    }

    /// Adds to a record what file it was and what was made of it.
    pub(crate) fn write_down(&self, record: &mut BuildRecord) {
        record.inputs.push(self.input.clone());
        let fit = &self.fit;
        let day = |t: Timestamp| t.strftime("%Y-%m-%d").to_string();
        let (oldest, newest) = (day(self.epochs.0), day(self.epochs.1));
        record.assumed.push(format!(
            "shells fitted to {} of {} in {} ({} of {oldest} to {newest}); left out: {}",
            self.used,
            counted(self.objects, "object"),
            self.input.name,
            self.format,
            left_out(fit)
        ));
        record.assumed.extend(fit.shells.iter().map(|s| in_words(s.shell)));
        if let Some((start, tracks)) = &self.tracks {
            let (count, hours) = (tracks.len(), counted(TIMELINE_S / 3600, "hour"));
            record.timeline_start = Some(start.to_string());
            record.assumed.push(format!(
                "drives are under {count} of these satellites as SGP4 places them in the {hours} from {start}"
            ));
        }
        let counts = [
            ("orbit objects", self.objects),
            ("orbit sets superseded", self.superseded),
            ("orbit objects in shells", self.used),
            ("orbit objects left out, eccentric", fit.eccentric),
            ("orbit objects left out, moving", fit.moving),
            ("orbit objects left out, in no shell", fit.stray),
        ];
        record.counts.extend(counts.map(|(name, n)| (name.to_owned(), n)));
    }
}

fn in_words(shell: Shell) -> String {
    format!(
        "shell at {} km, {} degrees: {} of {}",
        shell.altitude_km,
        shell.inclination_deg,
        counted(shell.planes, "plane"),
        counted(shell.per_plane, "satellite")
    )
}

/// Mean direction of the roads' longitudes, degrees; the antimeridian makes no difference.
fn middle_longitude_deg(run: &Run) -> f64 {
    let (sin, cos) = run.network.segments.iter().fold((0.0, 0.0), |(s, c), segment| {
        let (sin, cos) = segment.line[0].lon_deg().to_radians().sin_cos();
        (s + sin, c + cos)
    });
    f64::atan2(sin, cos).to_degrees()
}
