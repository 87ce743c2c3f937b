//! Every key of a profile: type, range, unit, where its starting value comes from, meaning.
use super::around::KEYS as AROUND;
use super::model::{Bearings, Lane, Profile};
use super::presets;
use super::trees::KEYS as TREES;
use crate::base::settings::Mark::{Assumed, CommonPractice, Published};
use crate::base::settings::{Conflict, Key, Keys, entry, list, number, whole, word};
use crate::base::words::DrivingSide;

/// The command that prints a profile.
const SHOWN_BY: &str = "`waymask settings profile`";

/// What a profile file may hold.
pub(crate) const FILE: Keys = Keys { parts: &[BASE, KEYS, TREES, AROUND], shown_by: SHOWN_BY };
/// What a profile holds, and what may be set one by one.
pub const VALUES: Keys = Keys { parts: &[KEYS, TREES, AROUND], shown_by: SHOWN_BY };

const BASE: &[Key] = &[word("base", Assumed, &presets::NAMES, "the preset that the file starts from")];

/// Every key of a profile, in the order in which they are printed.
pub(crate) const KEYS: &[Key] = &[
    number("vehicle.antenna_height_m", Assumed, 0.3, 6.0, "m", "height of the panel above the road"),
    number("vehicle.vehicle_height_m", Assumed, 0.5, 6.0, "m", "height of the vehicle with its panel, compared with posted clearances"),
    word("vehicle.lane", Assumed, Lane::NAMES, "which lane of its direction the vehicle drives in"),
    number(
        "vehicle.speed_factor",
        Assumed,
        0.1,
        2.0,
        "",
        "speed driven divided by the speed of the road",
    )
    .likely(0.8, 1.2),
    number("vehicle.top_speed_kmh", CommonPractice, 10.0, 250.0, "km/h", "fastest speed driven"),
    number(
        "vehicle.power_w_per_kg",
        Assumed,
        3.0,
        200.0,
        "W/kg",
        "power at the wheels divided by loaded mass, for climbs: 3.5 t with 110 kW, nine tenths of it at the wheels",
    )
    .likely(12.0, 50.0),
    number(
        "vehicle.lateral_mps2",
        Assumed,
        0.3,
        8.0,
        "m/s2",
        "lateral acceleration on roundabouts without a speed limit: side friction of 0.18 to 0.31 is used for 20 to 35 mph and below (Texas DOT, Procedures for Establishing Speed Zones)",
    )
    .likely(1.8, 3.0),
    number(
        "vehicle.paved_track_kmh",
        Assumed,
        5.0,
        100.0,
        "km/h",
        "speed on tracks with a firm surface (asphalt, concrete, grade1) and no speed limit",
    )
    .likely(25.0, 50.0),
    word(
        "vehicle.driving_side",
        Assumed,
        DrivingSide::NAMES,
        "side of the traffic where no tag gives it, instead of the country's",
    )
    .sample("\"left\""),
    number(
        "terminal.scan_half_angle_deg",
        CommonPractice,
        5.0,
        90.0,
        "degrees",
        "half-angle of the scan cone around the panel's normal",
    )
    .likely(45.0, 65.0),
    number(
        "terminal.lowest_elevation_deg",
        CommonPractice,
        5.0,
        85.0,
        "degrees",
        "lowest elevation at which satellites are used",
    )
    .likely(20.0, 40.0),
    number("terminal.tilt_deg", Assumed, 0.0, 60.0, "degrees", "tilt of the panel's normal from the vertical"),
    number(
        "terminal.tilt_towards_deg",
        Assumed,
        -360.0,
        360.0,
        "degrees",
        "direction of the tilt, clockwise from the zero that bearings_from sets",
    ),
    word(
        "terminal.bearings_from",
        Assumed,
        Bearings::NAMES,
        "where the panel's bearings start: heading is fixed to the vehicle and turns with it, north is for a stand",
    ),
    list("terminal.blocked", Assumed, BLOCKED, 0, "parts of the sky that the vehicle itself blocks"),
    number("link.slot_s", Published, 1.0, 600.0, "s", "a serving satellite is kept for a slot of this length: 15 s were observed, with satellites also changing within slots (doi 10.4230/OASIcs.NINeS.2026.7)")
        .likely(5.0, 60.0),
    number("link.reselection_s", Assumed, 0.05, 60.0, "s", "time from the start of an outage to the first chance of another satellite")
        .likely(0.3, 3.0),
    number("link.glimpse_s", Assumed, 0.0, 60.0, "s", "a link shorter than this does not end the search that an outage began")
        .likely(0.5, 5.0),
    number("link.hold_s", Assumed, 0.0, 60.0, "s", "an outage ends only with a link of at least this length: a glimpse between two crowns ends nothing")
        .likely(0.5, 5.0),
    number("link.reacquire_s", Assumed, 0.0, 300.0, "s", "time added to a long outage until the link carries data again")
        .likely(0.0, 20.0),
    number("link.reacquire_from_s", Assumed, 0.5, 600.0, "s", "outages of this length begin to get this extra time, and those twice as long get all of it")
        .likely(5.0, 30.0),
    number("link.awareness", Assumed, 0.0, 1.0, "", "share of slots whose satellite is chosen with knowledge of what blocks it; in the others it is chosen by elevation alone")
        .likely(0.0, 1.0),
    number("link.usable_share", Assumed, 0.01, 1.0, "", "share of satellites that can be used").likely(0.25, 0.8),
    number(
        "link.elevation_preference",
        Assumed,
        0.0,
        10.0,
        "",
        "high satellites are preferred by sin(elevation) to this power",
    )
    .likely(0.0, 3.0),
    number("link.margin_db", Assumed, 0.1, 30.0, "dB", "attenuation by leaves that the link survives").likely(3.0, 8.0),
    whole(
        "link.drives",
        Assumed,
        4,
        4096,
        "",
        "simulated drives per stroke of segments: with 256 two seeds differ by 0.005 in outage share (root mean square)",
    )
    .was("link.replicates"),
    whole(
        "link.seed",
        Assumed,
        0,
        9_000_000_000_000_000,
        "",
        "seed of all draws: equal seeds give equal layers",
    ),
    number(
        "constellation.geostationary_exclusion_deg",
        Assumed,
        0.0,
        60.0,
        "degrees",
        "directions closer than this to the geostationary arc are not used; 0 switches this off",
    )
    .likely(0.0, 18.0),
    list(
        "constellation.shells",
        Assumed,
        SHELLS,
        1,
        "circular shells of satellites: round figures that show about as many satellites at every latitude as public element sets of August 2026",
    ),
    number("stop.panel_height_m", Assumed, 0.1, 10.0, "m", "height of the panel above the ground next to a standing vehicle, on a tripod"),
    number(
        "stop.reach_m",
        CommonPractice,
        0.0,
        60.0,
        "m",
        "the panel is set down at most this far from the vehicle, in a straight line: the clear spot is often 3 to 30 m away",
    ),
    number("sampling.station_spacing_m", Assumed, 1.0, 20.0, "m", "longest distance between sky masks along the road"),
    number("sampling.segment_length_m", Assumed, 25.0, 250.0, "m", "longest segment"),
    number(
        "sampling.refraction",
        Published,
        0.0,
        0.3,
        "",
        "refraction coefficient of the terrain horizon: 0.25 is the effective earth radius factor 4/3 (IEC 705-05-41)",
    ),
    number("sampling.grade_smoothing_m", Assumed, 0.0, 1000.0, "m", "the road's height is smoothed over this length"),
    number(
        "relief.seam_slope_deg",
        Assumed,
        0.2,
        3.0,
        "degrees",
        "where one raster ends and another continues, their offset fades along this slope: 18 m over a kilometre",
    ),
    number(
        "relief.void_slope_deg",
        Assumed,
        5.0,
        80.0,
        "degrees",
        "ground in voids may rise this steeply from what is known around it; sky that it could hide is unknown",
    ),
    number(
        "relief.void_rise_m",
        Assumed,
        0.0,
        3000.0,
        "m",
        "ground in voids may lie this far above the highest ground that is known around it: the wall of a gorge may be all void",
    ),
    number(
        "relief.coarse_pixel_m",
        Assumed,
        1.0,
        100.0,
        "m",
        "pixels larger than this may hide a rock face inside one of them",
    ),
    number(
        "relief.coarse_rise_m",
        Assumed,
        2.0,
        100.0,
        "m",
        "neighbouring pixels that differ by this may hide one: 10 m high and 5 m from a panel at 2 m, it blocks 58 degrees",
    ),
    number(
        "rating.steady_outage_s",
        Published,
        0.0,
        3600.0,
        "s",
        "steady: longest 95th percentile outage; planning limit of one-way delay, ITU-T G.114",
    ),
    number(
        "rating.steady_outage_share",
        Published,
        0.0,
        1.0,
        "",
        "steady: largest outage share; video loss target, 3GPP TS 22.105",
    ),
    number("rating.blips_outage_s", Assumed, 0.0, 3600.0, "s", "blips: longest 95th percentile outage"),
    number(
        "rating.blips_outage_share",
        Published,
        0.0,
        1.0,
        "",
        "blips: largest outage share; voice loss target, 3GPP TS 22.105",
    ),
    number(
        "rating.gaps_outage_s",
        Published,
        0.0,
        3600.0,
        "s",
        "gaps: longest 95th percentile outage; one consent interval, RFC 7675",
    ),
    number(
        "rating.drops_outage_s",
        Published,
        0.0,
        3600.0,
        "s",
        "drops: longest 95th percentile outage; consent expires, RFC 7675",
    ),
    number("rating.dark_outage_share", Assumed, 0.0, 1.0, "", "dark: with an outage share above this"),
    number("rating.window_s", Assumed, 1.0, 3600.0, "s", "outage shares are judged over at least this much driving"),
];

pub(super) const BLOCKED: &[Key] = &[
    number("bearing_from_deg", Assumed, -360.0, 360.0, "degrees", "from this bearing clockwise").required(),
    number("bearing_to_deg", Assumed, -360.0, 360.0, "degrees", "to this one; 0 to 360 is all around").required(),
    number("elevation_from_deg", Assumed, 0.0, 90.0, "degrees", "lowest elevation; 0 if left out"),
    number("elevation_to_deg", Assumed, 0.0, 90.0, "degrees", "highest elevation; 90 if left out"),
];

pub(super) const SHELLS: &[Key] = &[
    number("altitude_km", Assumed, 150.0, 36_000.0, "km", "height above the mean sphere").required(),
    number("inclination_deg", Assumed, 0.1, 179.9, "degrees", "inclination of the orbits").required(),
    whole("planes", Assumed, 1, 20_000, "", "orbital planes").required(),
    whole("per_plane", Assumed, 1, 20_000, "", "satellites in each plane").required(),
];

/// Most satellites of a shell.
const MOST_IN_SHELL: u32 = 100_000;

/// Values that contradict each other, though each is within its range.
pub(crate) fn conflict(profile: &Profile) -> Option<Conflict> {
    shells(profile).or_else(|| sectors(profile)).or_else(|| edges(profile))
}

fn shells(profile: &Profile) -> Option<Conflict> {
    let count =
        |i: usize| profile.constellation.shells[i].planes.saturating_mul(profile.constellation.shells[i].per_plane);
    let i = (0..profile.constellation.shells.len()).find(|i| count(*i) > MOST_IN_SHELL)?;
    Some(Conflict {
        keys: vec![entry("constellation.shells", i + 1)],
        fact: format!("planes times per_plane are {} satellites", count(i)),
        allowed: format!("allowed: at most {MOST_IN_SHELL}"),
    })
}

fn sectors(profile: &Profile) -> Option<Conflict> {
    let is_empty = |b: &super::model::BlockedSector| b.width_deg() <= 0.0 || b.elevation_from_deg >= b.elevation_to_deg;
    let i = profile.terminal.blocked.iter().position(is_empty)?;
    Some(Conflict {
        keys: vec![entry("terminal.blocked", i + 1)],
        fact: "holds no sky".to_owned(),
        allowed: "allowed: bearings that differ (0 to 360 is all around), the upper elevation above the lower"
            .to_owned(),
    })
}

/// Edges of better ratings must not lie above those of worse ones, or a worse rating could never be given.
fn edges(profile: &Profile) -> Option<Conflict> {
    let r = &profile.rating;
    let outages_s = [
        ("rating.steady_outage_s", r.steady_outage_s),
        ("rating.blips_outage_s", r.blips_outage_s),
        ("rating.gaps_outage_s", r.gaps_outage_s),
        ("rating.drops_outage_s", r.drops_outage_s),
    ];
    let shares = [
        ("rating.steady_outage_share", r.steady_outage_share),
        ("rating.blips_outage_share", r.blips_outage_share),
        ("rating.dark_outage_share", r.dark_outage_share),
    ];
    let falling = [&outages_s[..], &shares].into_iter().find(|row| !row.is_sorted_by(|a, b| a.1 <= b.1))?;
    let listed: Vec<String> = falling.iter().map(|(_, edge)| edge.to_string()).collect();
    let keys: Vec<String> = falling.iter().map(|(path, _)| (*path).to_owned()).collect();
    Some(Conflict {
        fact: format!("{} go down from a better to a worse rating", listed.join(", ")),
        allowed: format!("make them rise in this order: {}", keys.join(", ")),
        keys,
    })
}
