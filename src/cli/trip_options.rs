//! Options of a trip, the same wherever one is planned: when one leaves, by which road, with which meetings and rules.
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueHint};
use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::read::names_file;
use super::shown::{ClockOption, UnitsOption, shown};
use super::titles::title_of;
use super::values::length;
use super::{read, times, zones};
use crate::ask::days::{NamedCalendar, PlanQuestion, PlanRoad};
use crate::ask::matching::MatchOptions;
use crate::ask::settings::Settings;
use crate::base::error::{Error, Result};
use crate::base::input::{self, InputKind};
use crate::base::words::HowTold;
use crate::calendar;
use crate::layer::Layer;

/// Options of a trip.
#[derive(Debug, ClapArgs)]
pub(crate) struct TripOptions {
    /// Take this way of those that `waymask route` lists: fastest, steadiest or a number
    ///
    /// The points of the track are then places to go through. Without it the track is the road that is driven.
    #[arg(long, value_name = "N|NAME")]
    pub way: Option<String>,
    /// When to leave, such as 2026-06-15T08:00; may be given several times, once for each day
    ///
    /// The time is one of --zone unless it has an offset of its own. Without --depart the track's own times count.
    #[arg(long, value_name = "TIME")]
    pub depart: Vec<String>,
    /// Time zone of the traveller: Europe/Madrid or an offset such as -01:00; that of the place by default
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    pub zone: Option<String>,
    /// Calendar with meetings (iCalendar); may be given several times
    #[arg(long, value_name = "FILE.ics")]
    pub meetings: Vec<PathBuf>,
    /// Rules of driving, kinds of meetings, people and more (TOML)
    ///
    /// `waymask settings trip` prints every key.
    #[arg(long, value_name = "FILE.toml")]
    pub trip: Option<PathBuf>,
    /// How far the points of the track scatter about the road (standard deviation)
    #[arg(long, value_name = "DISTANCE", default_value = "10m", value_parser = length(1.0..=50.0))]
    pub noise: f64,
    /// Units of lengths.
    #[command(flatten)]
    pub units: UnitsOption,
    /// The dial of clocks.
    #[command(flatten)]
    pub clock: ClockOption,
    /// Title of the trip; the name of the track's file by default
    ///
    /// Answers have it as their heading, and the events of an .ics file are known by it: a new plan under the same title
    /// takes the place of the old one.
    #[arg(long, value_name = "TEXT", value_hint = ValueHint::Other)]
    pub title: Option<String>,
}

impl TripOptions {
    /// What a trip along a track is planned from; places typed by name are looked up in a layer. Programs get notes in metres.
    ///
    /// # Errors
    /// A value or a file that cannot be read.
    pub fn question(&self, layer: &Layer, track: &str, for_people: bool) -> Result<PlanQuestion> {
        let own = shown(&self.units, Some(&self.clock))?;
        let shown = if for_people { own } else { HowTold::default() };
        let mut track = read::track_in(layer, track, None)?;
        let taken = zones::zone_of(self.zone.as_deref(), &track)?;
        let zone = taken.zone.clone();
        let settings = self.trip.as_deref().map(Settings::read_file).transpose()?.unwrap_or_default();
        let calendars = self.meetings.iter().map(|p| calendar_of(p)).collect::<Result<_>>()?;
        let departs: Vec<Timestamp> = self.depart.iter().map(|text| depart(text, &zone)).collect::<Result<_>>()?;
        let begins = departs.first().copied().or_else(|| track.begins()).unwrap_or_else(Timestamp::now);
        track.notes.splice(0..0, taken.notes(begins));
        let road = match &self.way {
            Some(name) => PlanRoad::Way(name.clone()),
            None => PlanRoad::Driven(MatchOptions::of_noise(self.noise)),
        };
        Ok(PlanQuestion { track, road, departs, zone, calendars, settings, shown })
    }
    /// What the trip along a track is called.
    pub fn title(&self, track: &str) -> String {
        // Places typed by name are a title; coordinates are none.
        let named = !names_file(track) && track.chars().any(char::is_alphabetic) && !track.contains("geo:");
        let own = || if named { track.trim().chars().take(80).collect() } else { title_of(Path::new(track), "trip") };
        self.title.clone().unwrap_or_else(own)
    }
}

fn depart(text: &str, zone: &TimeZone) -> Result<Timestamp> {
    times::moment(text, zone).map_err(|fact| Error::usage(format!("--depart {text}"), "cannot be read", fact))
}

fn calendar_of(path: &Path) -> Result<NamedCalendar> {
    let next = "give an iCalendar file (.ics)";
    let text = input::text(path, InputKind::Calendar, next)?;
    let calendar = calendar::read(&text).map_err(|fact| Error::file(path, fact, next))?;
    Ok(NamedCalendar { name: path.display().to_string(), calendar })
}
