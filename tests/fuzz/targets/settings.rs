//! Files of settings.
use waymask::ask::settings::Settings;
use waymask::cli::fuzzed;
use waymask::profile::{Profile, source};

use super::{sample, seeds, text};
use crate::target::{Outcome, Target, outcome};

pub const TARGETS: &[Target] = &[
    Target::new("profiles", || seeds(PROFILES), |_| Box::new(|input| read_profile(&text(input))))
        .words(TOML)
        .code(&[include_str!("../../../src/profile/keys.rs")]),
    Target::new("trips", trip_seeds, |_| Box::new(|input| outcome(&Settings::read(&text(input), "trip.toml"))))
        .words(TOML)
        .code(&[
            include_str!("../../../src/ask/settings.rs"),
            include_str!("../../../src/ask/people.rs"),
            include_str!("../../../src/budget/keys.rs"),
        ])
        .longest(20_000),
    Target::new(
        "user_settings",
        || seeds(&["units = \"metric\"\nclock = \"12h\"\n"]),
        |_| Box::new(|input| outcome(&fuzzed::user_settings(&text(input)))),
    )
    .words(&["units", "clock", "imperial", "24h", "metric, "])
    .words(TOML)
    .longest(300),
];

const TOML: &[&str] = &[
    " = ",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "\"",
    "'''",
    "\"\"\"",
    ".",
    "true",
    "nan",
    "-inf",
    "0x7fffffffffffffff",
    "1_000",
    "08:00",
    "24:00:00",
    "2026-06-15",
    "2026-06-15T08:00:00Z",
    "1e400",
    "-1",
    "[[traveller]]\n",
    "[[terminal.blocked]]\n",
    "[[constellation.shells]]\n",
    "#",
    "base = \"hood\"\n",
    "imperial",
    "12h",
    "units",
    "clock",
];
const PROFILES: &[&str] = &[
    "base = \"hood\"\n[vehicle]\nantenna_height_m = 1.5\nlane = \"middle\"\n[[terminal.blocked]]\nbearing_from_deg = 60\nbearing_to_deg = 300\n\
     [[constellation.shells]]\naltitude_km = 550\ninclination_deg = 53\nplanes = 9\nper_plane = 9\n",
    "base = \"tilted\"\n",
];

fn trip_seeds() -> Vec<Vec<u8>> {
    vec![sample("varrow-trip.toml"), Settings::example().expect("an example").into_bytes()]
}

fn read_profile(text: &str) -> Outcome {
    let read: Result<Profile, _> = source::parse(text, "van.toml");
    if let Ok(profile) = &read {
        let written = toml::to_string(profile).expect("a profile is written");
        let back = source::parse(&written, "written").expect("what was written is read");
        assert_eq!(back, *profile, "{written}");
    }
    outcome(&read)
}
