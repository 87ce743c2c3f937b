//! Every key of a profile: its range, where its starting value comes from, and how it is printed.
use super::presets::Preset;
use super::{BlockedSector, Profile, Shell};
use crate::base::error::{Error, Result};

/// Where a starting value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// A published source, named in the note.
    Published,
    /// Common practice, no source.
    CommonPractice,
    /// Our assumption.
    Assumed,
}

impl Mark {
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::CommonPractice => "common practice",
            Self::Assumed => "assumed",
        }
    }
}

/// One key.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// Section and key, `link.slot_s`.
    pub path: &'static str,
    /// Where the starting value comes from.
    pub mark: Mark,
    /// Lowest allowed number; numbers of lists are checked one by one.
    pub min: f64,
    /// Highest allowed number.
    pub max: f64,
    /// What it means, and the source.
    pub note: &'static str,
}

/// A key whose value is a number.
pub const fn key(path: &'static str, mark: Mark, min: f64, max: f64, note: &'static str) -> Key {
    Key { path, mark, min, max, note }
}
/// A key whose value is a word, or a time.
pub const fn word(path: &'static str, mark: Mark, note: &'static str) -> Key {
    key(path, mark, f64::NEG_INFINITY, f64::INFINITY, note)
}

use Mark::{Assumed, CommonPractice, Published};

/// Every key, in printing order.
pub const KEYS: &[Key] = &[
    key("vehicle.antenna_height_m", Assumed, 0.3, 6.0, "panel above the road"),
    key("vehicle.vehicle_height_m", Assumed, 0.5, 6.0, "vehicle with its panel, for posted clearances"),
    word("vehicle.lane", Assumed, "nearside, offside or middle lane of the direction driven"),
    key("vehicle.speed_factor", Assumed, 0.1, 2.0, "speed driven over the speed of the road"),
    key("vehicle.top_speed_kmh", CommonPractice, 10.0, 250.0, "fastest speed driven"),
    key(
        "vehicle.power_w_per_kg",
        Assumed,
        3.0,
        200.0,
        "power at the wheels over loaded mass, for climbs: 3.5 t with 110 kW, nine tenths of it at the wheels",
    ),
    word("vehicle.driving_side", Assumed, "left or right: where no tag says it, instead of the table of countries"),
    key("terminal.scan_half_angle_deg", Assumed, 5.0, 90.0, "half-angle of the scan cone around the panel's normal"),
    key("terminal.lowest_elevation_deg", Assumed, 5.0, 85.0, "lowest elevation at which satellites are used"),
    key("terminal.tilt_deg", Assumed, 0.0, 60.0, "tilt of the panel's normal from the vertical"),
    key(
        "terminal.tilt_towards_deg",
        Assumed,
        -360.0,
        360.0,
        "direction of the tilt, clockwise from where bearings_from says",
    ),
    word(
        "terminal.bearings_from",
        Assumed,
        "heading (fixed to the vehicle, turns with it) or north (on a stand): what the panel's bearings count from",
    ),
    word(
        "terminal.blocked",
        Assumed,
        "sky the vehicle itself blocks: bearing_from_deg clockwise to bearing_to_deg (-360 to 360; 0 to 360 is all \
         around), elevation_from_deg to elevation_to_deg (0 to 90, if left out 0 and 90)",
    ),
    key("link.slot_s", Assumed, 1.0, 600.0, "a serving satellite is kept for a slot of this length"),
    key("link.reselection_s", Assumed, 0.05, 60.0, "from an outage to the first chance on another satellite"),
    key("link.usable_share", Assumed, 0.01, 1.0, "share of satellites that can be used"),
    key(
        "link.elevation_preference",
        Assumed,
        0.0,
        10.0,
        "high satellites are preferred by sin(elevation) to this power",
    ),
    key("link.margin_db", Assumed, 0.1, 30.0, "attenuation by leaves that the link survives"),
    key(
        "link.drives",
        Assumed,
        4.0,
        4096.0,
        "simulated drives per stroke of segments: with 256 two seeds differ by 0.005 in outage share (root mean square)",
    ),
    key("link.seed", Assumed, 0.0, 9e15, "seed of all draws: equal seeds give equal layers"),
    word("canopy.season", Assumed, "leaf-on or leaf-off"),
    key("canopy.gap_length_m", Assumed, 0.5, 50.0, "gaps between crowns are alike over this length of road"),
    key(
        "canopy.spread_ln",
        Published,
        0.05,
        3.0,
        "spread of ln(attenuation) between trees: 0.57 between Weissberger, FITU-R and ITU-R P.833-10 for 10 m of leaves at 12 GHz and 0.43 between crowns (rms 5 of 11 dB, Goldhirsh and Vogel 1998), as variances",
    ),
    key(
        "canopy.crown_base_share",
        Assumed,
        0.0,
        0.95,
        "bottom of the crowns over the height of the trees, inside a wood",
    ),
    key(
        "canopy.broadleaved_height_m",
        Published,
        1.0,
        80.0,
        "trees without height: deciduous and mixed, nominal clutter height of ITU-R P.452-17 (of woods as a whole, not of single trees)",
    ),
    key(
        "canopy.needleleaved_height_m",
        Published,
        1.0,
        80.0,
        "trees without height: coniferous, nominal clutter height of ITU-R P.452-17",
    ),
    key(
        "roadside.cutting_depth_m",
        Assumed,
        0.0,
        50.0,
        "depth of cuttings tagged on the road, where no elevation raster with pixels up to 5 m shows them",
    ),
    key(
        "roadside.cutting_slope",
        CommonPractice,
        0.0,
        5.0,
        "horizontal run of the banks of a cutting over their height: earth about 1.5, rock 0.2",
    ),
    key(
        "constellation.geostationary_exclusion_deg",
        Assumed,
        0.0,
        60.0,
        "directions closer to the geostationary arc are not used; 0 switches it off",
    ),
    key(
        "constellation.shells",
        Assumed,
        0.0,
        36_000.0,
        "circular shells: altitude_km, inclination_deg, planes, per_plane; generic, of our own choosing",
    ),
    key("stop.panel_height_m", Assumed, 0.1, 10.0, "panel above the ground beside a standing vehicle: a tripod"),
    key(
        "stop.reach_m",
        CommonPractice,
        0.0,
        60.0,
        "the panel is set down at most this far from the vehicle, straight: the clear spot is often 3 to 30 m away",
    ),
    key("sampling.station_spacing_m", Assumed, 1.0, 20.0, "longest distance between sky masks along the road"),
    key("sampling.segment_length_m", Assumed, 25.0, 250.0, "longest segment"),
    key(
        "sampling.refraction",
        Published,
        0.0,
        0.3,
        "refraction coefficient of the terrain horizon: 0.25 is the effective earth radius factor 4/3 (IEC 705-05-41)",
    ),
    key("sampling.grade_smoothing_m", Assumed, 0.0, 1000.0, "the road's height is smoothed over this length"),
    key(
        "rating.steady_outage_s",
        Published,
        0.0,
        3600.0,
        "steady: 95th percentile outage at most; planning limit of one-way delay, ITU-T G.114",
    ),
    key(
        "rating.steady_outage_share",
        Published,
        0.0,
        1.0,
        "steady: outage share at most; video loss target, 3GPP TS 22.105",
    ),
    key("rating.blips_outage_s", Assumed, 0.0, 3600.0, "blips: 95th percentile outage at most"),
    key(
        "rating.blips_outage_share",
        Published,
        0.0,
        1.0,
        "blips: outage share at most; voice loss target, 3GPP TS 22.105",
    ),
    key(
        "rating.gaps_outage_s",
        Published,
        0.0,
        3600.0,
        "gaps: 95th percentile outage at most; one consent interval, RFC 7675",
    ),
    key(
        "rating.drops_outage_s",
        Published,
        0.0,
        3600.0,
        "drops: 95th percentile outage at most; consent expires, RFC 7675",
    ),
    key("rating.dark_outage_share", Assumed, 0.0, 1.0, "dark above this outage share"),
    key("rating.window_s", Assumed, 1.0, 3600.0, "outage shares are judged over at least this much driving"),
];

/// Checks every number of a profile against its range; `text` is the file it came from, for the line.
///
/// # Errors
/// The first value out of range, with line and range.
pub fn check(profile: &Profile, text: &str, source: &str) -> Result<()> {
    let table = toml::Table::try_from(profile).map_err(|e| Error::usage(source, e.to_string(), "report this"))?;
    for key in KEYS {
        let Some(value) = lookup(&table, key.path) else {
            continue;
        };
        if let Some(number) = number(value).into_iter().find(|n| !(key.min..=key.max).contains(n)) {
            let at = line_of(text, key.path).map_or(String::new(), |n| format!(" (line {n})"));
            let allowed = format!("allowed: {} to {}; {}", key.min, key.max, key.note);
            return Err(Error::usage(
                format!("{source}{at}: {}", key.path),
                format!("{number} is out of range"),
                allowed,
            ));
        }
    }
    let at = |path: &str, nth: usize| line_of_item(text, path, nth).map_or(String::new(), |n| format!(" (line {n})"));
    if let Some(i) = profile.constellation.shells.iter().position(|s| !is_sound_shell(s)) {
        let line = at("constellation.shells", i);
        let allowed = "allowed: altitude_km 150 to 36000, inclination_deg 0.1 to 179.9, planes and per_plane 1 to 20000, at most 100000 satellites";
        let what = format!("{source}{line}: constellation.shells, shell {}", i + 1);
        return Err(Error::usage(what, "out of range", allowed));
    }
    if profile.constellation.shells.is_empty() {
        return Err(Error::usage(format!("{source}: constellation.shells"), "no shell", "give at least one shell"));
    }
    if let Some(i) = profile.terminal.blocked.iter().position(|b| !is_sound_sector(b)) {
        let line = at("terminal.blocked", i);
        let allowed = "allowed: bearings -360 to 360 that differ (0 to 360 is the whole circle), elevations 0 to 90, the upper above the lower";
        let what = format!("{source}{line}: terminal.blocked, sector {}", i + 1);
        return Err(Error::usage(what, "out of range or empty", allowed));
    }
    check_edges(profile, source)
}

fn is_sound_shell(shell: &Shell) -> bool {
    (150.0..=36_000.0).contains(&shell.altitude_km)
        && (0.1..=179.9).contains(&shell.inclination_deg)
        && (1..=20_000).contains(&shell.planes)
        && (1..=20_000).contains(&shell.per_plane)
        && shell.planes.saturating_mul(shell.per_plane) <= 100_000
}

fn is_sound_sector(sector: &BlockedSector) -> bool {
    let bearings = [sector.bearing_from_deg, sector.bearing_to_deg];
    bearings.iter().all(|b| (-360.0..=360.0).contains(b))
        && sector.width_deg() > 0.0
        && sector.elevation_from_deg >= 0.0
        && sector.elevation_from_deg < sector.elevation_to_deg
        && sector.elevation_to_deg <= 90.0
}

/// Edges of better ratings must not lie above those of worse ones, or a worse rating could never be given.
fn check_edges(profile: &Profile, source: &str) -> Result<()> {
    let r = &profile.rating;
    let outages_s = [r.steady_outage_s, r.blips_outage_s, r.gaps_outage_s, r.drops_outage_s];
    let outage_shares = [r.steady_outage_share, r.blips_outage_share, r.dark_outage_share];
    let rows = [
        ("steady_outage_s, blips_outage_s, gaps_outage_s, drops_outage_s", &outages_s[..]),
        ("steady_outage_share, blips_outage_share, dark_outage_share", &outage_shares[..]),
    ];
    for (keys, edges) in rows {
        if !edges.is_sorted() {
            let listed: Vec<String> = edges.iter().map(f64::to_string).collect();
            return Err(Error::usage(
                format!("{source}: rating"),
                format!("{} fall from a better to a worse rating", listed.join(", ")),
                format!("let them rise in this order: {keys}"),
            ));
        }
    }
    Ok(())
}

/// Prints a profile as TOML with a comment above every key: meaning, mark, range. `base` is the preset
/// profile it began with: values that are neither its nor the default are marked as changed.
pub fn print(profile: &Profile, base: &Preset) -> String {
    let table = toml::Table::try_from(profile).unwrap_or_default();
    let begun = base.profile().and_then(|p| as_table(&p)).unwrap_or_default();
    let mut out =
        format!("# Assumptions of a waymask build ({}: {}). Units are in the names.\n", base.name, base.title);
    let mut section = "";
    for key in KEYS {
        let (head, name) = key.path.split_once('.').unwrap_or(("", key.path));
        if head != section {
            out += &format!("\n[{head}]\n");
            section = head;
        }
        let value = lookup(&table, key.path);
        let mark = match base.change(key.path) {
            _ if value != lookup(&begun, key.path) => "changed here".to_owned(),
            Some(change) => format!("{}, {}: {}", base.name, change.mark.name(), change.note),
            None => key.mark.name().to_owned(),
        };
        let range = if key.min.is_finite() { format!("; {} to {}", key.min, key.max) } else { String::new() };
        out += &format!("# {} ({mark}{range})\n", key.note);
        match value {
            Some(toml::Value::Array(items)) if !items.is_empty() => {
                for item in items {
                    out += &format!("[[{}]]\n{}", key.path, toml::to_string(item).unwrap_or_default());
                }
            }
            Some(value) => out += &format!("{name} = {value}\n"),
            None => out += &format!("# {name} =\n"),
        }
    }
    out
}

fn as_table(profile: &Profile) -> Result<toml::Table> {
    toml::Table::try_from(profile).map_err(|e| Error::usage("profile", e.to_string(), "report this"))
}

fn lookup<'a>(table: &'a toml::Table, path: &str) -> Option<&'a toml::Value> {
    let (head, name) = path.split_once('.')?;
    table.get(head)?.get(name)
}

/// A number as `f64`; nothing for words and lists.
fn number(value: &toml::Value) -> Option<f64> {
    match value {
        toml::Value::Float(v) => Some(*v),
        toml::Value::Integer(v) => Some(*v as f64),
        _ => None,
    }
}

/// The line of a key in a TOML text, from 1.
fn line_of(text: &str, path: &str) -> Option<usize> {
    let (head, name) = path.split_once('.')?;
    let mut section = String::new();
    for (i, line) in text.lines().enumerate() {
        let line = line.trim();
        if let Some(inner) = line.strip_prefix('[') {
            section = inner.trim_end_matches(']').trim().to_owned();
        } else if line.split('=').next().is_some_and(|k| {
            let k = k.trim();
            (section == head && k == name) || k == path
        }) {
            return Some(i + 1);
        }
    }
    None
}

/// The line where the n-th item of a list begins, from 1; of the list where it is written in one line.
fn line_of_item(text: &str, path: &str, nth: usize) -> Option<usize> {
    let head = format!("[[{path}]]");
    let heads = text.lines().enumerate().filter(|(_, line)| line.trim().replace(' ', "").starts_with(&head));
    heads.map(|(i, _)| i + 1).nth(nth).or_else(|| line_of(text, path))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{presets, source};

    #[test]
    fn every_leaf_of_the_profile_is_a_key_and_prints_back_to_itself() {
        let profile = Profile {
            vehicle: super::super::Vehicle {
                driving_side: Some(crate::map::extract::model::DrivingSide::Left),
                ..Default::default()
            },
            ..Default::default()
        };
        let table = toml::Table::try_from(&profile).unwrap();
        let mut leaves: Vec<String> =
            table.iter().flat_map(|(s, t)| t.as_table().unwrap().keys().map(move |k| format!("{s}.{k}"))).collect();
        let mut keys: Vec<String> = KEYS.iter().map(|k| k.path.to_owned()).collect();
        leaves.sort();
        keys.sort();
        assert_eq!(leaves, keys);
        assert_eq!(source::parse(&print(&profile, &presets::PRESETS[0]), "printed").unwrap(), profile);
        for preset in presets::PRESETS {
            let profile = preset.profile().unwrap();
            let printed = print(&profile, preset);
            assert_eq!(source::parse(&printed, "printed").unwrap(), profile, "{printed}");
            assert!(preset.changes.iter().all(|c| printed.contains(c.note)) && !printed.contains("changed here"));
        }
        let mine = source::parse("base = \"hood\"\nlink.slot_s = 20.0", "mine").unwrap();
        let printed = print(&mine, presets::find("hood").unwrap());
        assert_eq!(printed.matches("changed here").count(), 1, "{printed}");
    }

    #[test]
    fn the_default_profile_is_within_its_ranges() {
        check(&Profile::default(), "", "default").unwrap();
    }

    #[test]
    fn rating_edges_must_rise() {
        for text in ["[rating]\nsteady_break_s = 10.0\n", "[rating]\nblips_down_share = 0.6\n"] {
            let profile: Profile = toml::from_str(text).unwrap();
            let error = check(&profile, text, "p.toml").unwrap_err();
            assert!(error.exit_code() == 2 && error.to_string().contains("rise"), "{error}");
        }
    }

    #[test]
    fn errors_name_line_value_and_range() {
        let text = "[vehicle]\nlane = \"middle\"\n\n[link]\nslot_s = 0.2\n";
        let profile: Profile = toml::from_str(text).unwrap();
        let message = check(&profile, text, "p.toml").unwrap_err().to_string();
        assert!(message.contains("line 5") && message.contains("0.2") && message.contains("1 to 600"), "{message}");
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("p.toml");
        std::fs::write(&path, "[link]\nslot_seconds = 3\n").unwrap();
        let error = source::read(&path).unwrap_err();
        assert!(error.to_string().contains("line 2") && error.exit_code() == 2, "{error}");
    }
}
