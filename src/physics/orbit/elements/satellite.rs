//! One satellite carried forward by SGP4.
//!
//! Elements are made for the constants of WGS 72, so those are used; with sidereal time of 1982 and without the older
//! programs' slip on low deep orbits, which is how the states published with AIAA 2006-6753 were made.
use std::f64::consts::TAU;
use std::fmt;

use jiff::Timestamp;

use super::model::MeanElements;
use crate::physics::orbit::frames::{Vector, earth_fixed, length, sidereal_rad, since_j2000_s};

/// Days in the year SGP4 counts epochs in.
const JULIAN_YEAR_DAYS: f64 = 365.25;
/// Julian dates of 1970-01-01 00:00 and of J2000.
const UNIX_JULIAN_DATE: f64 = 2_440_587.5;
const J2000_JULIAN_DATE: f64 = 2_451_545.0;
const DAY_S: i64 = 86_400;
/// Minutes in a day over a turn: revolutions per day to radians per minute.
const RAD_MIN_PER_REV_DAY: f64 = TAU / 1_440.0;

/// Why a satellite cannot be placed at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Failure {
    /// The mean eccentricity has left 0..1.
    MeanEccentricity,
    /// The mean motion is not positive.
    MeanMotion,
    /// The eccentricity with the pull of sun and moon has left 0..1.
    Eccentricity,
    /// The orbit's parameter is negative.
    Parameter,
    /// The satellite would be below the ground.
    Decayed,
}

impl Failure {
    /// The code that AIAA 2006-6753 gives it.
    pub fn code(self) -> u8 {
        match self {
            Self::MeanEccentricity => 1,
            Self::MeanMotion => 2,
            Self::Eccentricity => 3,
            Self::Parameter => 4,
            Self::Decayed => 6,
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::MeanEccentricity => "its mean eccentricity is outside 0..1",
            Self::MeanMotion => "its mean motion is not positive",
            Self::Eccentricity => "its eccentricity is outside 0..1",
            Self::Parameter => "its orbit has no positive size",
            Self::Decayed => "it would be below the ground",
        })
    }
}

impl From<sgp4::Error> for Failure {
    fn from(error: sgp4::Error) -> Self {
        match error {
            sgp4::Error::OutOfRangeEccentricity { .. } => Self::MeanEccentricity,
            sgp4::Error::OutOfRangePerturbedEccentricity { .. } => Self::Eccentricity,
            sgp4::Error::NegativeSemiLatusRectum { .. } => Self::Parameter,
        }
    }
}

/// Elements ready to be carried to any time.
#[derive(Debug, Clone)]
pub struct Satellite {
    /// What it was made from.
    pub elements: MeanElements,
    constants: sgp4::Constants,
}

/// The mean orbit after Brouwer, in SGP4's units: radians and minutes.
pub(super) fn brouwer(elements: &MeanElements) -> Result<sgp4::Orbit, Failure> {
    sgp4::Orbit::from_kozai_elements(
        &sgp4::WGS72,
        elements.inclination_deg.to_radians(),
        elements.node_deg.to_radians(),
        elements.eccentricity,
        elements.perigee_deg.to_radians(),
        elements.anomaly_deg.to_radians(),
        elements.mean_motion_rev_day * RAD_MIN_PER_REV_DAY,
    )
    .map_err(|_| Failure::MeanMotion)
}

/// Years since J2000, over a Julian date in one double as in the published program: that rounds to 40 microseconds, which
/// the published states hold and elements fitted with it expect.
fn as_published_years(epoch: Timestamp) -> f64 {
    let day = epoch.as_second().div_euclid(DAY_S);
    let second = epoch.as_second().rem_euclid(DAY_S) as f64 + f64::from(epoch.subsec_nanosecond()) * 1e-9;
    let julian_date = UNIX_JULIAN_DATE + day as f64 + second / DAY_S as f64;
    (julian_date - J2000_JULIAN_DATE) / JULIAN_YEAR_DAYS
}

impl Satellite {
    /// Prepares elements.
    ///
    /// # Errors
    /// The elements describe no orbit.
    pub fn new(elements: MeanElements) -> Result<Self, Failure> {
        let epoch_years = as_published_years(elements.epoch);
        let constants = sgp4::Constants::new(
            sgp4::WGS72,
            sgp4::iau_epoch_to_sidereal_time,
            epoch_years,
            elements.bstar,
            brouwer(&elements)?,
        )
        .map_err(|_| Failure::MeanEccentricity)?;
        Ok(Self { elements, constants })
    }

    /// Position (km) and velocity (km/s) in TEME, minutes after the epoch.
    ///
    /// # Errors
    /// The elements do not reach that far.
    pub fn teme(&self, minutes: f64) -> Result<(Vector, Vector), Failure> {
        let state = self.constants.propagate(sgp4::MinutesSinceEpoch(minutes))?;
        let length_km = length(state.position);
        // What is not a number is not a place either.
        if !(length_km >= sgp4::WGS72.ae && length_km.is_finite()) {
            return Err(Failure::Decayed);
        }
        Ok((state.position, state.velocity))
    }

    /// Earth-fixed position (km) and velocity over the turning earth (km/s) at a time, taking UT1 for UTC.
    ///
    /// # Errors
    /// The elements do not reach that far.
    pub fn earth_fixed(&self, time: Timestamp) -> Result<(Vector, Vector), Failure> {
        let now_s = since_j2000_s(time);
        let minutes = (now_s - since_j2000_s(self.elements.epoch)) / 60.0;
        let (position, velocity) = self.teme(minutes)?;
        Ok(earth_fixed(position, velocity, sidereal_rad(now_s)))
    }
}

/// Prepares satellites; those whose elements describe no orbit are returned apart, with the reason.
pub fn prepare(objects: impl IntoIterator<Item = MeanElements>) -> (Vec<Satellite>, Vec<(String, Failure)>) {
    let (mut ready, mut refused) = (Vec::new(), Vec::new());
    for elements in objects {
        let label = elements.label();
        match Satellite::new(elements) {
            Ok(satellite) => ready.push(satellite),
            Err(failure) => refused.push((label, failure)),
        }
    }
    (ready, refused)
}
