//! What people say about their trip, in a TOML file: rules of driving, kinds of meetings, what things are worth to them.
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::plan::{Departure, Driving, Kind, Rules, Stopping, Worth};

/// Everything a trip file may hold; what is left out keeps its starting value.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Settings {
    /// Hours at the wheel, breaks, drivers.
    pub driving: Driving,
    /// When the day may begin and has to end.
    pub departure: Departure,
    /// Where and how one stops.
    pub stopping: Stopping,
    /// What things are worth against each other.
    pub worth: Worth,
    /// Kinds of meetings.
    pub meetings: Meetings,
}

/// How the kind of a meeting is told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Meetings {
    /// Kind of meetings about which nothing else is said.
    pub default: Kind,
    /// Kind by a category, or by words of the title; letter case does not matter.
    pub kinds: BTreeMap<String, Kind>,
}

impl Default for Meetings {
    fn default() -> Self {
        Self { default: Kind::Casual, kinds: BTreeMap::new() }
    }
}

/// What told the kind of a meeting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ToldBy {
    /// A category that is the name of a kind.
    Category,
    /// The trip file.
    File,
    /// Nothing: the default.
    Default,
}

impl Meetings {
    /// The kind of a meeting, and what told it: the file before the categories, the longest words first.
    pub fn kind(&self, title: &str, categories: &[String]) -> (Kind, ToldBy) {
        let title = title.to_lowercase();
        let fits = |words: &str| {
            let words = words.to_lowercase();
            !words.trim().is_empty()
                && (categories.iter().any(|c| c.trim().to_lowercase() == words) || title.contains(&words))
        };
        let mut named: Vec<(&String, &Kind)> = self.kinds.iter().filter(|(words, _)| fits(words)).collect();
        named.sort_by_key(|(words, kind)| (std::cmp::Reverse(words.chars().count()), **kind));
        if let Some((_, kind)) = named.first() {
            return (**kind, ToldBy::File);
        }
        match categories.iter().filter_map(|c| Kind::of_word(c)).min() {
            Some(kind) => (kind, ToldBy::Category),
            None => (self.default, ToldBy::Default),
        }
    }
}

/// A number that must lie in a range: key, value, lowest, highest.
type Bound = (&'static str, f64, f64, f64);

impl Settings {
    /// Reads a trip file.
    ///
    /// # Errors
    /// A sentence: what is wrong, with its line where the text tells it, and what is allowed.
    pub fn read(text: &str) -> Result<Self, String> {
        let settings: Self = toml::from_str(text).map_err(|e| e.to_string().trim_end().to_owned())?;
        settings.check()?;
        Ok(settings)
    }
    /// The rules of a plan.
    pub fn rules(&self) -> Rules {
        Rules {
            driving: self.driving.clone(),
            departure: self.departure.clone(),
            stopping: self.stopping.clone(),
            worth: self.worth.clone(),
        }
    }
    fn check(&self) -> Result<(), String> {
        for (key, value, low, high) in self.bounds() {
            if !(low..=high).contains(&value) {
                return Err(format!("{key} is {value}; it has to be from {low} to {high}"));
            }
        }
        if self.driving.from >= self.driving.to {
            return Err(format!(
                "driving.from ({}) has to be before driving.to ({})",
                self.driving.from, self.driving.to
            ));
        }
        Ok(())
    }
    fn bounds(&self) -> Vec<Bound> {
        let (d, p, s, w) = (&self.driving, &self.departure, &self.stopping, &self.worth);
        vec![
            ("driving.drivers", f64::from(d.drivers), 1.0, 20.0),
            ("driving.break_after_h", d.break_after_h, 0.25, 24.0),
            ("driving.break_min", d.break_min, 1.0, 600.0),
            ("driving.change_after_h", d.change_after_h, 0.25, 24.0),
            ("driving.change_min", d.change_min, 1.0, 120.0),
            ("driving.day_h", d.day_h, 0.5, 24.0),
            ("departure.earlier_min", f64::from(p.earlier_min), 0.0, 720.0),
            ("departure.later_min", f64::from(p.later_min), 0.0, 720.0),
            ("departure.step_min", f64::from(p.step_min), 1.0, 120.0),
            ("stopping.within_m", s.within_m, 0.0, 5_000.0),
            ("stopping.reach_m", s.reach_m, 0.0, 60.0),
            ("stopping.least_open", s.least_open, 0.0, 1.0),
            ("stopping.set_up_min", s.set_up_min, 0.0, 120.0),
            ("stopping.pack_up_min", s.pack_up_min, 0.0, 120.0),
            ("stopping.longest_wait_min", s.longest_wait_min, 0.0, 600.0),
            ("stopping.off_road_kmh", s.off_road_kmh, 1.0, 130.0),
            ("stopping.most_places", s.most_places as f64, 0.0, 500.0),
            ("worth.must_not_drop_min", w.must_not_drop_min, 0.0, 100_000.0),
            ("worth.casual_min", w.casual_min, 0.0, 100_000.0),
            ("worth.messages_min", w.messages_min, 0.0, 100_000.0),
            ("worth.shift_min", w.shift_min, 0.0, 1_000.0),
            ("worth.stop_min", w.stop_min, 0.0, 1_000.0),
            ("worth.each_stop_min", w.each_stop_min, 0.0, 1_000.0),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_out_keeps_its_value() {
        let s = Settings::read("[driving]\ndrivers = 1\nfrom = \"08:30:00\"\n").unwrap();
        assert_eq!((s.driving.drivers, s.driving.from), (1, jiff::civil::time(8, 30, 0, 0)));
        assert_eq!(s.stopping, Stopping::default());
        assert_eq!(Settings::read("").unwrap(), Settings::default());
    }

    #[test]
    fn wrong_keys_and_values_are_named() {
        for (text, part) in [
            ("[driving]\ndriver = 1", "line 2"),
            ("[driving]\nbreak_after_h = 0", "driving.break_after_h is 0; it has to be from 0.25 to 24"),
            ("[driving]\nfrom = \"20:00\"\nto = \"08:00\"", "driving.from"),
            ("[worth]\nstop_min = nan", "worth.stop_min"),
            ("[meetings]\ndefault = \"holiday\"", "must-not-drop"),
        ] {
            let error = Settings::read(text).unwrap_err();
            assert!(error.contains(part), "{text}: {error}");
        }
    }

    #[test]
    fn the_kind_comes_from_the_file_then_from_categories_then_from_the_default() {
        let s = Settings::read("[meetings.kinds]\nreview = \"must-not-drop\"\n\"port review\" = \"casual\"\n").unwrap();
        let kind = |title: &str, categories: &[&str]| {
            s.meetings.kind(title, &categories.iter().map(|c| (*c).to_owned()).collect::<Vec<_>>())
        };
        assert_eq!(kind("Datum REVIEW", &["messages"]), (Kind::MustNotDrop, ToldBy::File));
        assert_eq!(kind("The port review", &[]), (Kind::Casual, ToldBy::File));
        assert_eq!(kind("Lunch", &["Review"]), (Kind::MustNotDrop, ToldBy::File));
        assert_eq!(kind("Lunch", &["work", "Messages", "must not drop"]), (Kind::MustNotDrop, ToldBy::Category));
        assert_eq!(kind("Lunch", &["work"]), (Kind::Casual, ToldBy::Default));
    }
}
