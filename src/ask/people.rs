//! Who travels, and whose meetings are whose, as a trip file says it.
use serde::{Deserialize, Serialize};

use super::plan::{MOST_TRAVELLERS, Traveller, Travellers};
use crate::base::nearest::nearest_name;
use crate::base::settings::Mark::Assumed;
use crate::base::settings::{Conflict, Key, entry, flag, list, text};
use crate::calendar::Details;

/// The section `[people]` of a trip file.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct People {
    /// Who travels; one alone is possible.
    pub traveller: Vec<Traveller>,
    /// Whose meetings are whose.
    pub meeting: Vec<WhoseMeeting>,
}

/// Whose meetings some are.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WhoseMeeting {
    /// Name of a traveller.
    pub of: String,
    /// Address or name of somebody invited, or a category.
    pub told_by: String,
}

/// Every key of the section.
pub(crate) const KEYS: &[Key] = &[
    list(
        "people.traveller",
        Assumed,
        TRAVELLER,
        0,
        "everybody on board; if nobody is listed, somebody other than the driver is assumed to hold the meetings",
    ),
    list(
        "people.meeting",
        Assumed,
        MEETING,
        0,
        "whose meetings are whose; a traveller's own name among those invited also decides",
    ),
];

const TRAVELLER: &[Key] = &[
    text("name", Assumed, "name of the traveller").required(),
    flag(
        "drives",
        Assumed,
        "whether the traveller drives; true unless set. The number of those who do replaces driving.drivers",
    ),
    flag(
        "link",
        Assumed,
        "whether the traveller works over the link, and so may hold meetings that name nobody; true unless set",
    ),
];

const MEETING: &[Key] = &[
    text("of", Assumed, "name of a traveller").required(),
    text("told_by", Assumed, "address or name of somebody invited, or a category; capitals make no difference")
        .required(),
];

impl People {
    /// How many drive, where anybody is named.
    pub(super) fn drivers(&self) -> Option<u8> {
        let count = self.traveller.iter().filter(|t| t.drives).count();
        (!self.traveller.is_empty()).then(|| u8::try_from(count).unwrap_or(u8::MAX))
    }

    /// Whose a meeting is; empty where nothing says so.
    pub(super) fn whose(&self, meeting: &Details) -> Travellers {
        let same = |a: &str, b: &str| !a.trim().is_empty() && a.trim().to_lowercase() == b.trim().to_lowercase();
        let tells = |words: &str| meeting.people.iter().chain(&meeting.categories).any(|told| same(told, words));
        let invited = |name: &str| meeting.people.iter().any(|told| same(told, name));
        let is_of =
            |t: &Traveller| invited(&t.name) || self.meeting.iter().any(|m| same(&m.of, &t.name) && tells(&m.told_by));
        let all = self.traveller.iter().enumerate().filter(|(_, t)| is_of(t));
        all.fold(Travellers::default(), |some, (nth, _)| some.and(Travellers::one(nth)))
    }

    /// What cannot be.
    pub(super) fn conflict(&self) -> Option<Conflict> {
        let wrong = |path: String, fact: String, allowed: &str| {
            Some(Conflict { keys: vec![path], fact, allowed: allowed.to_owned() })
        };
        let names: Vec<String> = self.traveller.iter().map(|t| t.name.trim().to_lowercase()).collect();
        for (i, name) in names.iter().enumerate() {
            let path = entry("people.traveller.name", i + 1);
            if name.is_empty() {
                return wrong(path, "a traveller without a name".into(), "give each a name");
            }
            if names[..i].contains(name) {
                let fact = format!("two travellers are called `{}`", self.traveller[i].name);
                return wrong(path, fact, "give each a different name");
            }
        }
        if names.len() > MOST_TRAVELLERS {
            let fact = format!("there are too many travellers, {}", names.len());
            return wrong("people.traveller".into(), fact, &format!("at most {MOST_TRAVELLERS}"));
        }
        if self.drivers() == Some(0) {
            return wrong(
                "people.traveller".into(),
                "none of the travellers drives".into(),
                "let at least one of them drive",
            );
        }
        for (i, m) in self.meeting.iter().enumerate() {
            if names.contains(&m.of.trim().to_lowercase()) {
                continue;
            }
            let known: Vec<&str> = self.traveller.iter().map(|t| t.name.as_str()).collect();
            let allowed = match nearest_name(&m.of, known.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None if known.is_empty() => "name the travellers first, each under [[people.traveller]]".to_owned(),
                None => format!("one of {}", known.join(", ")),
            };
            return wrong(entry("people.meeting.of", i + 1), format!("`{}` is not a traveller", m.of), &allowed);
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use crate::ask::settings::Settings;
    use crate::calendar::Details;

    const TWO: &str = "[[people.traveller]]\nname = \"Ada\"\n[[people.traveller]]\nname = \"Ben\"\ndrives = false\n";

    fn refused(text: &str) -> String {
        let error = Settings::read(text, "trip.toml").unwrap_err();
        assert_eq!(error.exit_code(), 2);
        error.to_string()
    }

    #[test]
    fn whose_a_meeting_is_comes_from_those_invited_and_from_categories() {
        let text = format!(
            "{TWO}[[people.meeting]]\nof = \"ada\"\ntold_by = \"surveys\"\n[[people.meeting]]\nof = \"Ben\"\ntold_by = \"b@example.org\"\n"
        );
        let people = Settings::read(&text, "trip.toml").unwrap().people;
        let of = |people_told: &[&str], categories: &[&str]| {
            let own = |words: &[&str]| words.iter().map(|w| (*w).to_owned()).collect();
            let told =
                people.whose(&Details { people: own(people_told), categories: own(categories), ..Details::default() });
            [told.has(0), told.has(1)]
        };
        assert_eq!(of(&[], &["Surveys"]), [true, false]);
        assert_eq!(of(&["B@example.org", "someone"], &[]), [false, true]);
        assert_eq!(of(&["ADA"], &["other"]), [true, false], "a traveller's own name");
        assert_eq!(of(&["b@example.org"], &["surveys"]), [true, true]);
        assert_eq!(of(&["Adam"], &["survey"]), [false, false]);
    }

    #[test]
    fn those_who_drive_are_the_drivers() {
        let drivers = |text: &str| Settings::read(text, "trip.toml").unwrap().rules().driving.drivers;
        assert_eq!((drivers(""), drivers(TWO)), (2, 1));
        assert_eq!(drivers(&format!("[driving]\ndrivers = 1\n{TWO}")), 1);
        let said = refused(&format!("[driving]\ndrivers = 3\n{TWO}"));
        assert!(said.contains("line 2: driving.drivers") && said.contains("3 is not the number"), "{said}");
    }

    #[test]
    fn people_who_do_not_travel_are_named_with_their_line() {
        let meeting = "[[people.meeting]]\nof = \"Bem\"\ntold_by = \"x\"\n";
        let said = refused(&format!("{TWO}{meeting}"));
        assert!(said.contains("line 7: people.meeting.of (entry 1)"), "{said}");
        assert!(said.contains("`Bem` is not a traveller") && said.contains("Did you mean `Ben`?"), "{said}");
        let said = refused(&format!("{TWO}{}", meeting.replace("Bem", "Zoltan")));
        assert!(said.contains("One of Ada, Ben"), "{said}");
        assert!(refused(meeting).contains("travellers first"));
        assert!(
            refused("[[people.traveller]]\nname = \"Ada\"\ndrives = false\n").contains("none of the travellers drives")
        );
        assert!(refused("[[people.traveller]]\nname = \" \"\n").contains("without a name"));
        let twice = refused("[[people.traveller]]\nname = \"Ada\"\n[[people.traveller]]\nname = \"ada\"\n");
        assert!(twice.contains("line 4") && twice.contains("two travellers are called `ada`"), "{twice}");
        assert!(refused("[[people.traveller]]\nname = \"Ada\"\ndriver = true\n").contains("Did you mean `drives`?"));
    }
}
