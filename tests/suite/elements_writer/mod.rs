//! Writes patterns of satellites the way element files carry them.
//!
//! Columns, checksums and keywords are laid out here from their definitions (the two-line format as printed
//! in AIAA 2006-6753 appendix B, CCSDS 502.0-B); nothing of the readers is used.
#![allow(dead_code, reason = "each test binary uses its part")]
use std::fmt::Write;

use jiff::Timestamp;
use jiff::tz::TimeZone;
use waymask::physics::orbit::elements::MeanElements;

/// Gravitational parameter, km^3/s^2, and the radius heights are counted from, km.
const MU: f64 = 398_600.8;
const SPHERE_KM: f64 = 6371.0;

/// A pattern of circular orbits: planes evenly around the equator, satellites evenly along each.
#[derive(Clone, Copy)]
pub struct Pattern {
    pub altitude_km: f64,
    pub inclination_deg: f64,
    pub planes: u32,
    pub per_plane: u32,
    /// Part of a circle over which the nodes are spread: 360, or 180 for a star of polar planes.
    pub spread_deg: f64,
}

impl Pattern {
    pub fn new(altitude_km: f64, inclination_deg: f64, planes: u32, per_plane: u32) -> Self {
        Self { altitude_km, inclination_deg, planes, per_plane, spread_deg: 360.0 }
    }
    pub fn count(&self) -> u32 {
        self.planes * self.per_plane
    }
    /// Elements with mean motions after Kepler, numbered from `first`.
    pub fn elements(&self, first: u64, epoch: Timestamp) -> Vec<MeanElements> {
        let mut out = Vec::new();
        for plane in 0..self.planes {
            for k in 0..self.per_plane {
                let node_deg = self.spread_deg * f64::from(plane) / f64::from(self.planes);
                let phase = f64::from(k) / f64::from(self.per_plane) + 0.618_034 * f64::from(plane);
                let number = first + out.len() as u64;
                let mut set = circular(number, self.altitude_km, self.inclination_deg, epoch);
                set.node_deg = node_deg;
                set.anomaly_deg = 360.0 * phase.fract();
                out.push(set);
            }
        }
        out
    }
}

/// One circular orbit.
pub fn circular(number: u64, altitude_km: f64, inclination_deg: f64, epoch: Timestamp) -> MeanElements {
    let radius_km: f64 = SPHERE_KM + altitude_km;
    MeanElements {
        catalogue_number: number,
        name: format!("PATTERN-{number}"),
        epoch,
        mean_motion_rev_day: 86_400.0 / (std::f64::consts::TAU * (radius_km.powi(3) / MU).sqrt()),
        eccentricity: 0.0001,
        inclination_deg,
        node_deg: 0.0,
        perigee_deg: 0.0,
        anomaly_deg: 0.0,
        bstar: 0.0,
        half_motion_rate_rev_day2: 0.0,
    }
}

pub fn time(text: &str) -> Timestamp {
    text.parse().unwrap()
}

/// Digits add up, a minus counts one; modulo ten.
pub fn checksum(line: &str) -> u32 {
    line.bytes().map(|b| if b == b'-' { 1 } else { char::from(b).to_digit(10).unwrap_or(0) }).sum::<u32>() % 10
}

/// A mantissa of five digits after an assumed point and a power of ten, eight columns.
fn assumed_point(value: f64) -> String {
    if value == 0.0 {
        return " 00000-0".into();
    }
    let mut exponent = value.abs().log10().floor() as i32 + 1;
    let mut digits = (value.abs() / 10f64.powi(exponent) * 1e5).round() as u32;
    if digits == 100_000 {
        (digits, exponent) = (10_000, exponent + 1);
    }
    let sign = if value < 0.0 { '-' } else { ' ' };
    let power = if exponent < 0 { '-' } else { '+' };
    format!("{sign}{digits:05}{power}{}", exponent.abs())
}

/// Five columns: digits, or a letter without I and O for numbers of six.
fn number5(number: u64) -> String {
    let lead = number / 10_000;
    let letter = |n: u64| b"ABCDEFGHJKLMNPQRSTUVWXYZ"[n as usize - 10] as char;
    if lead < 10 { format!("{number:05}") } else { format!("{}{:04}", letter(lead), number % 10_000) }
}

/// The two lines, with checksums.
pub fn two_lines(e: &MeanElements) -> String {
    let at = e.epoch.to_zoned(TimeZone::UTC);
    let midnight = at.start_of_day().unwrap();
    let day =
        f64::from(at.day_of_year()) + at.timestamp().duration_since(midnight.timestamp()).as_secs_f64() / 86_400.0;
    let rate = format!("{:+.8}", e.half_motion_rate_rev_day2).replacen("0.", ".", 1).replace('+', " ");
    let number = number5(e.catalogue_number);
    let mut first = format!(
        "1 {number}U 26001A   {:02}{day:012.8} {rate} {} {} 0  999",
        at.year() % 100,
        assumed_point(0.0),
        assumed_point(e.bstar)
    );
    let mut second = format!(
        "2 {number} {:8.4} {:8.4} {:07} {:8.4} {:8.4} {:11.8}{:5}",
        e.inclination_deg,
        e.node_deg,
        (e.eccentricity * 1e7).round() as u32,
        e.perigee_deg,
        e.anomaly_deg,
        e.mean_motion_rev_day,
        1
    );
    for line in [&mut first, &mut second] {
        assert_eq!(line.len(), 68, "{line}");
        let sum = checksum(line);
        let _ = write!(line, "{sum}");
    }
    format!("{first}\n{second}\n")
}

/// Sets without names.
pub fn two_line_file(sets: &[MeanElements]) -> String {
    sets.iter().map(two_lines).collect()
}

/// Keywords and values of a message, as text.
pub fn fields(e: &MeanElements) -> Vec<(&'static str, String)> {
    let epoch = e.epoch.to_zoned(TimeZone::UTC).datetime().to_string();
    vec![
        ("OBJECT_NAME", e.name.clone()),
        ("OBJECT_ID", "2026-001A".into()),
        ("CENTER_NAME", "EARTH".into()),
        ("REF_FRAME", "TEME".into()),
        ("TIME_SYSTEM", "UTC".into()),
        ("MEAN_ELEMENT_THEORY", "SGP4".into()),
        ("EPOCH", epoch),
        ("MEAN_MOTION", e.mean_motion_rev_day.to_string()),
        ("ECCENTRICITY", e.eccentricity.to_string()),
        ("INCLINATION", e.inclination_deg.to_string()),
        ("RA_OF_ASC_NODE", e.node_deg.to_string()),
        ("ARG_OF_PERICENTER", e.perigee_deg.to_string()),
        ("MEAN_ANOMALY", e.anomaly_deg.to_string()),
        ("EPHEMERIS_TYPE", "0".into()),
        ("NORAD_CAT_ID", e.catalogue_number.to_string()),
        ("BSTAR", e.bstar.to_string()),
        ("MEAN_MOTION_DOT", e.half_motion_rate_rev_day2.to_string()),
        ("MEAN_MOTION_DDOT", "0".into()),
    ]
}

pub type Fields = Vec<(&'static str, String)>;

pub fn json(messages: &[Fields], numbers_as_strings: bool) -> String {
    let one = |fields: &Fields| {
        let pairs: Vec<String> = fields
            .iter()
            .map(|(k, v)| match v.parse::<f64>() {
                Ok(_) if !numbers_as_strings => format!("\"{k}\": {v}"),
                _ => format!("\"{k}\": \"{v}\""),
            })
            .collect();
        format!("{{{}}}", pairs.join(", "))
    };
    format!("[{}]", messages.iter().map(one).collect::<Vec<_>>().join(",\n"))
}

pub fn xml(messages: &[Fields]) -> String {
    let one = |fields: &Fields| {
        let inner: String = fields.iter().map(|(k, v)| format!("<{k}>{v}</{k}>\n")).collect();
        format!(
            "<omm id=\"CCSDS_OMM_VERS\" version=\"3.0\"><header><ORIGINATOR/></header>\
             <body><segment><data><meanElements>{inner}</meanElements></data></segment></body></omm>\n"
        )
    };
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<ndm>{}</ndm>\n", messages.iter().map(one).collect::<String>())
}

pub fn kvn(messages: &[Fields]) -> String {
    let unit = |k: &str| match k {
        "MEAN_MOTION" => " [rev/day]",
        "INCLINATION" | "RA_OF_ASC_NODE" => " [deg]",
        _ => "",
    };
    let one = |fields: &Fields| {
        let inner: String = fields.iter().map(|(k, v)| format!("{k:20} = {v}{}\n", unit(k))).collect();
        format!("CCSDS_OMM_VERS = 3.0\nCOMMENT of = no meaning\nORIGINATOR = TEST\n\n{inner}\n")
    };
    messages.iter().map(one).collect()
}

pub fn csv(messages: &[Fields]) -> String {
    let heading: Vec<&str> = messages[0].iter().map(|(k, _)| *k).collect();
    let line = |f: &Fields| f.iter().map(|(_, v)| v.as_str()).collect::<Vec<_>>().join(",");
    format!("{}\n{}\n", heading.join(","), messages.iter().map(line).collect::<Vec<_>>().join("\n"))
}
