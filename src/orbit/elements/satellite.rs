//! One satellite carried forward by SGP4.
//!
//! Elements are made for the constants of WGS 72 and the older expressions of time, so those are used: they
//! are what reproduces the verification set published with AIAA 2006-6753.
use std::f64::consts::{PI, TAU};
use std::fmt;

use jiff::Timestamp;

use super::MeanElements;
use crate::orbit::frames::{Vector, earth_fixed, length, sidereal_rad, since_j2000_s};

/// Seconds in the year SGP4 counts epochs in.
const JULIAN_YEAR_S: f64 = 365.25 * 86_400.0;
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
            Self::MeanEccentricity => "its mean eccentricity leaves 0..1",
            Self::MeanMotion => "its mean motion is not positive",
            Self::Eccentricity => "its eccentricity leaves 0..1",
            Self::Parameter => "its orbit has no size",
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

impl Satellite {
    /// Prepares elements.
    ///
    /// # Errors
    /// The elements describe no orbit.
    pub fn new(elements: MeanElements) -> Result<Self, Failure> {
        let epoch_years = since_j2000_s(elements.epoch) / JULIAN_YEAR_S;
        let constants = sgp4::Constants::new(
            sgp4::WGS72,
            sgp4::afspc_epoch_to_sidereal_time,
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
        let state = self.constants.propagate_afspc_compatibility_mode(sgp4::MinutesSinceEpoch(minutes))?;
        let length_km = length(state.position);
        // Not a number is no place either.
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

    /// Revolution period after the mean motion, minutes.
    pub fn period_min(&self) -> f64 {
        2.0 * PI / (self.elements.mean_motion_rev_day * RAD_MIN_PER_REV_DAY)
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
