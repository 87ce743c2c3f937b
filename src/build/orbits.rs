//! Real satellites in a build: elements read, shells fitted to them, timelines made for a date.
use std::collections::{BTreeMap, HashSet};
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use rayon::prelude::*;
use sha2::{Digest, Sha256};

use super::options::{BuildOptions, OrbitOptions};
use super::plan::NeverSeen;
use super::record::file_name;
use super::strict::strict_error;
use crate::base::count::counted;
use crate::base::defect::{Defect, Defects};
use crate::base::error::{Error, Result};
use crate::base::hex::hexadecimal;
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
use crate::profile::{Profile, Shell};
use crate::rating::drives::TIMELINE_S;

/// Elements are trusted for this many days: beyond, satellites have been moved and drag has added up.
const TRUSTED_DAYS: f64 = 14.0;

/// What a build knows of real satellites.
pub(crate) struct Orbits {
    path: PathBuf,
    input: InputRecord,
    format: String,
    /// Earliest and latest epoch of the satellites used.
    epochs: (Timestamp, Timestamp),
    objects: u64,
    superseded: u64,
    fit: ShellFit,
    /// The satellites themselves, where drives are under them.
    placed: Option<PlacedSatellites>,
    /// Objects that could not be used.
    pub defects: Defects,
}

/// Satellites as SGP4 places them from a time on, whether they are in a shell or not.
struct PlacedSatellites {
    start: Timestamp,
    tracks: Vec<SatelliteTrack>,
    /// Places in the list of elements, in the order of the tracks.
    objects: Vec<usize>,
    /// Shells for those that are in none: drives meet them, so directions are weighted by them too.
    loose: Vec<Shell>,
    /// How many of the tracks those are.
    in_no_shell: u64,
    /// How many SGP4 refuses, by reason.
    refused: BTreeMap<String, u64>,
}

/// Reads the elements of a build and fits shells to them; nothing where none are asked for.
pub fn read(options: &BuildOptions, progress: &dyn Progress) -> Result<Option<Orbits>> {
    let Some(asked) = &options.orbits else { return Ok(None) };
    let path = &asked.path;
    let bytes = input::bytes(path, InputKind::Elements, "give the path of a readable file of orbital elements")?;
    let mut sets = elements::read(&bytes).map_err(|e| Error::file(path, e.fact, e.next_step))?;
    let fit = fit::shells(&sets.objects);
    let mut defects = std::mem::take(&mut sets.defects);
    let placed = match asked.timeline_start {
        Some(start) => Some(place(path, &sets, &fit, start, &mut defects)?),
        None if fit.shells.is_empty() => return Err(no_shell(path, &sets, &fit)),
        None => None,
    };
    if options.strict && !defects.is_empty() {
        return Err(strict_error(path, &defects));
    }
    let members = || fit.shells.iter().flat_map(|s| &s.members);
    let used: Vec<&usize> = placed.as_ref().map_or_else(|| members().collect(), |p| p.objects.iter().collect());
    let used: Vec<&MeanElements> = used.into_iter().map(|k| &sets.objects[*k]).collect();
    warn_of_age(asked, &used, progress);
    let epochs = || used.iter().map(|m| m.epoch);
    let epochs = (epochs().min().unwrap_or_default(), epochs().max().unwrap_or_default());
    let input = input(path, &bytes, epochs.1);
    let (format, objects) = (sets.format.to_string(), sets.objects.len() as u64);
    let (path, superseded) = (path.clone(), sets.superseded);
    Ok(Some(Orbits { path, input, format, epochs, objects, superseded, fit, placed, defects }))
}

/// The options with the fitted shells in the place of the profile's.
pub(crate) fn in_force(options: &BuildOptions, orbits: Option<&Orbits>) -> BuildOptions {
    let mut options = options.clone();
    if let Some(orbits) = orbits {
        let loose = orbits.placed.iter().flat_map(|p| &p.loose).copied();
        options.profile.constellation.shells = orbits.fit.shells.iter().map(|s| s.shell).chain(loose).collect();
    }
    options
}

fn input(path: &Path, bytes: &[u8], latest: Timestamp) -> InputRecord {
    InputRecord {
        name: file_name(path),
        role: InputRole::Orbits,
        bytes: bytes.len() as u64,
        sha256: hexadecimal(&Sha256::digest(bytes)),
        data_time: Some(latest.to_string()),
        attribution: None,
        raster: None,
    }
}

fn no_shell(path: &Path, sets: &ElementSets, fit: &ShellFit) -> Error {
    Error::file(
        path,
        format!("holds no circular shell among its {} ({})", counted(sets.objects.len(), "object"), in_no_shell(fit)),
        "give the elements of one constellation, drive under these satellites themselves with --orbit-date, or list \
         [[constellation.shells]] in a profile instead",
    )
}

fn in_no_shell(fit: &ShellFit) -> String {
    format!("{} on eccentric orbits, {} descending or climbing, {} in no shell", fit.eccentric, fit.moving, fit.stray)
}

/// Old elements give wrong places; shells change more slowly, but they change.
fn warn_of_age(asked: &OrbitOptions, members: &[&MeanElements], progress: &dyn Progress) {
    let date = asked.timeline_start.unwrap_or(asked.today);
    let away_days = |m: &&MeanElements| date.duration_since(m.epoch).as_secs_f64().abs() / 86_400.0;
    let old = members.iter().filter(|m| away_days(m) > TRUSTED_DAYS).count();
    if old > 0 {
        let most = members.iter().map(away_days).fold(0.0, f64::max);
        progress.warn(&format!(
            "{}: the elements of {old} of {} are more than {TRUSTED_DAYS} days from {} (by up to {most:.0} days): \
             get newer ones",
            asked.path.display(),
            counted(members.len(), "satellite"),
            date.strftime("%Y-%m-%d"),
        ));
    }
}

/// Where satellites are from a time on; those that SGP4 does not carry there are counted.
fn place(
    path: &Path,
    sets: &ElementSets,
    fit: &ShellFit,
    start: Timestamp,
    defects: &mut Defects,
) -> Result<PlacedSatellites> {
    let track = |m: &MeanElements| -> Result<SatelliteTrack, Failure> {
        SatelliteTrack::new(&Satellite::new(m.clone())?, start, f64::from(TIMELINE_S))
    };
    let (mut tracks, mut objects, mut refused) = (Vec::new(), Vec::new(), BTreeMap::<String, u64>::new());
    for (k, track) in sets.objects.par_iter().map(track).collect::<Vec<_>>().into_iter().enumerate() {
        match track {
            Ok(track) => {
                tracks.push(track);
                objects.push(k);
            }
            Err(failure) => {
                *refused.entry(failure.to_string()).or_default() += 1;
                defects.add(Defect::LostOrbit, || format!("{}: {failure}", sets.objects[k].label()));
            }
        }
    }
    if tracks.is_empty() {
        let fact = format!(
            "SGP4 cannot place any of its {} in the {} from {start} ({})",
            counted(sets.objects.len(), "satellite"),
            counted(TIMELINE_S / 3600, "hour"),
            by_reason(&refused)
        );
        return Err(Error::file(path, fact, "give elements of that time, or another --orbit-date"));
    }
    let in_shells: HashSet<usize> = fit.shells.iter().flat_map(|s| &s.members).copied().collect();
    let others: Vec<&MeanElements> =
        objects.iter().filter(|k| !in_shells.contains(k)).map(|k| &sets.objects[*k]).collect();
    let (in_no_shell, loose) = (others.len() as u64, fit::loose_shells(others));
    Ok(PlacedSatellites { start, tracks, objects, loose, in_no_shell, refused })
}

/// `2: its orbit has no positive size; 1: it would be below the ground`
fn by_reason(refused: &BTreeMap<String, u64>) -> String {
    let all: Vec<String> = refused.iter().map(|(reason, n)| format!("{n}: {reason}")).collect();
    all.join("; ")
}

impl Orbits {
    /// The satellites themselves over a whole degree of latitude and the middle longitude of a district, degrees;
    /// nothing where timelines are to be made from shells.
    pub fn timeline(&self, profile: &Profile, (latitude_key, lon_deg): (i32, f64), floor_deg: f64) -> Option<Timeline> {
        let tracks = &self.placed.as_ref()?.tracks;
        let observer = Observer::at(f64::from(latitude_key), lon_deg, 0.0);
        let geostationary_exclusion_deg = profile.constellation.geostationary_exclusion_deg;
        Some(elements::timeline(
            tracks,
            &observer,
            TimelineSpan { seconds: TIMELINE_S, floor_deg, geostationary_exclusion_deg },
        ))
    }

    /// The file they were read from.
    pub fn path(&self) -> &Path {
        &self.path
    }
    /// Its checksum.
    pub fn sha256(&self) -> &str {
        &self.input.sha256
    }

    fn in_shells(&self) -> usize {
        self.fit.shells.iter().map(|s| s.members.len()).sum()
    }

    /// The error of elements of which no satellite ever stands in the usable sky.
    pub(crate) fn never_seen(&self, floor_deg: f64) -> NeverSeen {
        let count = self.placed.as_ref().map_or_else(|| self.in_shells(), |p| p.tracks.len());
        let fact = format!(
            "none of the {} used rises above {floor_deg} degrees over any road of the extract in {}",
            counted(count, "satellite"),
            counted(TIMELINE_S / 3600, "hour")
        );
        let next = "give the elements of satellites that serve these latitudes, or leave out --orbits to drive under the \
                    shells of the profile";
        NeverSeen { path: self.path.display().to_string(), fact, next: next.to_owned() }
    }

    /// Adds to a record what file it was and what was made of it.
    pub(crate) fn write_down(&self, record: &mut BuildRecord) {
        record.inputs.push(self.input.clone());
        let fit = &self.fit;
        let day = |t: Timestamp| t.strftime("%Y-%m-%d").to_string();
        let (oldest, newest) = (day(self.epochs.0), day(self.epochs.1));
        record.assumed.push(format!(
            "shells fitted to {} of {} in {} ({} of {oldest} to {newest}); {}: {}",
            self.in_shells(),
            counted(self.objects, "object"),
            self.input.name,
            self.format,
            if self.placed.is_some() { "the others" } else { "left out" },
            in_no_shell(fit)
        ));
        record.assumed.extend(fit.shells.iter().map(|s| in_words(s.shell)));
        let mut counts = vec![
            ("orbit objects".to_owned(), self.objects),
            ("orbit sets superseded".into(), self.superseded),
            ("orbit objects in shells".into(), self.in_shells() as u64),
        ];
        let reasons = [("eccentric", fit.eccentric), ("moving", fit.moving), ("in no shell", fit.stray)];
        match &self.placed {
            Some(placed) => counts.extend(placed.write_down(record, self.objects)),
            None => counts.extend(reasons.map(|(reason, n)| (format!("orbit objects left out, {reason}"), n))),
        }
        record.counts.extend(counts);
    }
}

impl PlacedSatellites {
    /// Adds to a record under which satellites drives are; how many.
    fn write_down(&self, record: &mut BuildRecord, objects: u64) -> Vec<(String, u64)> {
        let (count, hours) = (self.tracks.len() as u64, counted(TIMELINE_S / 3600, "hour"));
        record.timeline_start = Some(self.start.to_string());
        let refused = if self.refused.is_empty() { "none".into() } else { by_reason(&self.refused) };
        record.assumed.push(format!(
            "drives are simulated under {count} of {}, as SGP4 places them in the {hours} from {}; refused: {refused}",
            counted(objects, "satellite"),
            self.start
        ));
        if self.in_no_shell > 0 {
            record.assumed.push(format!(
                "{} of these are in no shell: directions are weighted as if these were spread evenly along circles \
                 of their inclination and mean height ({})",
                self.in_no_shell,
                counted(self.loose.len(), "group")
            ));
        }
        let mut counts = vec![
            ("orbit objects placed".to_owned(), count),
            ("orbit objects placed, in no shell".into(), self.in_no_shell),
        ];
        counts.extend(self.refused.iter().map(|(reason, n)| (format!("orbit objects refused, {reason}"), *n)));
        counts
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
