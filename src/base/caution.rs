//! What people are warned of, in one place: every answer, page and settings file picks the lines that belong to it.
//!
//! The page `safety` of the guide holds each of them word for word.

/// A warning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Caution {
    /// Who reads the answer, what comes first, and what the link is not for.
    Passenger,
    /// What law and licensed practice decide.
    Law,
    /// Signs, carriageways and shoulders.
    Signs,
    /// Standing on ground of others.
    Ground,
    /// A panel beside the vehicle.
    Stand,
    /// Holding a meeting in motion.
    Belt,
    /// Low roofs and branches, and the vehicle's own height.
    Clearance,
    /// A panel that comes loose.
    Fastening,
    /// Climbing up to it.
    RoofWork,
    /// A panel behind the glass.
    Windscreen,
    /// A panel on the hood.
    Hood,
    /// Wiring.
    Wiring,
    /// Batteries.
    Batteries,
    /// The sky of one place.
    Sky,
    /// What no figure holds.
    Figures,
}

/// Most lines at the end of an answer on the terminal.
const ON_TERMINAL: usize = 3;
/// Where the rest is told.
pub const MORE: &str = "waymask guide safety";

impl Caution {
    /// All of them.
    pub const ALL: [Self; 15] = [
        Self::Passenger,
        Self::Law,
        Self::Signs,
        Self::Ground,
        Self::Stand,
        Self::Belt,
        Self::Clearance,
        Self::Fastening,
        Self::RoofWork,
        Self::Windscreen,
        Self::Hood,
        Self::Wiring,
        Self::Batteries,
        Self::Sky,
        Self::Figures,
    ];

    /// Under a layer, its corridors and its ways.
    pub const ROAD: [Self; 7] =
        [Self::Passenger, Self::Signs, Self::Clearance, Self::Fastening, Self::Belt, Self::Law, Self::Figures];
    /// Under places to stop.
    pub const STOPS: [Self; 7] =
        [Self::Passenger, Self::Signs, Self::Stand, Self::Ground, Self::Clearance, Self::Law, Self::Figures];
    /// Under the sky of one place.
    pub const SKY: [Self; 3] = [Self::Passenger, Self::Sky, Self::Signs];
    /// Where energy is told.
    pub const ENERGY: [Self; 2] = [Self::Wiring, Self::Batteries];

    /// The line.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Passenger => {
                "The passenger reads this, never the driver. Local law and licensed practice come first, and a satellite link is never \
                 the only means of calling for help."
            }
            Self::Law => {
                "Local law and licensed practice govern devices fixed in or on a vehicle, driving hours, stopping and \
                 staying overnight."
            }
            Self::Signs => {
                "Posted signs, barriers and your own eyes beat the map; never stop on a carriageway or a shoulder."
            }
            Self::Ground => "Ask before you stand on private ground, and leave the place as you found it.",
            Self::Stand => {
                "A panel on a stand is for a vehicle at rest: ask on private ground, weigh it down against wind, take it \
                 in before a thunderstorm and do not touch it in one; lay no cable where others drive or walk and may \
                 trip. Local law and licensed practice come first."
            }
            Self::Belt => {
                "Whoever holds a meeting in motion wears the seat belt and keeps clear of the airbag. Strap the \
                 laptop down: a loose one becomes a missile in a crash."
            }
            Self::Clearance => {
                "Posted clearance beats the map, also under the roofs of fuel stations: low branches and roofs tear \
                 panels off. A panel makes the vehicle higher: measure it again, and note the height where the driver \
                 sees it."
            }
            Self::Fastening => {
                "A panel that comes loose at road speed can kill. A qualified person makes and checks its fastening, \
                 within the load limit of the roof; look at it at every stop."
            }
            Self::RoofWork => {
                "Work on a roof only if it carries you, with the vehicle level and the brake on, in dry and calm \
                 weather, and never alone."
            }
            Self::Windscreen => {
                "A panel behind the windscreen must not block the driver's view, lie where an airbag opens, or fly in \
                 a crash; local law and licensed practice decide whether it may be there at all."
            }
            Self::Hood => {
                "A panel on the hood must not block the driver's view, come loose against the windscreen or stick out \
                 towards people on foot, and the engine heats it; local law and licensed practice decide whether it may \
                 be there at all."
            }
            Self::Wiring => {
                "Local law and licensed practice come first: a qualified person does the wiring, with a fuse near the \
                 battery and cables thick enough for the current."
            }
            Self::Batteries => {
                "Charge a battery only within the temperatures its maker allows (many lithium ones: not below \
                 freezing); fasten it down, and keep metal off its terminals."
            }
            Self::Sky => {
                "The sky shown is a model, and passes are predictions. Look up only where you may stand, never on a \
                 carriageway."
            }
            Self::Figures => {
                "Figures are expectations from a model and from map data of a certain day: parked lorries, felled or \
                 grown trees, weather and the state of the network are not in them."
            }
        }
    }
}

/// The lines, for programs.
pub fn texts(cautions: &[Caution]) -> Vec<&'static str> {
    cautions.iter().map(|c| c.text()).collect()
}

/// All lines in one text, for files with room for one.
pub fn joined(cautions: &[Caution]) -> String {
    texts(cautions).join("\n")
}

/// The lines at the end of an answer on the terminal: the first three, and where the rest is told.
pub fn on_terminal(cautions: &[Caution]) -> String {
    let shown = cautions.len().min(ON_TERMINAL);
    format!("{} (more: {MORE})", texts(&cautions[..shown]).join("\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_warning_is_a_line_of_its_own() {
        for (i, caution) in Caution::ALL.iter().enumerate() {
            let text = caution.text();
            assert!(text.ends_with('.') && !text.contains('\n') && !text.contains("  "), "{text}");
            assert!((60..=260).contains(&text.len()), "{} characters: {text}", text.len());
            assert_eq!(Caution::ALL.iter().position(|c| c == caution), Some(i), "{caution:?} is listed once");
        }
        // Who names law names licensed practice too.
        for caution in Caution::ALL.iter().filter(|c| c.text().contains(" law")) {
            assert!(caution.text().contains("licensed practice"), "{}", caution.text());
        }
    }

    #[test]
    fn the_terminal_shows_three_at_most_and_names_the_page() {
        for set in [&Caution::ROAD[..], &Caution::STOPS, &Caution::SKY, &Caution::ENERGY, &[Caution::Law]] {
            let shown = on_terminal(set);
            assert_eq!(shown.lines().count(), set.len().min(3), "{shown}");
            assert!(shown.ends_with("(more: waymask guide safety)"), "{shown}");
            assert!(shown.starts_with(set[0].text()), "the first comes first");
        }
    }
}
