//! Lengths, times of day and durations as people are told them: the one place that turns figures into words.
//!
//! In: metres, kilometres, km/h, civil times, seconds. Out: text. Feet and miles follow from their exact definitions (see
//! [`super::units`]). A posted clearance is rounded down and the height of a vehicle up: a sign in feet and inches, which a
//! layer holds to the centimetre, may so be told an inch lower, never higher.
use jiff::civil::Time;

use super::units::{FOOT_M, INCH_M, MILE_M};
use super::words::{Dial, Units};

/// Below this a length in feet reads better than one in miles.
const FEET_BELOW_M: f64 = 1_000.0 * FOOT_M;
/// Keeps 3.8 m at 3.80 m, where the nearest number of the machine lies a hair below.
const HAIR: f64 = 1e-6;

impl Units {
    /// A length of road: `63.3 km`, `39.3 mi`.
    pub fn road(self, metres: f64) -> String {
        format!("{:.1} {}", self.of_road(metres), self.sign())
    }
    /// The same without a fraction, where none is known: `63 km`, `39 mi`.
    pub fn road_about(self, metres: f64) -> String {
        format!("{:.0} {}", self.of_road(metres), self.sign())
    }
    /// A length of road as a figure, in the unit of [`Units::sign`].
    pub fn of_road(self, metres: f64) -> f64 {
        match self {
            Self::Metric => metres / 1e3,
            Self::Imperial => metres / MILE_M,
        }
    }
    /// The unit of roads: `km`, `mi`.
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Metric => "km",
            Self::Imperial => "mi",
        }
    }
    /// The unit of short lengths, metres.
    pub const fn short_m(self) -> f64 {
        match self {
            Self::Metric => 1.0,
            Self::Imperial => FOOT_M,
        }
    }
    /// What stands before a place on a road: `km`, `mile`.
    pub const fn post(self) -> &'static str {
        match self {
            Self::Metric => "km",
            Self::Imperial => "mile",
        }
    }
    /// A place on a road: `km 63.3`, `mile 39.3`.
    pub fn at(self, km: f64) -> String {
        format!("{} {:.1}", self.post(), self.of_road(km * 1e3))
    }
    /// A part of a road: `km 12.0 to 25.3`.
    pub fn span(self, (from_km, to_km): (f64, f64)) -> String {
        format!("{} to {:.1}", self.at(from_km), self.of_road(to_km * 1e3))
    }
    /// A short length: `35 m`, `115 ft`.
    pub fn near(self, metres: f64) -> String {
        match self {
            Self::Metric => format!("{metres:.0} m"),
            Self::Imperial => format!("{:.0} ft", metres / FOOT_M),
        }
    }
    /// A length that may be short or long: what is there never reads as nothing.
    pub fn length(self, metres: f64) -> String {
        let m = metres.max(0.0);
        let short = match self {
            Self::Metric => m.round() < 1_000.0,
            Self::Imperial => m < FEET_BELOW_M,
        };
        if short { self.near(m) } else { self.road(m) }
    }
    /// A height: `3.2 m`, `10 ft 6 in`.
    pub fn height(self, metres: f64) -> String {
        match self {
            Self::Metric => format!("{metres:.1} m"),
            Self::Imperial => feet_and_inches((metres / INCH_M).round()),
        }
    }
    /// A clearance, never rounded up: `4.20 m`, `13 ft 9 in`.
    pub fn clearance(self, metres: f64) -> String {
        match self {
            Self::Metric => format!("{:.2} m", (metres * 100.0 + HAIR).floor() / 100.0),
            Self::Imperial => feet_and_inches((metres / INCH_M + HAIR).floor()),
        }
    }
    /// The height of a vehicle, never rounded down: `3.10 m`, `10 ft 3 in`.
    pub fn tall(self, metres: f64) -> String {
        match self {
            Self::Metric => format!("{:.2} m", (metres * 100.0 - HAIR).ceil() / 100.0),
            Self::Imperial => feet_and_inches((metres / INCH_M - HAIR).ceil()),
        }
    }
    /// A speed: `80 km/h`, `50 mph`.
    pub fn speed(self, kmh: f64) -> String {
        match self {
            Self::Metric => format!("{kmh:.0} km/h"),
            Self::Imperial => format!("{:.0} mph", kmh * 1e3 / MILE_M),
        }
    }
}

fn feet_and_inches(inches: f64) -> String {
    let whole = inches.max(0.0) as u64;
    match (whole / 12, whole % 12) {
        (0, inches) => format!("{inches} in"),
        (feet, 0) => format!("{feet} ft"),
        (feet, inches) => format!("{feet} ft {inches} in"),
    }
}

impl Dial {
    /// A time of day: `14:05`, `2:05 pm`.
    pub fn time(self, at: Time) -> String {
        let (hour, minute) = (at.hour(), at.minute());
        match self {
            Self::Hours24 => format!("{hour:02}:{minute:02}"),
            Self::Hours12 => {
                let half = if hour < 12 { "am" } else { "pm" };
                format!("{}:{minute:02} {half}", (hour + 11) % 12 + 1)
            }
        }
    }
    /// A time written for 24 hours, told again: `24:00` is the end of a day. Other text stays as it is.
    pub fn retold(self, written: &str) -> String {
        let midnight = (self == Self::Hours12 && written == "24:00").then_some("00:00");
        match Time::strptime("%H:%M", midnight.unwrap_or(written)) {
            Ok(time) => self.time(time),
            Err(_) => written.to_owned(),
        }
    }
}

/// A duration: `0.4 s`, `32 s`, `15 min 21 s`, `1 h 05 min`; a decimal below ten seconds, no units that would be nought.
pub fn duration(seconds: f64) -> String {
    if seconds < 9.95 {
        let tenths = (seconds.max(0.0) * 10.0).round() as u64;
        return if tenths == 0 { "0 s".to_owned() } else { format!("{}.{} s", tenths / 10, tenths % 10) };
    }
    let s = seconds.round() as u64;
    match s {
        0..=99 => format!("{s} s"),
        100..=3_599 if s.is_multiple_of(60) => format!("{} min", s / 60),
        100..=3_599 => format!("{} min {:02} s", s / 60, s % 60),
        _ => hours((s + 30) / 60),
    }
}

/// A duration that is not exceeded: whole seconds, rounded up: `7 s`, `2 min`.
pub fn at_most(seconds: f64) -> String {
    let whole_s = (seconds - HAIR).ceil().max(0.0);
    match whole_s {
        s if s < 100.0 => format!("{s:.0} s"),
        s if s < 3_600.0 => duration(s),
        s => hours((s / 60.0).ceil() as u64),
    }
}

/// A duration that is known to the minute: `25 min`, `1 h 05 min`.
pub fn minutes(minutes: f64) -> String {
    let whole = minutes.max(0.0).round() as u64;
    if whole < 60 { format!("{whole} min") } else { hours(whole) }
}

fn hours(minutes: u64) -> String {
    match (minutes / 60, minutes % 60) {
        (h, 0) => format!("{h} h"),
        (h, min) => format!("{h} h {min:02} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn imperial_figures_follow_the_exact_definitions() {
        let imperial = Units::Imperial;
        // A mile has 1,609.344 m, a foot 0.3048 m (international yard and pound agreement of 1959).
        assert_eq!(imperial.road(160_934.4), "100.0 mi");
        assert_eq!(imperial.at(1.609_344), "mile 1.0");
        assert_eq!(imperial.span((16.093_44, 32.186_88)), "mile 10.0 to 20.0");
        assert_eq!((imperial.near(30.48), imperial.near(0.0)), ("100 ft".to_owned(), "0 ft".to_owned()));
        assert_eq!((imperial.length(304.7), imperial.length(304.9)), ("1000 ft".to_owned(), "0.2 mi".to_owned()));
        assert_eq!((imperial.speed(80.467_2), imperial.speed(100.0)), ("50 mph".to_owned(), "62 mph".to_owned()));
        assert_eq!((imperial.height(3.048), imperial.height(3.2)), ("10 ft".to_owned(), "10 ft 6 in".to_owned()));
        assert_eq!(Units::Metric.length(999.4), "999 m");
        assert_eq!(Units::Metric.length(999.6), "1.0 km");
    }

    #[test]
    fn no_rounding_makes_a_bridge_higher_or_a_vehicle_lower() {
        for units in Units::ALL {
            for mm in 1_000..6_000 {
                let metres = f64::from(mm) / 1e3;
                let [clear, tall] =
                    [units.clearance(metres), units.tall(metres)].map(|text| match text.strip_suffix(" m") {
                        Some(m) => m.parse::<f64>().unwrap(),
                        None => {
                            let mut parts = text.split(' ');
                            let mut sum = 0.0;
                            while let (Some(n), Some(unit)) = (parts.next(), parts.next()) {
                                sum += n.parse::<f64>().unwrap() * if unit == "ft" { 0.3048 } else { 0.0254 };
                            }
                            sum
                        }
                    });
                let step = if *units == Units::Metric { 0.01 } else { 0.0254 };
                assert!(clear <= metres + 1e-6 && metres - clear < step, "{units} {metres}: {clear}");
                assert!(tall >= metres - 1e-6 && tall - metres < step, "{units} {metres}: {tall}");
            }
        }
        // Signs of 13 feet 9 inches stay what they are.
        assert_eq!(Units::Imperial.clearance(13.75 * 0.3048), "13 ft 9 in");
        assert_eq!((Units::Metric.clearance(3.8), Units::Metric.tall(3.8)), ("3.80 m".to_owned(), "3.80 m".to_owned()));
    }

    #[test]
    fn both_dials_tell_every_minute_of_a_day() {
        let mut told = std::collections::BTreeSet::new();
        for minute in 0..1_440 {
            let time = Time::new((minute / 60) as i8, (minute % 60) as i8, 0, 0).unwrap();
            // Another program's way to write it: jiff's own directives.
            let by_jiff = time.strftime("%-I:%M %P").to_string();
            assert_eq!(Dial::Hours12.time(time), by_jiff);
            assert_eq!(Dial::Hours24.time(time), time.strftime("%H:%M").to_string());
            told.insert(by_jiff);
        }
        assert_eq!(told.len(), 1_440);
        assert_eq!(["00:00", "12:00", "24:00"].map(|t| Dial::Hours12.retold(t)), ["12:00 am", "12:00 pm", "12:00 am"]);
        assert_eq!((Dial::Hours24.retold("24:00"), Dial::Hours12.retold("dawn")), ("24:00".into(), "dawn".into()));
    }

    #[test]
    fn durations_have_one_style() {
        let told =
            [0.0, 0.04, 0.44, 9.94, 9.96, 99.4, 99.6, 120.0, 921.0, 3_599.4, 3_600.0, 3_899.0, 7_260.0].map(duration);
        let want = [
            "0 s",
            "0 s",
            "0.4 s",
            "9.9 s",
            "10 s",
            "99 s",
            "1 min 40 s",
            "2 min",
            "15 min 21 s",
            "59 min 59 s",
            "1 h",
            "1 h 05 min",
            "2 h 01 min",
        ];
        assert_eq!(told, want);
        assert_eq!([2.0, 6.2, 99.1, 120.0, 3_629.0].map(at_most), ["2 s", "7 s", "1 min 40 s", "2 min", "1 h 01 min"]);
        assert_eq!([0.4, 25.0, 59.6, 65.0].map(minutes), ["0 min", "25 min", "1 h", "1 h 05 min"]);
    }
}
