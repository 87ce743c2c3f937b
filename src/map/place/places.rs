//! The country of a place, from boundaries that are part of the program.
//!
//! The boundaries are those of the crate `country-boundaries`, made of OpenStreetMap data (ODbL 1.0,
//! © OpenStreetMap contributors). Its three data sets hold the same lines over rasters of 6, 2 and 1 degrees. The
//! middle one is taken: 520 kB, and 2.3 microseconds for a look-up in Europe (5.8 with the smallest, 300 kB; 1.5 with the
//! largest, 980 kB).
use country_boundaries::{BOUNDARIES_ODBL_180X90, CountryBoundaries, LatLon};

use super::country::Country;
use super::speeds::{LegalSpeeds, SpeedTable};
use crate::base::error::{Error, Result};
use crate::base::geodesy::{LocalPlane, Point, Position};

/// At sea the nearest land within this distance decides, metres.
const SEA_REACH_M: f64 = 30_000.0;
/// It is looked for on rings this far from each other, metres, and at places about this far from each other on them.
const RING_M: f64 = 1_000.0;
const ON_RING_M: f64 = 2_000.0;

/// What is known of a place by where it lies.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Locale {
    /// The country; nothing at sea, far from land.
    pub country: Option<Country>,
    /// Legal speeds of the country or of its part; nothing where no table has them.
    pub speeds: Option<LegalSpeeds>,
}

/// The boundaries of all countries.
#[derive(Debug)]
pub struct Places {
    boundaries: CountryBoundaries,
    speeds: SpeedTable,
}

impl Places {
    /// Reads the boundaries.
    ///
    /// # Errors
    /// The program was built with damaged boundaries.
    pub fn embedded() -> Result<Self> {
        let boundaries = CountryBoundaries::from_reader(BOUNDARIES_ODBL_180X90).map_err(|e| {
            let next = "install the program again; if this happens again, report it";
            Error::failed("boundaries of countries", format!("the copy in this program is damaged: {e}"), next)
        })?;
        Ok(Self { boundaries, speeds: SpeedTable::published() })
    }
    /// The country of a place; at sea that of the nearest land within 30 km.
    pub fn country(&self, at: Position) -> Option<Country> {
        self.locale(at).country
    }
    /// The same with what is known of the country.
    pub fn locale(&self, at: Position) -> Locale {
        self.on_land(at).or_else(|| self.nearest_land(at)).unwrap_or_default()
    }
    fn on_land(&self, at: Position) -> Option<Locale> {
        let place = LatLon::new(at.lat_deg().clamp(-90.0, 90.0), at.lon_deg()).ok()?;
        // The smallest first: a part of a country before the country, a territory before whoever claims it as well.
        let ids = self.boundaries.ids(place);
        let country = ids.iter().find_map(|id| Country::of_code(id))?;
        let speeds = ids.iter().find_map(|id| self.speeds.of(id));
        Some(Locale { country: Some(country), speeds })
    }
    /// Rings from the inside, each from north clockwise: the same place always has the same answer.
    fn nearest_land(&self, at: Position) -> Option<Locale> {
        let plane = LocalPlane::at_position(at);
        let rings = (SEA_REACH_M / RING_M) as u32;
        (1..=rings).find_map(|ring| {
            let radius_m = RING_M * f64::from(ring);
            let count = (std::f64::consts::TAU * radius_m / ON_RING_M).ceil().max(8.0) as u32;
            (0..count).find_map(|i| {
                let azimuth_deg = 360.0 * f64::from(i) / f64::from(count);
                self.on_land(plane.to_position(Point::default().moved(azimuth_deg, radius_m)))
            })
        })
    }
}
