//! Presets: where people put a panel, each as its differences from the default.
use super::model::{Bearings, Profile};
use crate::base::caution::Caution;
use crate::base::settings::Mark::{self, Assumed, CommonPractice};

/// One value that a preset sets otherwise than the default.
#[derive(Debug, Clone, Copy)]
pub struct PresetChange {
    /// Section and key.
    pub path: &'static str,
    /// The value, as TOML.
    pub value: &'static str,
    /// Where it comes from.
    pub mark: Mark,
    /// Why it differs.
    pub note: &'static str,
}

/// A preset.
#[derive(Debug, Clone, Copy)]
pub struct Preset {
    /// What it is called on the command line.
    pub name: &'static str,
    /// Where the panel is.
    pub title: &'static str,
    /// What differs from the default.
    pub changes: &'static [PresetChange],
    /// What people who put a panel there are warned of, the most important first.
    pub cautions: &'static [Caution],
}

const fn change(path: &'static str, value: &'static str, mark: Mark, note: &'static str) -> PresetChange {
    PresetChange { path, value, mark, note }
}

/// All presets, the default first.
pub(crate) const PRESETS: &[Preset] = &[
    Preset {
        name: "roof",
        title: "panel flat on the roof, used while driving (the default)",
        changes: &[],
        cautions: ON_ROOF,
    },
    Preset {
        name: "tilted",
        title: "panel on the roof at a fixed incline, so that water drains",
        changes: TILTED,
        cautions: ON_ROOF,
    },
    Preset {
        name: "windscreen",
        title: "panel on the dashboard behind the windscreen",
        changes: WINDSCREEN,
        cautions: &[Caution::Windscreen],
    },
    Preset {
        name: "hood",
        title: "panel flat on the hood, cabin behind it",
        changes: HOOD,
        cautions: &[Caution::Hood, Caution::Fastening],
    },
    Preset {
        name: "camp",
        title: "panel on a tripod beside the vehicle, turned to true north",
        changes: CAMP,
        cautions: &[Caution::Stand, Caution::Ground],
    },
    Preset {
        name: "stand",
        title: "panel level on a tripod beside the vehicle at stops, packed while driving",
        changes: STAND,
        cautions: &[Caution::Stand, Caution::Ground],
    },
];

/// Wherever a panel is fastened on top of the vehicle.
const ON_ROOF: &[Caution] = &[Caution::Fastening, Caution::RoofWork, Caution::Clearance];

const TILTED: &[PresetChange] = &[
    change("terminal.tilt_deg", "10.0", Assumed, "a fixed incline, so that water drains"),
    change("terminal.tilt_towards_deg", "180.0", Assumed, "the high edge in front: the panel looks backwards"),
];

const WINDSCREEN: &[PresetChange] = &[
    change("vehicle.antenna_height_m", "1.3", Assumed, "dashboard of a van"),
    change("terminal.tilt_deg", "20.0", Assumed, "leaning towards the glass"),
    change("terminal.tilt_towards_deg", "0.0", Assumed, "looks ahead"),
    change(
        "terminal.blocked",
        "[{ bearing_from_deg = 65.0, bearing_to_deg = 295.0 }, \
         { bearing_from_deg = 0.0, bearing_to_deg = 360.0, elevation_from_deg = 70.0 }]",
        Assumed,
        "the cabin hides everything beside and behind, the roof everything above 70 degrees",
    ),
    change("link.margin_db", "3.0", Assumed, "glass takes 2 dB; metal-coated glass takes far more"),
];

const HOOD: &[PresetChange] = &[
    change("vehicle.antenna_height_m", "1.1", Assumed, "hood of a van or car"),
    change(
        "terminal.blocked",
        "[{ bearing_from_deg = 120.0, bearing_to_deg = 240.0, elevation_to_deg = 50.0 }]",
        Assumed,
        "windscreen and cabin stand behind the panel, up to 50 degrees",
    ),
];

const CAMP: &[PresetChange] = &[
    change("vehicle.antenna_height_m", "1.2", Assumed, "a tripod"),
    change("vehicle.top_speed_kmh", "10.0", CommonPractice, "standing: the satellites move, the trees do not"),
    change("terminal.bearings_from", "\"north\"", CommonPractice, "a stand is turned by compass, not by the road"),
    change("terminal.tilt_deg", "15.0", Assumed, "leaning towards the denser sky"),
    change(
        "terminal.tilt_towards_deg",
        "0.0",
        Assumed,
        "north, where most satellites stand between the tropic and 50 degrees north; 180 south of the equator",
    ),
];

/// As `camp`, for a vehicle that drives at its speed between its stops: days planned with it take as long as with any panel
/// on the vehicle.
const STAND: &[PresetChange] = &[
    change("vehicle.antenna_height_m", "1.2", Assumed, "a tripod"),
    change("terminal.bearings_from", "\"north\"", CommonPractice, "a stand is turned by compass, not by the road"),
];

/// The preset whose panel stands where that of a profile does, whatever else the profile changes.
pub fn of(profile: &Profile) -> Option<&'static Preset> {
    let place = |p: &Profile| (p.terminal.clone(), p.vehicle.antenna_height_m);
    PRESETS.iter().find(|r| r.profile().is_ok_and(|ready| place(&ready) == place(profile)))
}

/// What belongs to the place of a profile's panel: that of the preset whose panel stands where this one does, whatever
/// else the profile changes; else by whether it is fixed to the vehicle.
pub fn cautions(profile: &Profile) -> &'static [Caution] {
    match (of(profile), profile.terminal.bearings_from) {
        (Some(preset), _) => preset.cautions,
        (None, Bearings::North) => &[Caution::Stand, Caution::Ground],
        (None, Bearings::Heading) => ON_ROOF,
    }
}

/// The preset of a name.
pub fn find(name: &str) -> Option<&'static Preset> {
    PRESETS.iter().find(|r| r.name == name)
}

/// Names of all, the default first.
pub const NAMES: [&str; PRESETS.len()] = {
    let mut names = [""; PRESETS.len()];
    let mut i = 0;
    while i < names.len() {
        names[i] = PRESETS[i].name;
        i += 1;
    }
    names
};

impl Preset {
    /// The change it makes to a key.
    pub fn change(&self, path: &str) -> Option<&'static PresetChange> {
        self.changes.iter().find(|c| c.path == path)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_place_of_a_panel_has_its_own_warnings() {
        let of = |name: &str| find(name).unwrap().cautions;
        for preset in PRESETS {
            let mut profile = preset.profile().unwrap();
            profile.link.slot_s = 20.0;
            assert_eq!(cautions(&profile), preset.cautions, "{}: other assumptions do not move it", preset.name);
            assert_eq!(super::of(&profile).map(|found| found.name), Some(preset.name));
        }
        assert!(of("roof").contains(&Caution::Fastening) && of("tilted").contains(&Caution::RoofWork));
        assert!(of("roof").contains(&Caution::Clearance), "the vehicle is higher");
        assert_eq!((of("windscreen")[0], of("hood")[0]), (Caution::Windscreen, Caution::Hood));
        assert_eq!((of("camp")[0], of("stand")[0]), (Caution::Stand, Caution::Stand));
        let mut own = Profile::default();
        own.terminal.tilt_deg = 33.0;
        assert_eq!(cautions(&own), ON_ROOF);
        own.terminal.bearings_from = Bearings::North;
        assert_eq!(cautions(&own)[0], Caution::Stand);
    }

    #[test]
    fn the_cabin_stands_behind_and_the_stand_looks_north() {
        let windscreen = find("windscreen").unwrap().profile().unwrap().terminal;
        let free = |bearing, elevation| !windscreen.blocked.iter().any(|b| b.holds(bearing, elevation));
        assert!(free(0.0, 40.0) && free(300.0, 69.0) && free(60.0, 30.0));
        assert!(!free(180.0, 40.0) && !free(90.0, 60.0) && !free(0.0, 71.0) && !free(-66.0, 30.0));
        assert_eq!(find("camp").unwrap().profile().unwrap().terminal.bearings_from, Bearings::North);
        assert!(find("ROOF").is_none() && NAMES.contains(&"hood"));
    }
}
