//! What people say about their trip, in a TOML file: rules of driving, kinds of meetings, what things are worth to them.
use std::collections::BTreeMap;
use std::fmt::Write;

use serde::{Deserialize, Serialize};

use toml::Table;

use super::plan::{Departure, Driving, Kind, Rules, Stopping, Worth};
use crate::budget::{self, SpendingSettings};
use crate::profile::keys::Mark::{Assumed, CommonPractice, Published};
use crate::profile::keys::{Key, key, word};

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
    /// Data and energy, where the file has any of their sections.
    #[serde(skip_deserializing, skip_serializing_if = "Option::is_none")]
    pub spending: Option<SpendingSettings>,
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

/// What a file may hold, sections of data and energy as well.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(dead_code, reason = "only whether it can be read matters; values are taken section by section")]
struct File {
    driving: Option<Driving>,
    departure: Option<Departure>,
    stopping: Option<Stopping>,
    worth: Option<Worth>,
    meetings: Option<Meetings>,
    work: Option<budget::settings::Work>,
    rates: Option<budget::settings::Rates>,
    device: Option<Vec<budget::settings::Device>>,
    power: Option<budget::settings::Power>,
    battery: Option<budget::settings::Battery>,
    solar: Option<budget::settings::Solar>,
    tariff: Option<Vec<budget::settings::Tariff>>,
}

impl Settings {
    /// Reads a trip file.
    ///
    /// # Errors
    /// A sentence: what is wrong, with its line where the text tells it, and what is allowed.
    pub fn read(text: &str) -> Result<Self, String> {
        let wrong = |e: toml::de::Error| e.to_string().trim_end().to_owned();
        // Read once as a whole, so that a wrong key is reported with its line.
        toml::from_str::<File>(text).map_err(wrong)?;
        let mut table: Table = toml::from_str(text).map_err(wrong)?;
        let has_spending = SpendingSettings::SECTIONS.iter().any(|s| table.contains_key(*s));
        let spending = if has_spending { Some(SpendingSettings::from_table(&table)?) } else { None };
        SpendingSettings::SECTIONS.iter().for_each(|s| drop(table.remove(*s)));
        let own: Self = table.try_into().map_err(wrong)?;
        own.check()?;
        Ok(Self { spending, ..own })
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
        let table = Table::try_from(self).map_err(|e| e.to_string())?;
        for key in KEYS.iter().filter(|k| k.min.is_finite()) {
            let value = value_at(&table, key.path).and_then(|v| v.as_float().or(v.as_integer().map(|i| i as f64)));
            if let Some(value) = value.filter(|v| !(key.min..=key.max).contains(v)) {
                return Err(format!("{} is {value}; it has to be from {} to {}", key.path, key.min, key.max));
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
    /// A trip file with every key at its starting value, its range, and where the value comes from.
    pub fn example() -> String {
        let table = Table::try_from(Self::default()).unwrap_or_default();
        let mut out = String::from("# A trip. Ranges in brackets; every key may be left out.\n");
        let mut section = "";
        for key in KEYS {
            let (own, name) = key.path.split_once('.').unwrap_or(("", key.path));
            if own != section {
                section = own;
                let _ = writeln!(out, "\n[{section}]");
            }
            let range = if key.min.is_finite() { format!(" [{} to {}]", key.min, key.max) } else { String::new() };
            let set = match value_at(&table, key.path) {
                Some(value) => format!("{name} = {value}"),
                None => format!(
                    "# {name} = {}",
                    if name == "kinds" { "{ \"words or category\" = \"casual\" }" } else { "\"18:00:00\"" }
                ),
            };
            let _ = writeln!(out, "{set:30} # {}{range}; {}", key.mark.name(), key.note);
        }
        format!("{out}\n{}", budget::keys::example().unwrap_or_default())
    }
}

fn value_at<'a>(table: &'a Table, path: &str) -> Option<&'a toml::Value> {
    let (section, name) = path.split_once('.')?;
    table.get(section)?.get(name).filter(|v| v.as_table().is_none_or(|t| !t.is_empty()))
}

/// Every key, in printing order.
pub const KEYS: &[Key] = &[
    key("driving.drivers", Assumed, 1.0, 20.0, "people who drive"),
    key(
        "driving.break_after_h",
        Published,
        0.25,
        24.0,
        "longest drive without a break: Highway Code of Great Britain, rule 91 (from memory)",
    ),
    key("driving.break_min", Published, 1.0, 600.0, "shortest break, minutes: the same rule"),
    key("driving.change_after_h", Assumed, 0.25, 24.0, "longest drive of one driver, where there are two or more"),
    key("driving.change_min", Assumed, 1.0, 120.0, "minutes to change drivers"),
    key(
        "driving.day_h",
        Published,
        0.5,
        24.0,
        "most hours at the wheel in a day: Regulation (EC) No 561/2006, article 6, for one professional driver (from memory)",
    ),
    word("driving.from", Assumed, "nobody drives before"),
    word("driving.to", Assumed, "nobody drives after"),
    key("departure.earlier_min", Assumed, 0.0, 720.0, "most minutes before the time asked for"),
    key("departure.later_min", Assumed, 0.0, 720.0, "most minutes after it"),
    key("departure.step_min", Assumed, 1.0, 120.0, "between departures tried"),
    word("departure.arrive_by", Assumed, "latest arrival; none unless given"),
    key("stopping.within_m", Assumed, 0.0, 5_000.0, "places this far from the road driven"),
    key("stopping.reach_m", CommonPractice, 0.0, 60.0, "the panel stands this far from the vehicle at most"),
    key("stopping.least_open", Assumed, 0.0, 1.0, "share of open sky a place for a meeting has at least"),
    key("stopping.set_up_min", Assumed, 0.0, 120.0, "to put the panel out before a meeting"),
    key("stopping.pack_up_min", Assumed, 0.0, 120.0, "to pack up after it"),
    key("stopping.longest_wait_min", Assumed, 0.0, 600.0, "longest wait for a meeting to begin"),
    key("stopping.off_road_kmh", Assumed, 1.0, 130.0, "speed from the road to the place and back"),
    key(
        "stopping.most_places",
        Assumed,
        0.0,
        500.0,
        "places compared; of more the best are kept, spread along the road",
    ),
    key(
        "worth.must_not_drop_min",
        Assumed,
        0.0,
        100_000.0,
        "minutes that an interrupted must-not-drop meeting is worth",
    ),
    key("worth.casual_min", Assumed, 0.0, 100_000.0, "an interrupted casual call"),
    key("worth.messages_min", Assumed, 0.0, 100_000.0, "messages that cannot be sent"),
    key("worth.shift_min", Assumed, 0.0, 1_000.0, "a minute of leaving earlier or later than asked"),
    key("worth.stop_min", Assumed, 0.0, 1_000.0, "a minute of stopping"),
    key("worth.each_stop_min", Assumed, 0.0, 1_000.0, "every stop besides its minutes"),
    word("meetings.default", Assumed, "must-not-drop, casual or messages, where nothing else tells"),
    word("meetings.kinds", Assumed, "kind by a category or by words of the title"),
];

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
    fn the_example_names_every_key_and_changes_nothing() {
        let text = Settings::example();
        let read = Settings::read(&text).unwrap();
        assert_eq!(read.spending, Some(SpendingSettings::default()));
        assert_eq!(Settings { spending: None, ..read }, Settings::default(), "{text}");
        let table = Table::try_from(Settings::default()).unwrap();
        for (section, values) in &table {
            for name in values.as_table().unwrap().keys() {
                let path = format!("{section}.{name}");
                assert!(KEYS.iter().any(|k| k.path == path), "{path} is not listed");
            }
        }
        assert!(KEYS.iter().all(|k| text.contains(k.note)));
    }

    #[test]
    fn the_trip_file_of_the_sample_is_read() {
        let trip = Settings::read(include_str!("../../data-samples/varrow-trip.toml")).unwrap();
        let spending = trip.spending.unwrap();
        assert_eq!((trip.departure.later_min, spending.tariff.len()), (10, 2));
        assert_eq!(trip.meetings.kinds.get("levelling call"), Some(&Kind::MustNotDrop));
    }

    #[test]
    fn wrong_keys_and_values_are_named() {
        for (text, part) in [
            ("[driving]\ndriver = 1", "line 2"),
            ("[driving]\nbreak_after_h = 0", "driving.break_after_h is 0; it has to be from 0.25 to 24"),
            ("[driving]\nfrom = \"20:00\"\nto = \"08:00\"", "driving.from"),
            ("[power]\nidle_kw = 1", "line 2"),
            ("[power]\nidle_w = -1", "power.idle_w"),
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
