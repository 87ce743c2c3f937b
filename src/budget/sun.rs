//! What the sun gives on a flat panel, cell by cell of ten minutes: by place and date under a clear sky, or as the user says.
use std::f64::consts::PI;

use solar_positioning::time::JulianDate;
use solar_positioning::{Location, RefractionCorrection, SolarPositions, delta_t};

/// Length of a cell, in which the sun is taken as steady, seconds.
pub const CELL_S: f64 = 600.0;
/// Seconds of a day.
const DAY_S: f64 = 86_400.0;
/// Full sun, for which panels are rated, W/m².
const FULL_SUN_W_M2: f64 = 1_000.0;

/// A place on the Earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunPlace {
    /// Latitude, degrees north.
    pub lat_deg: f64,
    /// Longitude, degrees east.
    pub lon_deg: f64,
}

/// How much of the sun of a clear sky there is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SunAmount {
    /// This share of a clear sky's.
    Share(f64),
    /// Hours of full sun a day, whatever the sky gives, in its shape.
    Hours(f64),
}

/// The sun of a day: full suns in cells from its start.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DaySun {
    begin_s: f64,
    cells: Vec<f64>,
}

/// The apparent elevation of the sun's centre above the horizon at a time since 1970-01-01 UTC, degrees: the solar position
/// algorithm of Reda and Andreas (NREL/TP-560-34302) with refraction at 1010 hPa and 10 °C. Nothing outside its years.
pub fn elevation_deg(unix_s: f64, place: SunPlace) -> Option<f64> {
    let year = 1970.0 + unix_s / (365.2425 * DAY_S);
    let time = JulianDate::new(unix_s / DAY_S + 2_440_587.5, delta_t::estimate(year).ok()?).ok()?;
    let at = Location { latitude: place.lat_deg, longitude: place.lon_deg };
    let refraction = RefractionCorrection::new(1010.0, 10.0).ok()?;
    SolarPositions::new().at_from_julian(time, at, 0.0, Some(refraction)).ok().map(|sun| sun.elevation_angle())
}

/// Irradiance of a flat surface under a clear sky, W/m²: B. Haurwitz, Insolation in relation to cloudiness and cloud density,
/// Journal of Meteorology 2 (1945), with the constants of pvlib's `clearsky.haurwitz`.
pub fn clear_sky_w_m2(elevation_deg: f64) -> f64 {
    let up = elevation_deg.to_radians().sin();
    if up <= 0.0 { 0.0 } else { 1_098.0 * up * (-0.059 / up).exp() }
}

impl DaySun {
    /// No sun at all.
    pub fn none() -> Self {
        Self::default()
    }
    /// The sun of a place from one time to another, both since 1970-01-01 UTC. Nothing where its position is not known.
    ///
    /// Hours a day are those of each 24 hours from the start on; where the sun does not rise in them they cannot be given.
    pub fn at(begin_s: f64, end_s: f64, place: SunPlace, amount: SunAmount) -> Option<Self> {
        let clear = |middle_s| elevation_deg(middle_s, place).map(|e| clear_sky_w_m2(e) / FULL_SUN_W_M2);
        // The last day is whole, so that its hours have their whole shape.
        let days = ((end_s - begin_s) / DAY_S).ceil().max(0.0) as usize;
        let mut cells = Vec::with_capacity(days * (DAY_S / CELL_S) as usize);
        for day in 0..days {
            let middles =
                (0..(DAY_S / CELL_S) as usize).map(|i| begin_s + day as f64 * DAY_S + (i as f64 + 0.5) * CELL_S);
            let own: Vec<f64> = middles.map(clear).collect::<Option<_>>()?;
            let sum_h = own.iter().sum::<f64>() * CELL_S / 3_600.0;
            let scale = match amount {
                SunAmount::Share(share) => share,
                SunAmount::Hours(hours) if sum_h > 0.0 => hours / sum_h,
                SunAmount::Hours(_) => 0.0,
            };
            cells.extend(own.iter().map(|full| full * scale));
        }
        Some(Self { begin_s, cells })
    }
    /// Hours of full sun spread over a day from one hour to another as half a wave, for where place and date are not known.
    pub fn assumed(begin_s: f64, sun_hours: f64, from_h: f64, to_h: f64) -> Self {
        // What a half wave has given by some hour.
        let by = |h: f64| sun_hours * (1.0 - (PI * ((h - from_h) / (to_h - from_h)).clamp(0.0, 1.0)).cos()) / 2.0;
        let cell_h = CELL_S / 3_600.0;
        let cells = (0..(DAY_S / CELL_S) as usize).map(|i| {
            let h = i as f64 * cell_h;
            (by(h + cell_h) - by(h)) / cell_h
        });
        Self { begin_s, cells: cells.collect() }
    }
    /// Full suns at a time, steady until the end of the cell, and that end.
    pub fn full_suns(&self, at_s: f64) -> (f64, f64) {
        let cell = ((at_s - self.begin_s) / CELL_S).floor().max(0.0);
        let end_s = self.begin_s + (cell + 1.0) * CELL_S;
        match self.cells.get(cell as usize) {
            Some(full) => (*full, end_s),
            None => (0.0, f64::INFINITY),
        }
    }
    /// Hours of full sun until some time.
    pub fn sun_hours(&self, until_s: f64) -> f64 {
        let of = |(i, full): (usize, &f64)| full * (until_s - self.begin_s - i as f64 * CELL_S).clamp(0.0, CELL_S);
        self.cells.iter().enumerate().map(of).sum::<f64>() / 3_600.0
    }
}
