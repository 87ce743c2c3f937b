//! One orbit mean-elements message as keywords and values, and what it means (CCSDS 502.0-B-3 section 4).
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;

use super::model::{LeftOut, MeanElements, label};
use crate::base::defect::Defect;

/// Keywords in capitals with their values, in the order read; the last of equal ones counts.
#[derive(Default)]
pub(super) struct Message {
    fields: Vec<(String, String)>,
}

/// Names under which a message may say it is of SGP4; none at all means the same.
const THEORIES: [&str; 3] = ["SGP4", "SGP/SGP4", "SGP4/SDP4"];
/// True equator, mean equinox: the frame of SGP4.
const FRAMES: [&str; 2] = ["TEME", "TEMEOFDATE"];
/// 0 is the default and 2 is SGP4 by number; 4 is SGP4-XP, whose elements SGP4 must not take (CCSDS 502.0-B-3, 4.2.4.7, which
/// calls these codings suggestions of some sources).
pub(super) const SGP4_TYPES: [&str; 2] = ["0", "2"];
/// No orbit around the earth is faster than 17 revolutions a day; what is beyond 20 is not a mean motion.
const FASTEST_REV_DAY: f64 = 20.0;
/// The first satellite.
const FIRST_YEAR: i16 = 1957;

impl Message {
    pub(super) fn add(&mut self, keyword: &str, value: &str) {
        let value = value.trim();
        if !value.is_empty() {
            self.fields.push((keyword.trim().to_ascii_uppercase(), value.to_owned()));
        }
    }
    pub(super) fn is_empty(&self) -> bool {
        self.fields.is_empty()
    }
    fn get(&self, keyword: &str) -> Option<&str> {
        self.fields.iter().rev().find(|(k, _)| k == keyword).map(|(_, v)| v.as_str())
    }
    fn needed(&self, keyword: &str) -> Result<&str, LeftOut> {
        self.get(keyword).ok_or_else(|| LeftOut::bad(format!("{keyword} is missing")))
    }
    fn number(&self, keyword: &str) -> Result<f64, LeftOut> {
        let text = self.needed(keyword)?;
        text.parse().map_err(|_| LeftOut::bad(format!("{keyword} = `{text}` is not a number")))
    }
    /// How the message's object is called, as far as it says.
    pub(super) fn label(&self) -> Option<String> {
        let number = self.get("NORAD_CAT_ID").and_then(|n| n.parse().ok());
        let name = self.get("OBJECT_NAME").or_else(|| self.get("OBJECT_ID"));
        match (number, name) {
            (Some(number), name) => Some(label(number, name.unwrap_or_default())),
            (None, name) => name.map(str::to_owned),
        }
    }

    /// The elements in the message.
    pub(super) fn elements(&self) -> Result<MeanElements, LeftOut> {
        self.check_theory()?;
        let catalogue = self.needed("NORAD_CAT_ID")?;
        let set = MeanElements {
            catalogue_number: catalogue
                .parse()
                .map_err(|_| LeftOut::bad(format!("NORAD_CAT_ID = `{catalogue}` is not a whole number")))?,
            name: self.get("OBJECT_NAME").unwrap_or_default().to_owned(),
            epoch: epoch(self.needed("EPOCH")?)?,
            mean_motion_rev_day: self.number("MEAN_MOTION")?,
            eccentricity: self.number("ECCENTRICITY")?,
            inclination_deg: self.number("INCLINATION")?,
            node_deg: self.number("RA_OF_ASC_NODE")?,
            perigee_deg: self.number("ARG_OF_PERICENTER")?,
            anomaly_deg: self.number("MEAN_ANOMALY")?,
            bstar: self.number("BSTAR")?,
            half_motion_rate_rev_day2: match self.get("MEAN_MOTION_DOT") {
                Some(_) => self.number("MEAN_MOTION_DOT")?,
                None => 0.0,
            },
        };
        checked(set)
    }

    /// Elements of another theory, frame or clock look alike and would be carried to wrong places.
    fn check_theory(&self) -> Result<(), LeftOut> {
        let allowed: [(&str, &[&str]); 5] = [
            ("MEAN_ELEMENT_THEORY", &THEORIES),
            ("EPHEMERIS_TYPE", &SGP4_TYPES),
            ("REF_FRAME", &FRAMES),
            ("TIME_SYSTEM", &["UTC"]),
            ("CENTER_NAME", &["EARTH"]),
        ];
        for (keyword, values) in allowed {
            if let Some(value) = self.get(keyword)
                && !values.iter().any(|v| v.eq_ignore_ascii_case(value))
            {
                return Err(other_theory(keyword, value));
            }
        }
        Ok(())
    }
}

pub(super) fn other_theory(keyword: &str, value: &str) -> LeftOut {
    LeftOut { defect: Defect::OtherTheory, fact: format!("{keyword} is {value}") }
}

/// Elements within the ranges their definitions allow.
pub(super) fn checked(set: MeanElements) -> Result<MeanElements, LeftOut> {
    let ranges = [
        ("mean motion", set.mean_motion_rev_day, f64::MIN_POSITIVE, FASTEST_REV_DAY),
        ("eccentricity", set.eccentricity, 0.0, 1.0 - f64::EPSILON),
        ("inclination", set.inclination_deg, 0.0, 180.0),
        ("node", set.node_deg, -360.0, 360.0),
        ("argument of the perigee", set.perigee_deg, -360.0, 360.0),
        ("mean anomaly", set.anomaly_deg, -360.0, 360.0),
        ("drag term", set.bstar, -1e3, 1e3),
        ("rate of the mean motion", set.half_motion_rate_rev_day2, -1e3, 1e3),
    ];
    for (name, value, low, high) in ranges {
        // Not a number is in no range.
        if !(low..=high).contains(&value) {
            return Err(LeftOut::bad(format!("{name} {value} is out of range")));
        }
    }
    Ok(set)
}

/// A time as CCSDS 301.0-B writes it: `2020-10-13T04:52:48.472320` or `2020-287T04:52:48.47`, UTC, with or
/// without a final Z.
fn epoch(text: &str) -> Result<Timestamp, LeftOut> {
    read_epoch(text).ok_or_else(|| LeftOut::bad(format!("EPOCH = `{text}` is not a time")))
}

fn read_epoch(text: &str) -> Option<Timestamp> {
    let text = text.strip_suffix(['Z', 'z']).unwrap_or(text);
    let (day, clock) = text.split_once(['T', 't', ' '])?;
    let date = date(day)?;
    if date.year() < FIRST_YEAR {
        return None;
    }
    date.to_datetime(time(clock)?).to_zoned(TimeZone::UTC).ok().map(|z| z.timestamp())
}

fn date(text: &str) -> Option<Date> {
    let parts: Vec<&str> = text.split('-').collect();
    match parts[..] {
        [year, month, day] => Date::new(whole(year)?, whole(month)?, whole(day)?).ok(),
        [year, day] => Date::new(whole(year)?, 1, 1).ok()?.with().day_of_year(whole(day)?).build().ok(),
        _ => None,
    }
}

/// A clock time; a leap second counts as the second before it.
fn time(text: &str) -> Option<Time> {
    let parts: Vec<&str> = text.split(':').collect();
    let [hour, minute, second] = parts[..] else { return None };
    let (second, fraction) = second.split_once('.').unwrap_or((second, ""));
    if !fraction.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let digits: String = fraction.chars().chain("000000000".chars()).take(9).collect();
    let second: i8 = whole(second)?;
    Time::new(whole(hour)?, whole(minute)?, second - i8::from(second == 60), digits.parse().ok()?).ok()
}

/// Digits alone: no signs, no blanks.
fn whole<T: std::str::FromStr>(text: &str) -> Option<T> {
    (!text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())).then(|| text.parse().ok())?
}
