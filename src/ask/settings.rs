//! What people say about their trip, in a TOML file: rules of driving, kinds of meetings, what things are worth to them.
use std::collections::BTreeMap;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::people::{self, People};
use super::plan::{Departure, Driving, Kind, Nights, Rules, SAFE_RISK, Stopping, Worth};
use crate::base::caution::{Caution, on_terminal};
use crate::base::error::Result;
use crate::base::settings::Mark::{Assumed, CommonPractice, Published};
use crate::base::settings::{Conflict, Given, Key, Keys, as_table, flag, named, number, time, whole, word};
use crate::budget::{self, BudgetSettings};

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
    /// Where the nights between two days are spent.
    pub nights: Nights,
    /// What things are worth against each other.
    pub worth: Worth,
    /// Kinds of meetings.
    pub meetings: Meetings,
    /// Who travels.
    pub people: People,
    /// Data and energy, where the file has any of their sections.
    #[serde(skip_deserializing, skip_serializing_if = "Option::is_none")]
    pub spending: Option<BudgetSettings>,
}

/// How the kind of a meeting is found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Meetings {
    /// Kind of meetings about which nothing else is said.
    pub default: Kind,
    /// Highest risk at which one counts as safe.
    pub safe_risk: f64,
    /// Kind by a category, or by words of the title; letter case does not matter.
    pub kinds: BTreeMap<String, Kind>,
}

impl Default for Meetings {
    fn default() -> Self {
        Self { default: Kind::Casual, safe_risk: SAFE_RISK, kinds: BTreeMap::new() }
    }
}

/// What gave the kind of a meeting.
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
    /// The kind of a meeting, and what gave it: the file before the categories, the longest words first.
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

impl Settings {
    /// Reads a trip file.
    ///
    /// # Errors
    /// The file cannot be read, or holds what cannot be used.
    pub(crate) fn read_file(path: &Path) -> Result<Self> {
        Self::from_given(&FILE.read_file(path, "`waymask settings trip` prints a file to start from")?)
    }
    /// Settings from TOML; `source` names it in errors.
    ///
    /// # Errors
    /// What cannot be used.
    pub fn read(text: &str, source: &str) -> Result<Self> {
        Self::from_given(&FILE.read(text, source)?)
    }
    fn from_given(given: &Given) -> Result<Self> {
        let own = given.over(KEYS.iter().chain(people::KEYS), &Self::default())?;
        given.check(own.conflict())?;
        given.check(own.people.conflict())?;
        let spending = (given.names_any(budget::keys::FIRST) || given.names_any(budget::keys::KEYS))
            .then(|| budget::said(given))
            .transpose()?;
        Ok(Self { spending, ..own })
    }
    /// The rules of a plan.
    pub fn rules(&self) -> Rules {
        let drivers = self.people.drivers().unwrap_or(self.driving.drivers);
        Rules {
            driving: Driving { drivers, ..self.driving.clone() },
            departure: self.departure.clone(),
            stopping: self.stopping.clone(),
            worth: self.worth.clone(),
            safe_risk: self.meetings.safe_risk,
            crew: self.people.traveller.clone(),
        }
    }
    fn conflict(&self) -> Option<Conflict> {
        let (from, to) = (self.driving.from, self.driving.to);
        let (said, named) = (self.driving.drivers, self.people.drivers());
        if let Some(named) = named.filter(|n| *n != said && *n > 0 && said != Driving::default().drivers) {
            return Some(Conflict {
                keys: vec!["driving.drivers".to_owned()],
                fact: format!("{said} is not the number of travellers who drive, which is {named}"),
                allowed: "leave it out, or make the travellers agree with it".to_owned(),
            });
        }
        (from >= to).then(|| Conflict {
            keys: ["driving.from", "driving.to"].map(str::to_owned).into(),
            fact: format!("driving hours cannot run from {from} to {to}"),
            allowed: "set driving.from to a time before driving.to".to_owned(),
        })
    }
    /// A trip file with every key at its starting value.
    ///
    /// # Errors
    /// Settings without a form in TOML, which tests exclude.
    pub fn example() -> Result<String> {
        let mut values = as_table(&Self::default())?;
        values.extend(as_table(&BudgetSettings::default())?);
        Ok(FILE.print(&head(), &values, &|key| key.mark.name().to_owned()))
    }
}

const TITLE: &str = "A trip: rules of the day, meetings, then data and energy. Every key may be left out.";

/// The title and what people who set energy and batteries are warned of.
fn head() -> String {
    format!("{TITLE}\nBefore you wire anything:\n{}", on_terminal(&Caution::ENERGY))
}

/// What a trip file may hold: the day's rules and, at its end, the budget.
pub(crate) const FILE: Keys =
    Keys { parts: &[budget::keys::FIRST, KEYS, people::KEYS, budget::keys::KEYS], shown_by: "`waymask settings trip`" };

/// Every key of the day's rules, in the order in which they are printed.
pub(crate) const KEYS: &[Key] = &[
    whole("driving.drivers", Assumed, 1, 20, "", "number of people who drive"),
    number(
        "driving.break_after_h",
        Published,
        0.25,
        24.0,
        "h",
        "longest drive without a break: The Highway Code (Department for Transport, Great Britain), rule 91, advises one after every two hours",
    ),
    number(
        "driving.break_min",
        Published,
        1.0,
        600.0,
        "min",
        "shortest break: the same rule advises at least 15 minutes",
    ),
    number(
        "driving.change_after_h",
        Assumed,
        0.25,
        24.0,
        "h",
        "longest drive of one driver, where there are two or more",
    ),
    number("driving.change_min", Assumed, 1.0, 120.0, "min", "time to change drivers"),
    number(
        "driving.day_h",
        Published,
        0.5,
        24.0,
        "h",
        "most hours at the wheel in a day: Regulation (EC) No 561/2006, article 6(1), allows a driver of a lorry or coach nine",
    ),
    time("driving.from", Assumed, "nobody drives before this time"),
    time("driving.to", Assumed, "nobody drives after this time"),
    number("driving.unmatched_kmh", Assumed, 1.0, 130.0, "km/h", "speed where the track is off the layer's roads"),
    number(
        "driving.most_unmatched",
        Assumed,
        0.0,
        1.0,
        "",
        "a day is planned only if no more than this share of the track is off the layer's roads",
    ),
    whole("departure.earlier_min", Assumed, 0, 720, "min", "leave at most this long before the time asked for"),
    whole("departure.later_min", Assumed, 0, 720, "min", "leave at most this long after it"),
    whole("departure.step_min", Assumed, 1, 120, "min", "interval between the departures tried"),
    time("departure.arrive_by", Assumed, "latest arrival; no limit unless set").sample("\"18:00:00\""),
    number("stopping.within_m", Assumed, 0.0, 5_000.0, "m", "places up to this far from the road driven"),
    number("stopping.reach_m", CommonPractice, 0.0, 60.0, "m", "the panel stands at most this far from the vehicle"),
    number("stopping.least_open", Assumed, 0.0, 1.0, "", "smallest share of open sky at a place for a meeting"),
    number("stopping.set_up_min", Assumed, 0.0, 120.0, "min", "time to set up the panel before a meeting"),
    number("stopping.pack_up_min", Assumed, 0.0, 120.0, "min", "time to pack up after it"),
    number("stopping.tight_min", Assumed, 0.0, 120.0, "min", "a place reached this shortly before a meeting is tight"),
    number("stopping.longest_wait_min", Assumed, 0.0, 600.0, "min", "longest wait for a meeting to begin"),
    number("stopping.off_road_kmh", Assumed, 1.0, 130.0, "km/h", "speed from the road to the place and back"),
    whole(
        "stopping.most_places",
        Assumed,
        0,
        500,
        "",
        "most places compared; of more, the best are kept, spread along the road",
    ),
    flag("nights.parking", Assumed, "car parks count as places for the night; signs and local law decide"),
    number("nights.least_open", Assumed, 0.0, 1.0, "", "smallest share of open sky at the panel for a good night"),
    number("nights.look_km", Assumed, 0.0, 50.0, "km", "better places than a poor one are looked for this far from it"),
    number(
        "nights.look_back_min",
        Assumed,
        10.0,
        600.0,
        "min",
        "a day without an end of its own ends within this time before its hours of driving do",
    ),
    number(
        "nights.least_day",
        Assumed,
        0.0,
        1.0,
        "",
        "a day that ends at a place for the night is driven for at least this share of what its hours allow",
    ),
    number(
        "nights.closed_sky_min",
        Assumed,
        0.0,
        100_000.0,
        "min",
        "cost of a night under a closed sky, in minutes; a clearer one costs its share",
    ),
    number(
        "worth.must_not_drop_min",
        Assumed,
        0.0,
        100_000.0,
        "min",
        "cost of an interrupted must-not-drop meeting, in minutes",
    ),
    number("worth.casual_min", Assumed, 0.0, 100_000.0, "min", "cost of an interrupted casual call"),
    number("worth.messages_min", Assumed, 0.0, 100_000.0, "min", "cost of messages that cannot be sent"),
    number(
        "worth.shift_min",
        Assumed,
        0.0,
        1_000.0,
        "min",
        "cost of each minute of leaving earlier or later than asked",
    ),
    number("worth.stop_min", Assumed, 0.0, 1_000.0, "min", "cost of each minute of stopping"),
    number("worth.each_stop_min", Assumed, 0.0, 1_000.0, "min", "cost of each stop, besides its minutes"),
    word("meetings.default", Assumed, Kind::NAMES, "kind of a meeting where nothing else gives it"),
    number("meetings.safe_risk", Assumed, 0.0, 1.0, "", "a meeting with a higher risk than this is called not safe"),
    named("meetings.kinds", Assumed, Kind::NAMES, "kind of a meeting by its category or by words in its title")
        .sample("{ \"words or category\" = \"casual\" }"),
];

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Settings> {
        Settings::read(text, "trip.toml")
    }

    #[test]
    fn what_is_left_out_keeps_its_value() {
        let s = read("[driving]\ndrivers = 1\nfrom = \"08:30:00\"\n").unwrap();
        assert_eq!((s.driving.drivers, s.driving.from), (1, jiff::civil::time(8, 30, 0, 0)));
        assert_eq!((s.stopping, s.spending), (Stopping::default(), None));
        assert_eq!(read("").unwrap(), Settings::default());
        let spent = read("[work]\ndays = 2\n").unwrap().spending.unwrap();
        assert_eq!((spent.work.days, spent.power), (2, BudgetSettings::default().power));
    }

    #[test]
    fn what_is_printed_reads_back_as_the_same_settings() {
        let text = Settings::example().unwrap();
        let example = read(&text).unwrap();
        assert_eq!(example.spending, Some(BudgetSettings::default()));
        assert_eq!(Settings { spending: None, ..example }, Settings::default(), "{text}");
    }

    #[test]
    fn every_value_of_a_trip_has_a_key_and_every_key_is_printed() {
        let mut full = Settings::default();
        full.departure.arrive_by = Some(jiff::civil::time(18, 0, 0, 0));
        full.meetings.kinds.insert("review".into(), Kind::Casual);
        let mut values = as_table(&full).unwrap();
        let mut spending = BudgetSettings { currency: Some("EUR".into()), ..BudgetSettings::default() };
        spending.power.working_w = Some(25.0);
        spending.power.idle_w = Some(15.0);
        spending.solar.sun_hours = Some(4.0);
        values.extend(as_table(&spending).unwrap());
        FILE.read(&toml::to_string(&values).unwrap(), "all").unwrap();
        let text = FILE.print(&head(), &values, &|key| key.mark.name().to_owned());
        assert_eq!(Settings { spending: None, ..read(&text).unwrap() }, full);
        for key in FILE.iter() {
            let name = key.path.split_once('.').map_or(key.path, |(_, name)| name);
            let shows = |l: &str| l.starts_with(&format!("{name} = ")) || l.contains(&format!("[[{}]]", key.path));
            assert!(text.lines().any(shows) && text.contains(key.meaning), "{}", key.path);
        }
        for caution in Caution::ENERGY {
            assert!(text.contains(&format!("# {}", caution.text())), "{caution:?}");
        }
        // Prices are the user's: the example gives none, and what it shows of one is invented.
        assert!(
            full_prices(&text).is_empty() && text.contains("#   price: ") && text.contains("invented: 38.0"),
            "{text}"
        );
    }

    #[test]
    fn what_is_printed_as_published_is_not_from_memory() {
        let published = || FILE.iter().filter(|key| key.mark == Published);
        assert!(published().count() >= 5);
        for key in published() {
            assert!(!key.meaning.contains("memory"), "{}: {}", key.path, key.meaning);
            // A source has a number of its own, or is that of the key before.
            let named = key.meaning.contains("same rule") || key.meaning.contains(|c: char| c.is_ascii_digit());
            assert!(named, "{}: {}", key.path, key.meaning);
        }
    }

    /// Lines that set a price.
    fn full_prices(text: &str) -> Vec<&str> {
        text.lines().filter(|l| !l.starts_with('#') && (l.contains("price") || l.contains("tariff"))).collect()
    }

    #[test]
    fn the_trip_file_of_the_sample_is_read() {
        let trip = read(include_str!("../../data-samples/varrow-trip.toml")).unwrap();
        let spending = trip.spending.unwrap();
        assert_eq!((trip.departure.later_min, spending.tariff.len()), (10, 2));
        assert_eq!(trip.meetings.kinds.get("levelling call"), Some(&Kind::MustNotDrop));
    }

    #[test]
    fn wrong_keys_and_values_are_named_with_their_line() {
        for (text, place, part) in [
            ("[driving]\ndriver = 1", "line 2: driving.driver", "Did you mean `driving.drivers`?"),
            ("[driving]\nbreak_after_h = 0", "line 2: driving.break_after_h", "Allowed: 0.25 to 24 h"),
            ("[driving]\nfrom = \"20:00\"\nto = \"08:00\"", "line 2: driving.from", "before driving.to"),
            ("[driving]\nto = \"05:00\"", "line 2: driving.to", "from 06:00:00 to 05:00:00"),
            ("[driving]\nfrom = \"early\"", "line 2: driving.from", "not a time of the day"),
            ("[power]\nidle_kw = 1", "line 2: power.idle_kw", "`power.idle_w`"),
            ("[power]\nidle_w = -1", "line 2: power.idle_w", "0 to 1000 W"),
            ("[worth]\nstop_min = nan", "line 2: worth.stop_min", "nan is out of range"),
            ("[meetings]\ndefault = \"holiday\"", "line 2: meetings.default", "must-not-drop, casual or messages"),
            ("[meetings.kinds]\nreview = \"casul\"", "line 2: meetings.kinds.review", "Did you mean `casual`?"),
            ("[spending]\nx = 1", "line 1: spending", "not a known key"),
        ] {
            let error = read(text).unwrap_err();
            let said = error.to_string();
            assert!(said.starts_with(&format!("trip.toml, {place}")) && said.contains(part), "{text}: {said}");
            assert_eq!(error.exit_code(), 2);
        }
    }

    #[test]
    fn the_kind_comes_from_the_file_then_from_categories_then_from_the_default() {
        let s = read("[meetings.kinds]\nreview = \"must-not-drop\"\n\"port review\" = \"casual\"\n").unwrap();
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
