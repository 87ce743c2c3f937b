//! A battery through the hours of days: closed forms, and a plain loop over minutes as a peer.
use proptest::prelude::*;
use waymask::budget::BudgetSettings;
use waymask::budget::energy::{EnergyDay, MomentWords, TripEnergy, walk_trip};
use waymask::budget::hours::{CallTime, DayStretch, DayTimes, HourRules, PanelUse, StretchDoing, lay_out};
use waymask::budget::sun::DaySun;
use waymask::budget::walk::{BatteryStore, PieceWalked, PowerPiece};

pub(super) fn close(got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-6, "{got}, not {want}");
}

fn piece(minutes: f64, load_w: f64, gain_w: f64) -> PowerPiece {
    PowerPiece { length_s: 60.0 * minutes, load_w, gain_w }
}

/// 100 Wh full, two hours of 50 W in and 20 W out: 60 Wh find no room.
#[test]
fn a_full_battery_loses_what_is_left_over() {
    let store = BatteryStore::new(100.0, 0.1);
    let mut charge = store.charged(1.0);
    let walked = store.walk(&mut charge, &piece(120.0, 20.0, 50.0));
    assert_eq!((walked.lost_wh, walked.drawn_wh, walked.missing_wh, charge.wh), (60.0, 40.0, 0.0, 100.0));
    // From 70 Wh it is full after one of the two hours.
    let mut charge = store.charged(0.7);
    let walked = store.walk(&mut charge, &piece(120.0, 20.0, 50.0));
    close(walked.lost_wh, 30.0);
    close(charge.wh, 100.0);
}

/// 100 Wh at 40 W last 150 minutes; the other 30 of three hours miss 20 Wh.
#[test]
fn an_empty_battery_goes_off_at_a_known_minute() {
    let store = BatteryStore::new(100.0, 0.1);
    let mut charge = store.charged(1.0);
    let walked = store.walk(&mut charge, &piece(180.0, 40.0, 0.0));
    assert_eq!(walked.off_s, [150.0 * 60.0..180.0 * 60.0]);
    close(walked.missing_wh, 20.0);
    close(walked.drawn_wh, 100.0);
    assert_eq!((walked.least_wh, walked.least_at_s, charge.is_off), (0.0, 9_000.0, true));
    // At 20 W it holds the 10 Wh of a tenth after half an hour and comes on; at 60 W less 20 W these last 15 minutes.
    let walked = store.walk(&mut charge, &piece(60.0, 60.0, 20.0));
    assert_eq!(walked.off_s, [0.0..1_800.0, 2_700.0..3_600.0]);
    close(walked.drawn_wh, 15.0);
    close(walked.missing_wh, 45.0);
    close(charge.wh, 5.0);
    // What covers the load alone turns it on at once.
    let walked = store.walk(&mut charge, &piece(10.0, 60.0, 60.0));
    assert!(walked.off_s.is_empty() && !charge.is_off);
}

/// Without a battery the panel is on while the gains cover it, and what they give else is lost.
#[test]
fn no_battery_stores_nothing() {
    let store = BatteryStore::new(0.0, 0.1);
    let mut charge = store.charged(1.0);
    let walked = store.walk(&mut charge, &piece(60.0, 40.0, 100.0));
    assert_eq!((walked.drawn_wh, walked.lost_wh), (40.0, 60.0));
    let walked = store.walk(&mut charge, &piece(60.0, 40.0, 30.0));
    assert_eq!((walked.drawn_wh, walked.missing_wh, walked.lost_wh), (0.0, 40.0, 30.0));
    assert_eq!(walked.off_s, [0.0..3_600.0]);
}

/// What a plain loop makes of the same pieces.
#[derive(Debug, Default)]
pub(super) struct Looped {
    pub wh: f64,
    pub drawn_wh: f64,
    pub lost_wh: f64,
    pub missing_wh: f64,
    pub off_min: f64,
}

/// Minute after minute; a minute in which the loads go off or come on is cut there.
pub(super) fn minutes(capacity_wh: f64, restart_wh: f64, start_wh: f64, pieces: &[(u16, f64, f64)]) -> Looped {
    let mut out = Looped { wh: start_wh, ..Looped::default() };
    let mut off = false;
    for (minutes, load_w, gain_w) in pieces {
        for _ in 0..*minutes {
            let mut left_min = 1.0;
            while left_min > 0.0 {
                if off && (restart_wh > 0.0 && out.wh >= restart_wh || *load_w > 0.0 && gain_w >= load_w) {
                    off = false;
                }
                let rate_w = if off { *gain_w } else { gain_w - load_w };
                // How much of the minute goes by before the battery is empty, or full enough to come on.
                let mut goes_min = left_min;
                let mut turns = false;
                if !off && out.wh + rate_w * left_min / 60.0 < 0.0 {
                    goes_min = out.wh / -rate_w * 60.0;
                    turns = true;
                }
                if off && restart_wh > 0.0 && out.wh + rate_w * left_min / 60.0 > restart_wh {
                    goes_min = (restart_wh - out.wh) / rate_w * 60.0;
                    turns = true;
                }
                if off {
                    out.missing_wh += load_w * goes_min / 60.0;
                    out.off_min += if *load_w > 0.0 { goes_min } else { 0.0 };
                } else {
                    out.drawn_wh += load_w * goes_min / 60.0;
                }
                out.wh += rate_w * goes_min / 60.0;
                if out.wh > capacity_wh {
                    out.lost_wh += out.wh - capacity_wh;
                    out.wh = capacity_wh;
                }
                if turns {
                    out.wh = if off { restart_wh } else { 0.0 };
                    off = !off;
                }
                left_min -= goes_min;
            }
        }
    }
    out
}

proptest! {
    #[test]
    fn the_walk_agrees_with_a_loop_over_minutes_and_no_energy_is_made(
        capacity_wh in prop_oneof![Just(0.0), 10.0..500.0f64],
        restart in 0.05..1.0f64,
        start in 0.0..1.0f64,
        pieces in prop::collection::vec(
            (1u16..400, prop_oneof![Just(0.0), 1.0..300.0f64], prop_oneof![Just(0.0), 1.0..300.0f64]), 1..30),
    ) {
        let store = BatteryStore::new(capacity_wh, restart);
        let mut charge = store.charged(start);
        let start_wh = charge.wh;
        let walked: Vec<PieceWalked> =
            pieces.iter().map(|(m, load_w, gain_w)| store.walk(&mut charge, &piece(f64::from(*m), *load_w, *gain_w))).collect();
        let sum = |of: fn(&PieceWalked) -> f64| walked.iter().map(of).sum::<f64>();
        let (drawn_wh, lost_wh, missing_wh) = (sum(|w| w.drawn_wh), sum(|w| w.lost_wh), sum(|w| w.missing_wh));
        let off_s = sum(|w| w.off_s.iter().map(|o| o.end - o.start).sum());
        let peer = minutes(store.capacity_wh, store.restart_wh, start_wh, &pieces);
        for (got, want) in [
            (charge.wh, peer.wh), (drawn_wh, peer.drawn_wh), (lost_wh, peer.lost_wh), (missing_wh, peer.missing_wh),
            (off_s / 60.0, peer.off_min),
        ] {
            prop_assert!((got - want).abs() < 1e-6, "{got}, not {want}");
        }
        let given_wh: f64 = pieces.iter().map(|(m, _, gain_w)| gain_w * f64::from(*m) / 60.0).sum();
        let wanted_wh: f64 = pieces.iter().map(|(m, load_w, _)| load_w * f64::from(*m) / 60.0).sum();
        prop_assert!((given_wh - (drawn_wh + lost_wh + charge.wh - start_wh)).abs() < 1e-6);
        prop_assert!((wanted_wh - (drawn_wh + missing_wh)).abs() < 1e-6);
        prop_assert!(walked.iter().all(|w| w.least_wh >= 0.0 && w.least_wh <= store.capacity_wh));
    }
}

pub(super) const HOUR: f64 = 3_600.0;

fn stretch(from_h: f64, to_h: f64, doing: StretchDoing) -> DayStretch {
    DayStretch { from_s: from_h * HOUR, to_s: to_h * HOUR, doing }
}

/// Drives 8 to 10, stands 10 to 11, drives 11 to 12.
fn day(calls: Vec<CallTime>) -> DayTimes {
    let stretches = vec![
        stretch(8.0, 10.0, StretchDoing::Driving),
        stretch(10.0, 11.0, StretchDoing::Stopped),
        stretch(11.0, 12.0, StretchDoing::Driving),
    ];
    DayTimes { begin_s: 0.0, end_s: 24.0 * HOUR, stretches, calls }
}

fn call(name: &str, from_h: f64, to_h: f64) -> CallTime {
    CallTime { from_s: from_h * HOUR, to_s: to_h * HOUR, name: name.into() }
}

#[test]
fn work_is_done_in_meetings_then_at_stops_then_on_the_way() {
    let rules = HourRules { stopped_h: 3.0, working_h: 4.5, in_motion_first: false };
    let in_use = |laid: &[waymask::budget::hours::UsedStretch]| -> Vec<(f64, f64)> {
        let mut out: Vec<(f64, f64)> = Vec::new();
        for s in laid.iter().filter(|s| s.panel == PanelUse::InUse) {
            match out.last_mut() {
                Some(last) if last.1 == s.from_s / HOUR => last.1 = s.to_s / HOUR,
                _ => out.push((s.from_s / HOUR, s.to_s / HOUR)),
            }
        }
        out
    };
    // One hour of meetings, an hour at the stop, two more after arrival until 14:00, half an hour of the first drive.
    let times = day(vec![call("late", 20.0, 20.5), call("moving", 11.0, 11.5)]);
    let laid = lay_out(&times, &rules);
    assert_eq!(in_use(&laid.stretches), [(8.0, 8.5), (10.0, 11.5), (12.0, 14.0), (20.0, 20.5)]);
    let whole: f64 = laid.stretches.iter().map(|s| s.to_s - s.from_s).sum();
    assert_eq!((whole, laid.short.working_h, laid.short.stopped_h), (24.0 * HOUR, 0.0, 0.0));
    assert!(laid.stretches.windows(2).all(|w| w[0].to_s == w[1].from_s));
    // The other way round: two and a half hours of driving without a meeting, then one at the stop.
    let laid = lay_out(&times, &HourRules { in_motion_first: true, ..rules });
    assert_eq!(in_use(&laid.stretches), [(8.0, 12.0), (20.0, 20.5)]);
    // What does not fit is told: a day that ends at 13:00 has room for one of two hours after arrival.
    let laid = lay_out(&DayTimes { end_s: 13.0 * HOUR, ..times }, &HourRules { working_h: 9.0, ..rules });
    assert_eq!((laid.short.stopped_h, laid.short.working_h), (1.0, 4.0));
}

fn walked(settings: &BudgetSettings, days: &[EnergyDay], rules: &HourRules) -> TripEnergy {
    let clock = |s: f64| format!("{:.4}", s / HOUR);
    walk_trip(settings, days, rules, &MomentWords { clock: &clock, date: &|_| None, place: &|_| None })
}

/// 100 Wh at 60 W in use, without gains and with no work but the meeting: 20 W idle from 8 take 40 Wh until 10 and 20 Wh until
/// 11; then the meeting takes the last 40 Wh in 40 minutes.
#[test]
fn a_meeting_in_which_the_panel_goes_off_is_named() {
    let mut settings = BudgetSettings::default();
    settings.battery.volts = 10.0;
    settings.battery.amp_hours = 10.0;
    (settings.battery.usable_depth, settings.battery.converter_efficiency) = (1.0, 1.0);
    (settings.power.working_w, settings.power.idle_w, settings.power.other_w) = (Some(50.0), Some(20.0), 10.0);
    let rules = HourRules { stopped_h: 0.0, working_h: 0.0, in_motion_first: false };
    let calls = vec![call("early", 8.0, 8.0), call("Datum review", 11.0, 12.0)];
    let days = [EnergyDay { date: Some("Mon".into()), times: day(calls), sun: DaySun::none() }];
    let energy = walked(&settings, &days, &rules);
    assert_eq!((energy.off_times, energy.off.len()), (1, 1));
    let off = &energy.off[0];
    assert_eq!(
        (off.from.as_str(), off.to.as_str(), &off.meetings[..]),
        ("11.6667", "12.0000", &["Datum review".to_owned()][..])
    );
    close(off.missing_wh, 20.0);
    close(off.lasts_s, 1_200.0);
    let words: Vec<String> = energy.meetings_without_panel(waymask::base::words::HowTold::default()).collect();
    assert!(words.len() == 1 && words[0].starts_with("THE PANEL GOES OFF DURING \"Datum review\""), "{words:?}");
    // Half full it goes off at 10:30, and stays off through the meeting.
    settings.battery.start_share = 0.5;
    let energy = walked(&settings, &days, &rules);
    assert_eq!((energy.off_times, energy.off[0].from.as_str()), (1, "10.5000"));
    close(energy.off[0].missing_wh, 10.0 + 60.0);
}
