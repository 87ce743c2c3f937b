//! Components of a calendar that are not read: counted by kind, so that nothing is passed over in silence.
use std::collections::BTreeMap;

use super::component::Component;
use super::lines::shown;

/// Components that hold no meetings (sections 3.6.2 to 3.6.4, RFC 7953).
const NO_MEETINGS: [&str; 4] = ["VTODO", "VJOURNAL", "VFREEBUSY", "VAVAILABILITY"];
/// What is read, by the component it lies in; the text itself has no name.
const READ: [(&str, &[&str]); 4] = [
    ("", &["VCALENDAR"]),
    ("VCALENDAR", &["VEVENT", "VTIMEZONE"]),
    ("VTIMEZONE", &["STANDARD", "DAYLIGHT"]),
    // Alarms are known to be no meetings; every event may have some.
    ("VEVENT", &["VALARM"]),
];

/// Line of the first, what was found, and whether meetings may be missing for it, by kind and the component it lies in.
pub(crate) fn unread(components: &[Component]) -> Vec<(usize, String, bool)> {
    let mut found = BTreeMap::new();
    look("", components, &mut found);
    let said = |((name, within), (count, line)): ((&str, &str), (usize, usize))| {
        let within = if within.is_empty() { "outside the calendar".to_owned() } else { format!("in {within}") };
        let components = if count == 1 { "component" } else { "components" };
        let fact = format!("{count} {components} {} {within}: only events are read; left out", shown(name));
        (line, fact, !NO_MEETINGS.contains(&name))
    };
    found.into_iter().map(said).collect()
}

fn look<'c>(
    within: &'static str,
    components: &'c [Component],
    found: &mut BTreeMap<(&'c str, &'static str), (usize, usize)>,
) {
    let read = READ.iter().find(|(name, _)| *name == within).map_or(&[][..], |(_, read)| read);
    for part in components {
        match read.iter().find(|name| **name == part.name) {
            Some(known) => look(known, &part.inside, found),
            None => found.entry((part.name.as_str(), within)).or_insert((0, part.at)).0 += 1,
        }
    }
}
