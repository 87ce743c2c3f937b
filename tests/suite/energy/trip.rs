//! The energy of whole trips: nights, balance, sizes of panels, and a plain loop over the minutes of a trip as a peer.
use super::walk::{HOUR, close, minutes};
use proptest::prelude::*;
use waymask::budget::days::PlannedDay;
use waymask::budget::energy::{MomentWords, battery_wh};
use waymask::budget::hours::{DayStretch, DayTimes, StretchDoing};
use waymask::budget::settings::PanelSize;
use waymask::budget::sun::SunPlace;
use waymask::budget::{Budget, BudgetSettings, PlannedTrip};

/// Sun before departure and after arrival is in the battery the next morning; the panel is off at night.
#[test]
fn the_charge_goes_on_through_the_nights() {
    let mut settings = BudgetSettings::default();
    (settings.work.days, settings.work.driving_h, settings.work.stopped_h) = (3, 1.0, 5.0);
    settings.solar.panel_w = 100.0;
    (settings.solar.sun_hours, settings.solar.efficiency) = (Some(4.0), 1.0);
    settings.battery.converter_efficiency = 0.9;
    settings.battery.start_share = 0.5;
    let s = Budget::of(&settings, None, "t.toml", waymask::base::words::Dial::Hours24).unwrap();
    // 100 W x 4 h x 0.9 = 360 Wh in; 25 W x 5 h + 15 W x 1 h + 40 W x 5 h = 340 Wh out; 921.6 / 2 = 460.8 Wh at the start.
    for (n, day) in s.energy.days.iter().enumerate() {
        close(day.sums.solar_wh, 360.0);
        close(day.sums.drawn_wh, 340.0);
        close(day.begin_wh, 460.8 + 20.0 * n as f64);
        close(day.end_wh, 480.8 + 20.0 * n as f64);
        close(day.sums.driving_h, 1.0);
    }
    assert_eq!((s.energy.off_times, s.energy.total.lost_wh), (0, 0.0));
}

/// The balance of a whole trip, with every gain and every limit in play.
#[test]
fn in_is_out_and_lost_and_what_the_battery_gained() {
    let mut settings = BudgetSettings::default();
    (settings.work.days, settings.power.panel) = (9, PanelSize::Large);
    (settings.solar.panel_w, settings.solar.sun_hours) = (300.0, Some(5.0));
    settings.battery.charge_driving_w = 40.0;
    for amp_hours in [0.0, 10.0, 40.0, 100.0, 400.0] {
        settings.battery.amp_hours = amp_hours;
        let e = Budget::of(&settings, None, "t.toml", waymask::base::words::Dial::Hours24).unwrap().energy;
        let t = e.total;
        close(t.solar_wh + t.engine_wh, t.drawn_wh + t.lost_wh + e.end_wh - e.start_wh);
        close(t.panel_wh + t.other_wh, t.drawn_wh + t.missing_wh);
        close(e.off.iter().map(|off| off.missing_wh).sum(), t.missing_wh);
        close(e.off.iter().map(|off| off.lasts_s).sum::<f64>() / HOUR, t.off_h);
        close(e.battery_wh, battery_wh(&settings.battery));
        assert!(e.days.windows(2).all(|w| w[0].end_wh == w[1].begin_wh));
        assert!(amp_hours > 50.0 || t.missing_wh > 0.0, "{amp_hours}: {t:?}");
        // 40 W x 6 h x 0.9 from the engine, on the side of the loads.
        close(t.engine_wh, 9.0 * 216.0);
    }
}

#[test]
fn own_figures_come_before_those_of_the_size() {
    let mut power = BudgetSettings::default().power;
    let draw = |p: &waymask::budget::settings::Power| (p.draw().working_w, p.draw().idle_w);
    assert_eq!(draw(&power), (25.0, 15.0), "the starting figures stay");
    power.panel = PanelSize::Standard;
    let standard = draw(&power);
    power.panel = PanelSize::Large;
    let large = draw(&power);
    assert!(25.0 < standard.0 && standard.0 < large.0 && 15.0 < standard.1 && standard.1 < large.1);
    power.working_w = Some(7.0);
    assert_eq!(draw(&power), (7.0, large.1));
}

/// Loads and gains of a minute of a trip without a plan, found minute by minute: the sun's half wave summed by Simpson's rule
/// over each ten minutes.
fn minutes_of(s: &BudgetSettings, [from, driven, stood, worked, rise, set]: [u16; 6]) -> Vec<(u16, f64, f64)> {
    let panel = s.power.draw();
    let through = s.battery.converter_efficiency;
    let sun_hours = s.solar.sun_hours.unwrap_or_default();
    let length_h = f64::from(set - rise) / 60.0;
    let wave = |minute: f64| {
        let part = (minute - f64::from(rise)) / f64::from(set - rise);
        if (0.0..=1.0).contains(&part) { (std::f64::consts::PI * part).sin() } else { 0.0 }
    };
    let cell = |minute: u16| {
        let begin = f64::from(minute / 10 * 10);
        let weight = |i: u16| {
            if i == 0 || i == 40 {
                1.0
            } else if i % 2 == 1 {
                4.0
            } else {
                2.0
            }
        };
        let simpson: f64 = (0..=40).map(|i| weight(i) * wave(begin + f64::from(i) / 4.0)).sum::<f64>() / 120.0;
        // A half wave of height 1 has the area of 2 / pi of its length.
        if minute / 10 * 10 >= rise && minute / 10 * 10 < set {
            simpson * sun_hours / (length_h * 2.0 / std::f64::consts::PI)
        } else {
            0.0
        }
    };
    let one = |minute: u16| {
        let driving = (from..from + driven).contains(&minute);
        let standing = (from + driven..from + driven + stood).contains(&minute);
        let (nth, first) = if driving {
            (minute - from, s.work.in_motion_first)
        } else {
            (minute.saturating_sub(from + driven), !s.work.in_motion_first)
        };
        let before = if first {
            0
        } else if driving {
            stood
        } else {
            driven
        };
        let works = (driving || standing) && nth + before < worked.max(before);
        let load_w = match (driving || standing, works) {
            (_, true) => panel.working_w + s.power.other_w,
            (true, false) => panel.idle_w,
            (false, false) => 0.0,
        };
        let engine_w = if driving { s.battery.charge_driving_w } else { 0.0 };
        (1, load_w, (engine_w + cell(minute) * s.solar.panel_w * s.solar.efficiency) * through)
    };
    (0..1_440).map(one).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    /// The whole way of `spend`: order of the day, sun, converter, battery, nights.
    #[test]
    fn a_trip_agrees_with_a_loop_over_its_minutes(
        (from, driven, stood, worked) in (0u16..600, 0u16..420, 1u16..420, 0u16..840),
        (rise, set) in (0u16..60, 72u16..144),
        in_motion_first in any::<bool>(),
        (days, amp_hours, start) in (1u32..5, prop_oneof![Just(0.0), 5.0..120.0f64], 0.0..1.0f64),
        (panel_w, charge_w, through) in (0.0..400.0f64, 0.0..200.0f64, 0.5..1.0f64),
    ) {
        let mut s = BudgetSettings::default();
        let hours = |minutes: u16| f64::from(minutes) / 60.0;
        let worked = worked.min(driven + stood);
        s.work.days = days;
        (s.work.driving_h, s.work.stopped_h, s.work.driving_from_h) = (hours(driven), hours(stood), hours(from));
        s.work.in_motion_first = in_motion_first;
        s.device.iter_mut().for_each(|d| d.hours = hours(worked));
        (s.solar.panel_w, s.solar.sun_hours) = (panel_w, Some(4.0));
        (s.solar.sunrise_h, s.solar.sunset_h) = (hours(10 * rise), hours(10 * set));
        (s.battery.amp_hours, s.battery.start_share) = (amp_hours, start);
        (s.battery.charge_driving_w, s.battery.converter_efficiency) = (charge_w, through);
        let e = Budget::of(&s, None, "t.toml", waymask::base::words::Dial::Hours24).unwrap().energy;
        let day = minutes_of(&s, [from, driven, stood, worked, 10 * rise, 10 * set]);
        let pieces: Vec<_> = (0..days).flat_map(|_| day.clone()).collect();
        let capacity_wh = 12.8 * amp_hours * 0.8 * through;
        let peer = minutes(capacity_wh, 0.1 * capacity_wh, start * capacity_wh, &pieces);
        for (got, want, what) in [
            (e.end_wh, peer.wh, "charge"),
            (e.total.drawn_wh, peer.drawn_wh, "drawn"),
            (e.total.lost_wh, peer.lost_wh, "lost"),
            (e.total.missing_wh, peer.missing_wh, "missing"),
            (60.0 * e.total.off_h, peer.off_min, "off"),
        ] {
            prop_assert!((got - want).abs() < 1e-6, "{what}: {got}, not {want}");
        }
    }
}

fn planned(settings: &BudgetSettings, date: &str, lat_deg: f64) -> Budget {
    let begin_s = format!("{date}T00:00:00Z").parse::<jiff::Timestamp>().unwrap().as_second() as f64;
    let at = |h: f64| begin_s + h * HOUR;
    let driven = DayStretch { from_s: at(8.0), to_s: at(9.0), doing: StretchDoing::Driving };
    let times = DayTimes { begin_s, end_s: at(24.0), stretches: vec![driven], calls: Vec::new() };
    let place = SunPlace { lat_deg, lon_deg: 0.0 };
    let day = PlannedDay { date: date.into(), times, place };
    let told = MomentWords { clock: &|_| String::new(), date: &|_| None, place: &|_| None };
    Budget::planned(settings, None, &PlannedTrip { days: vec![day], told })
}

#[test]
fn a_sun_that_does_not_rise_or_is_not_known_is_none_and_that_is_said() {
    let mut settings = BudgetSettings::default();
    settings.solar.panel_w = 100.0;
    let says = |s: &Budget, part: &str| s.notes.iter().any(|note| note.contains(part));
    let summer = planned(&settings, "2026-06-21", 80.0);
    assert!(summer.energy.total.solar_wh > 100.0 && !says(&summer, "none is counted"), "{:?}", summer.notes);
    for sun_hours in [None, Some(3.0)] {
        settings.solar.sun_hours = sun_hours;
        let winter = planned(&settings, "2026-12-21", 80.0);
        assert_eq!(winter.energy.total.solar_wh, 0.0);
        assert!(says(&winter, "2026-12-21: the sun does not rise there on this date, and none is counted"));
        let unknown = planned(&settings, "9000-06-21", 47.0);
        assert_eq!(unknown.energy.total.solar_wh, 0.0);
        assert!(says(&unknown, "9000-06-21: where the sun stands is not known, and none is counted"));
    }
    // Six hours at stops follow the arrival, five of them at work; nothing clashes but the hour at the wheel.
    settings.solar.panel_w = 0.0;
    let day = planned(&settings, "2026-06-21", 47.0);
    let sums = day.energy.days[0].sums;
    close(sums.working_h, 5.0);
    close(sums.idle_h, 2.0);
    assert!(says(&day, "the engine runs while the plan drives (1 h), not for work.driving_h = 6 h"), "{:?}", day.notes);
    assert!(!says(&day, "sun") && !says(&day, "no room"));
    settings.work.stopped_h = 16.0;
    settings.work.driving_h = 1.0;
    let full = planned(&settings, "2026-06-21", 47.0);
    assert!(says(&full, "2026-06-21 has no room for 1 h of the 16 h at stops: they are left out"), "{:?}", full.notes);
}
