//! Legal speeds where no sign gives another, by country or part of one.
use std::collections::HashMap;

use crate::base::words::RoadClass;

/// The table; its source and licence stand at its head.
const TABLE: &str = include_str!("legal_speeds.txt");
/// Kilometres in a statute mile (exact).
const MILE_KM: f32 = 1.609_344;

/// Legal speeds of a country, km/h; infinite where there is no limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegalSpeeds {
    /// In built-up places.
    pub urban_kmh: Option<f32>,
    /// Outside them.
    pub rural_kmh: Option<f32>,
    /// Outside, on roads of the first rank (national roads, state highways) where they have a limit of their own.
    pub national_kmh: Option<f32>,
    /// Outside, on dual carriageways and motorroads.
    pub dual_kmh: Option<f32>,
    /// On motorways.
    pub motorway_kmh: Option<f32>,
}

impl LegalSpeeds {
    /// The limit outside built-up places on a road of a class. Motorways without a limit of their own are signed nearly
    /// everywhere: the general limit says nothing about them.
    pub fn outside_kmh(&self, class: RoadClass) -> Option<f32> {
        let highest = |of: &[Option<f32>]| of.iter().flatten().copied().reduce(f32::max);
        match class {
            RoadClass::Motorway => self.motorway_kmh,
            RoadClass::Trunk => highest(&[self.rural_kmh, self.national_kmh, self.dual_kmh]),
            RoadClass::Primary => highest(&[self.rural_kmh, self.national_kmh]),
            _ => self.rural_kmh,
        }
    }
}

/// Legal speeds by code.
#[derive(Debug)]
pub(super) struct SpeedTable(HashMap<&'static str, LegalSpeeds>);

impl SpeedTable {
    /// The table of the program.
    pub fn published() -> Self {
        Self(TABLE.lines().filter_map(row).collect())
    }
    /// The speeds of a country (`AD`) or a part of one (`US-TX`).
    pub fn of(&self, code: &str) -> Option<LegalSpeeds> {
        self.0.get(code).copied()
    }
}

/// A line: code, five speeds (`-` where not given, `none` where there is no limit), `mph` where they are miles per hour.
fn row(line: &'static str) -> Option<(&'static str, LegalSpeeds)> {
    let line = line.split('#').next()?;
    let mut words = line.split_whitespace();
    let code = words.next()?;
    let unit_km = if line.ends_with("mph") { MILE_KM } else { 1.0 };
    let mut next = || match words.next() {
        Some("none") => Some(f32::INFINITY),
        Some(text) => text.parse::<f32>().ok().map(|v| v * unit_km),
        None => None,
    };
    let speeds = LegalSpeeds {
        urban_kmh: next(),
        rural_kmh: next(),
        national_kmh: next(),
        dual_kmh: next(),
        motorway_kmh: next(),
    };
    Some((code, speeds))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_is_understood() {
        let lines: Vec<&str> = TABLE.lines().filter(|l| !l.starts_with('#')).collect();
        let table = SpeedTable::published();
        assert_eq!(table.0.len(), lines.len(), "a code appears twice");
        for line in lines {
            let words: Vec<&str> = line.split(' ').collect();
            let known = |w: &&&str| ["-", "none", "mph"].contains(*w) || w.parse::<f32>().is_ok();
            assert!(words.len() <= 7 && words[1..].iter().filter(known).count() == words.len() - 1, "{line}");
            let speeds = table.of(words[0]).unwrap();
            let all = [speeds.urban_kmh, speeds.rural_kmh, speeds.national_kmh, speeds.dual_kmh, speeds.motorway_kmh];
            assert!(all.iter().flatten().all(|v| (20.0..=140.0).contains(v) || v.is_infinite()), "{line}");
            let falls = all.iter().flatten().collect::<Vec<_>>().windows(2).any(|w| w[0] > w[1]);
            assert!(!falls, "{line}: slower on a better road");
        }
    }

    #[test]
    fn well_known_limits_are_there() {
        // Common knowledge of drivers, no source: 50 and 80 km/h in the Netherlands, 30, 60 and 70 mph in Great Britain,
        // no limit on German motorways, 90 km/h outside towns in Italy.
        let of = |code: &str| SpeedTable::published().of(code).unwrap();
        assert_eq!((of("NL").urban_kmh, of("NL").outside_kmh(RoadClass::Primary)), (Some(50.0), Some(80.0)));
        let gb = of("GB");
        let mph = |v: Option<f32>| v.map(|v| (v / MILE_KM).round());
        assert_eq!([gb.urban_kmh, gb.rural_kmh, gb.motorway_kmh].map(mph), [30.0, 60.0, 70.0].map(Some));
        assert_eq!(of("DE").outside_kmh(RoadClass::Motorway), Some(f32::INFINITY));
        assert_eq!(of("IT").outside_kmh(RoadClass::Secondary), Some(90.0));
        assert_eq!(of("AD").outside_kmh(RoadClass::Primary), Some(90.0), "a general road of Andorra");
        assert_eq!(of("AU").outside_kmh(RoadClass::Motorway), None, "not said, so not held against the class");
        assert_eq!(SpeedTable::published().of("AQ"), None);
    }
}
