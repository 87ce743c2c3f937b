//! How long trees cut the link: drives along the tree-lined road and P.681's durations.
use waymask::physics::link::model::Stretch;
use waymask::physics::link::simulate::outages_under;
use waymask::physics::link::sky::LinkSky;
use waymask::physics::link::stats::Outage;
use waymask::physics::orbit::model::{Sighting, Timeline};
use waymask::physics::orbit::timeline::shell_timeline;
use waymask::profile::Profile;

use crate::roadside::page::assert_shown;
use crate::roadside::published::{fade_longer_than, frequency_factor, percent_faded_deeper, percent_open_longer_than};
use crate::roadside::road::*;

/// 80 km/h.
const SPEED_MPS: f64 = 80.0 / 3.6;
/// Lengths looked at, metres.
const LENGTHS_M: [f64; 8] = [0.1, 0.22, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0];

/// Lengths of outages and of the open road between them, metres.
struct Spans {
    outages_m: Vec<f64>,
    open_m: Vec<f64>,
    driven_m: f64,
}

impl Spans {
    fn of(drives: &[Vec<Outage>], length_m: f64) -> Self {
        let outages_m = drives.iter().flatten().map(|outage| outage.length_s() * SPEED_MPS).collect();
        let between =
            |d: &Vec<Outage>| d.windows(2).map(|w| (w[1].start_s - w[0].end_s) * SPEED_MPS).collect::<Vec<_>>();
        Self { outages_m, open_m: drives.iter().flat_map(between).collect(), driven_m: length_m * drives.len() as f64 }
    }
    fn outage_share(&self) -> f64 {
        self.outages_m.iter().sum::<f64>() / self.driven_m
    }
    fn longer(lengths_m: &[f64], than_m: f64) -> f64 {
        lengths_m.iter().filter(|l| **l > than_m).count() as f64 / lengths_m.len() as f64
    }
    fn mean_m(&self) -> f64 {
        self.outages_m.iter().sum::<f64>() / self.outages_m.len() as f64
    }
}

/// One satellite that stands still, square to the road, as an aircraft flying beside the vehicle does. The row of the mask is
/// centred on 50 degrees; P.681 measured at 51.
fn one_satellite(seconds: usize) -> Timeline {
    let seen = Sighting { satellite: 1, azimuth_deg: 92.0, elevation_deg: 50.0 };
    Timeline { latitude_deg: 45.0, sightings: vec![seen; seconds], starts: (0..=seconds as u32).collect() }
}

/// Drives both lanes of the central case northwards.
fn drive(timeline: &Timeline, station_m: f64, profile: &Profile) -> Spans {
    let canopy = CENTRAL.canopy();
    let length_m = 2.0 * HALF_LENGTH_M;
    let sky = LinkSky::new(timeline, GRID, profile);
    let mut drives = Vec::new();
    for (key, lane_m) in [(1, LANE_M), (2, -LANE_M)] {
        let masks = masks(&canopy, lane_m, station_m, profile);
        let headings_deg = vec![0.0; masks.len()];
        let stroke = [Stretch { length_m, speed_mps: SPEED_MPS, masks, headings_deg, overheads: vec![] }];
        drives.extend((0..profile.link.drives).map(|r| outages_under(&stroke, &sky, profile, key, r)));
    }
    Spans::of(&drives, length_m)
}

/// The signal as it is: fades are not held and nothing is reacquired.
fn signal() -> Profile {
    let mut profile = Profile::default();
    (profile.link.hold_s, profile.link.glimpse_s, profile.link.reacquire_s) = (0.0, 0.0, 0.0);
    profile
}

fn alone(margin_db: f64) -> Profile {
    let mut profile = signal();
    profile.link.margin_db = margin_db;
    profile.link.usable_share = 1.0;
    profile.terminal.scan_half_angle_deg = 65.0;
    profile
}

fn share(value: f64) -> String {
    format!("{value:.2}")
}

#[test]
fn outages_between_trees_and_the_durations_of_p681() {
    // 5 dB at 1.5 GHz is as frequent as 11 dB at 12 GHz.
    let scaled_db = 5.0 * frequency_factor(12.0);
    assert!((scaled_db - 11.0).abs() < 0.1);
    let profile = signal();
    let timeline = one_satellite(600);
    let sky = shell_timeline(46.0, &profile.constellation, GRID.floor_deg, 3600);
    let spans =
        [drive(&timeline, 10.0, &alone(scaled_db)), drive(&timeline, 10.0, &alone(5.0)), drive(&sky, 10.0, &profile)];
    let [scaled, five, whole_sky] = &spans;
    let head =
        ["longer than", "P.681, 5 dB at 1.5 GHz", "here, 11 dB at 12 GHz", "here, 5 dB", "here, whole sky, 5 dB"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for x_m in LENGTHS_M {
        let here = spans.iter().map(|s| share(Spans::longer(&s.outages_m, x_m)));
        rows.push([vec![format!("{x_m} m"), share(fade_longer_than(x_m))], here.collect()].concat());
    }
    let model = percent_faded_deeper(12.0, 51.0, scaled_db) / 100.0;
    let row = |name: &str, first: String, figure: &dyn Fn(&Spans) -> String| {
        [vec![name.to_owned(), first], spans.iter().map(figure).collect()].concat()
    };
    rows.push(row("mean", "0.46 m".into(), &|s| format!("{:.1} m", s.mean_m())));
    rows.push(row("share of the distance", share(model), &|s| share(s.outage_share())));
    assert_shown("fade durations", &rows);

    // An outage here is at least one gap length unless cut by a station's border, so short fades are not seen: at
    // every length up to the gap length more outages are longer than of the measured fades.
    for x_m in [0.1, 0.22, 0.5, 1.0, 2.0] {
        assert!(Spans::longer(&scaled.outages_m, x_m) > fade_longer_than(x_m), "{x_m} m");
    }
    // With one satellite an outage ends where the trees do: more than eight of ten are shorter than three stations.
    assert!(Spans::longer(&five.outages_m, 30.0) < 0.15, "{}", Spans::longer(&five.outages_m, 30.0));
    // The deeper fade is rarer, and other satellites shorten nothing below the reselection time but save most of the distance.
    assert!(scaled.outage_share() < five.outage_share() && whole_sky.outage_share() < 0.5 * five.outage_share());
}

#[test]
fn open_road_between_outages_and_the_durations_of_p681() {
    let scaled = drive(&one_satellite(600), 10.0, &alone(5.0 * frequency_factor(12.0)));
    let head = ["longer than", "P.681 moderate", "P.681 extreme", "here, 11 dB at 12 GHz"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for x_m in [1.0, 2.0, 5.0, 10.0, 20.0] {
        let model = |extreme| share(percent_open_longer_than(x_m, extreme) / 100.0);
        let here = Spans::longer(&scaled.open_m, x_m);
        // Never fewer long openings than on the measured roads: flicker within a crown is not resolved.
        assert!(here > percent_open_longer_than(x_m, false) / 100.0, "{x_m} m: {here}");
        rows.push(vec![format!("{x_m} m"), model(false), model(true), share(here)]);
    }
    assert_shown("openings", &rows);
}

#[test]
fn stations_closer_together_change_lengths_but_no_shares() {
    let (timeline, profile) = (one_satellite(600), signal());
    let sky = shell_timeline(46.0, &profile.constellation, GRID.floor_deg, 3600);
    let head = ["stations every", "one satellite: mean outage", "share", "whole sky: mean outage", "share"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    let mut found = Vec::new();
    for station_m in [10.0, 5.0, 2.0] {
        let (one, all) = (drive(&timeline, station_m, &alone(5.0)), drive(&sky, station_m, &profile));
        let figures = [&one, &all].map(|s| [format!("{:.1} m", s.mean_m()), share(s.outage_share())]);
        rows.push([vec![format!("{station_m} m")], figures.concat()].concat());
        found.push((one, all));
    }
    let ((one_10, all_10), (one_2, all_2)) = (&found[0], &found[2]);
    // Two lanes of 1.2 km hold 242 coarse stations: standard error of a share 0.03.
    assert!((one_10.outage_share() - one_2.outage_share()).abs() < 0.09);
    assert!(one_2.mean_m() < one_10.mean_m() && all_2.mean_m() < all_10.mean_m());
    assert_shown("stations", &rows);
}
