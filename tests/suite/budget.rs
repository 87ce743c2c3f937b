//! Data and energy: published rates and common practice, tariffs, settings, the command.
use waymask::ask::settings::Settings;
use waymask::base::caution::{self, Caution};
use waymask::budget::data::{MeetingHours, bytes, gb};
use waymask::budget::settings::{Battery, Tariff};
use waymask::budget::tariff::{break_evens, cost};
use waymask::budget::{Budget, BudgetSettings, energy};

fn close(got: f64, want: f64, by: f64) {
    assert!((got - want).abs() <= by, "{got}, not {want}");
}

/// The bearers are those of 3GPP TS 26.114, annex E (208 in E.6, 408 in E.19, 816 in E.29); the rest is arithmetic.
#[test]
fn rates_and_hours_make_bytes() {
    assert_eq!(bytes(816.0, 1.0), 367_200_000);
    assert_eq!(bytes(2.0 * 816.0, 1.0), 734_400_000);
    assert_eq!(bytes(208.0, 1.0), 93_600_000);
    assert_eq!(bytes(408.0, 1.0), 183_600_000);
    assert_eq!(bytes(1000.0, 1.0), 450_000_000);
    close(bytes(1000.0, 1.0) as f64 / f64::from(1 << 30), 0.4191, 1e-4);
    // Hours that 50 GB, and 50 GiB, last at 2.5 Mbit/s.
    close(50e9 / bytes(2500.0, 1.0) as f64, 44.444, 1e-3);
    close(50.0 * f64::from(1 << 30) / bytes(2500.0, 1.0) as f64, 47.722, 1e-3);
}

/// What a trip takes of which there is no plan, and no solar panel that nobody knows the sun of.
fn of(settings: &BudgetSettings, meetings: Option<MeetingHours>) -> Budget {
    Budget::of(settings, meetings, "t.toml", waymask::base::words::Dial::Hours24).unwrap()
}

/// Arithmetic: watts times hours, and volts times ampere-hours.
#[test]
fn watts_and_hours_make_watt_hours() {
    let mut settings = BudgetSettings::default();
    settings.work.driving_h = 4.0;
    settings.work.stopped_h = 2.5;
    settings.power.working_w = Some(75.0);
    settings.power.other_w = 0.0;
    settings.device.iter_mut().for_each(|d| d.hours = 6.5);
    let energy = of(&settings, None).energy;
    let day = energy.days[0].sums;
    assert_eq!((day.working_h, day.idle_h), (6.5, 0.0));
    close(day.drawn_wh, 487.5, 1e-9);
    let whole = Battery { usable_depth: 1.0, converter_efficiency: 1.0, ..Battery::default() };
    assert_eq!(energy::battery_wh(&whole), 1280.0);
    close(energy.lasts_working_h.unwrap(), 12.288, 1e-9);
}

fn day_gb(devices: &[&str], hours: f64) -> f64 {
    let mut settings = BudgetSettings::default();
    settings.device.retain(|d| devices.contains(&d.name.as_str()));
    settings.device.iter_mut().for_each(|d| d.hours = hours);
    gb(of(&settings, None).data.total)
}

/// Common practice, no source: 4 to 6 hours a day of two phones and a laptop are 6 to 8 GB, of the phones alone 3
/// to 4.
#[test]
fn the_starting_rates_come_near_common_practice() {
    close(day_gb(&["phone", "laptop"], 4.0), 6.0, 0.15);
    close(day_gb(&["phone", "laptop"], 6.0), 8.0, 0.15);
    close(day_gb(&["phone"], 4.0), 3.0, 0.15);
    close(day_gb(&["phone"], 6.0), 4.0, 0.15);
}

/// Nothing outside to compare with: about 25 W is common practice, no source. This only notices that the
/// starting value was changed.
#[test]
fn the_starting_draw_of_the_panel_has_not_been_changed() {
    assert_eq!(BudgetSettings::default().power.draw().working_w, 25.0);
}

/// The sum of the parts is the whole, and more of anything never costs less.
#[test]
fn parts_add_up_and_meetings_stand_in_for_calls() {
    let settings = BudgetSettings::default();
    let s = of(&settings, None);
    let kinds: u64 = s.data.by_kind.iter().map(|(_, b)| b).sum();
    let devices: u64 = s.data.by_device.iter().map(|(_, b)| b).sum();
    assert_eq!((s.data.total, s.data.total), (kinds + s.data.background, devices));
    assert_eq!(s.trip_bytes, 3 * s.data.total);
    let with = |video_h| of(&settings, Some(MeetingHours { video_h, ..MeetingHours::default() })).data;
    assert_eq!(with(0.0).by_kind[0].1, 0);
    assert_eq!(with(2.0).meetings, 2 * 734_400_000);
    assert_eq!(with(2.0).total, with(0.0).total + with(2.0).meetings);
    // Seven hours of meetings keep the panel at work longer than five hours of devices.
    let long = of(&settings, Some(MeetingHours { video_h: 7.0, ..MeetingHours::default() }));
    assert_eq!((s.energy.days[0].sums.working_h, long.energy.days[0].sums.working_h), (5.0, 7.0));
}

fn tariff(name: &str, price: f64, included_gb: Option<f64>, extra_per_gb: Option<f64>) -> Tariff {
    Tariff { name: name.into(), price, included_gb, extra_per_gb }
}

/// Invented prices: 38 with 30 GB and 2.50 for each GB beyond, against a flat 140; 38 + 2.5 (x - 30) = 140 at 70.8 GB.
#[test]
fn a_flat_tariff_pays_from_where_prices_meet() {
    let (small, flat) = (tariff("small", 38.0, Some(30.0), Some(2.5)), tariff("flat", 140.0, None, None));
    let found = break_evens(&[flat.clone(), small.clone()]);
    assert_eq!((found.len(), found[0].below.as_str(), found[0].above.as_str()), (1, "small", "flat"));
    close(found[0].gb, 70.8, 1e-9);
    // 38 + 2.5 x 10 = 63; 38 + 2.5 x 40.8 = 140.
    assert_eq!((cost(&small, 40.0), cost(&small, 30.0), cost(&flat, 999.0)), (Some(63.0), Some(38.0), Some(140.0)));
    close(cost(&small, 70.8).unwrap(), 140.0, 1e-9);
}

#[test]
fn tariffs_may_cross_twice_never_or_only_touch() {
    let of = |a: &Tariff, b: &Tariff| break_evens(&[a.clone(), b.clone()]).iter().map(|x| x.gb).collect::<Vec<_>>();
    let a = tariff("a", 38.0, Some(30.0), Some(2.5));
    // 88 up to 90 GB, 6 each beyond: dearer until 38 + 2.5 (x - 30) = 88 at 50 GB, cheaper until 88 + 6 (x - 90) meets it:
    // 2.5 x - 37 = 6 x - 452 at 415 / 3.5 GB.
    let b = tariff("b", 88.0, Some(90.0), Some(6.0));
    let found = of(&a, &b);
    assert_eq!(found.len(), 2, "{found:?}");
    close(found[0], 50.0, 1e-9);
    close(found[1], 415.0 / 3.5, 1e-9);
    // Against a search over whole GB.
    for x in 0..200 {
        let x = f64::from(x);
        let cheaper = cost(&a, x) < cost(&b, x);
        assert_eq!(cheaper, !(50.0..=415.0 / 3.5).contains(&x), "{x}");
    }
    assert!(of(&a, &tariff("c", 45.0, Some(30.0), Some(2.5))).is_empty());
    assert!(of(&tariff("d", 38.0, Some(30.0), Some(1.0)), &tariff("e", 38.0, Some(30.0), Some(2.5))).is_empty());
    // The link ends at the allowance: no price to compare beyond.
    let ends = tariff("f", 17.0, Some(30.0), None);
    assert_eq!((cost(&ends, 30.0), cost(&ends, 30.1)), (Some(17.0), None));
}

#[test]
fn allowance_and_battery_run_out_on_the_right_day() {
    let mut settings = BudgetSettings::default();
    settings.work.days = 10;
    settings.tariff = vec![tariff("small", 38.0, Some(30.0), Some(2.5)), tariff("ends", 17.0, Some(30.0), None)];
    let s = of(&settings, None);
    // About 6.9 GB a day: 30 GB are used up on the fifth.
    assert!((6.0..7.5).contains(&gb(s.data.total)), "{}", gb(s.data.total));
    assert_eq!((s.tariffs[0].runs_out_on_day, s.tariffs[1].cost, s.tariffs[0].cheapest), (Some(5), None, true));
    close(s.tariffs[0].cost.unwrap(), 38.0 + 2.5 * (gb(s.trip_bytes) - 30.0), 1e-9);
    // 25 W x 5 h + 15 W x 7 h + 40 W x 5 h = 430 Wh a day of 921.6: two days are covered, of the third 61.6 Wh. From nine, six
    // hours of idle driving take 90 Wh: they are gone after 61.6 / 15 h = 4 h 6.4 min, at 13:06.
    close(s.energy.days[0].sums.drawn_wh, 430.0, 1e-9);
    let off = &s.energy.off[0];
    assert_eq!((off.day, off.from.as_str(), off.to.as_str(), s.energy.off_times), (3, "13:06", "21:00", 8));
    close(off.missing_wh, 430.0 - 61.6, 1e-9);
    settings.solar.panel_w = 200.0;
    settings.solar.sun_hours = Some(4.0);
    // 200 W x 4 h x 0.7 x 0.9 = 504 Wh a day, 74 more than are used.
    let sunny = of(&settings, None).energy;
    close(sunny.total.solar_wh, 5_040.0, 1e-6);
    assert_eq!((sunny.off_times, sunny.off.len()), (0, 0));
    // The battery was full at the start: after a first day it cannot be fuller than it was on its morning.
    close(sunny.total.lost_wh, 5_040.0 - 4_300.0 - (sunny.end_wh - sunny.start_wh), 1e-6);
}

#[test]
fn settings_are_checked_key_by_key() {
    for (text, place, said) in [
        ("[work]\ndriving_h = 25", "line 2: work.driving_h", "25 is out of range\n  Allowed: 0 to 24 h"),
        ("[work]\ndriving_h = 13\nstopped_h = 12", "line 2: work.driving_h", "add up to 25"),
        ("[work]\nstopped_h = 20", "line 2: work.stopped_h", "add up to 26"),
        ("[battery]\nusable_depth = 1.5", "line 2: battery.usable_depth", "1.5 is out of range\n  Allowed: 0 to 1"),
        ("[work]\ndriving_from_h = 25", "line 2: work.driving_from_h", "25 is out of range\n  Allowed: 0 to 24 h"),
        ("[work]\ndriving_from_h = 14", "line 2: work.driving_from_h", "driving from hour 14 and then 12 hours"),
        ("[work]\nin_motion_first = 1", "line 2: work.in_motion_first", "1 is not true or false"),
        ("[power]\npanel = \"huge\"", "line 2: power.panel", "small, standard or large"),
        ("[power]\nworking_w = 1001", "line 2: power.working_w", "1001 is out of range\n  Allowed: 0 to 1000 W"),
        ("[battery]\nstart_share = 1.1", "line 2: battery.start_share", "1.1 is out of range\n  Allowed: 0 to 1"),
        ("[battery]\nrestart_share = 0", "line 2: battery.restart_share", "0 is out of range\n  Allowed: 0.05 to 1"),
        ("[battery]\namp_hours = 0.5", "line 2: battery.amp_hours", "leave 4.608 Wh to be used"),
        ("[solar]\nsun_hours = 25", "line 2: solar.sun_hours", "25 is out of range\n  Allowed: 0 to 24 h"),
        (
            "[solar]\nsun_hours = 13",
            "line 2: solar.sun_hours",
            "do not fit between sunrise at hour 6 and sunset at hour 18",
        ),
        ("[solar]\nclear_share = 1.2", "line 2: solar.clear_share", "1.2 is out of range\n  Allowed: 0 to 1"),
        ("[solar]\nsunrise_h = -1", "line 2: solar.sunrise_h", "-1 is out of range\n  Allowed: 0 to 24 h"),
        ("[solar]\nsunset_h = 25", "line 2: solar.sunset_h", "25 is out of range\n  Allowed: 0 to 24 h"),
        ("[solar]\nsunset_h = 6", "line 2: solar.sunset_h", "cannot rise at hour 6 and set at hour 6"),
        ("currency = \"ninechars\"", "line 1: currency", "has 9 characters\n  Allowed: 1 to 8 characters"),
        ("currency = \"\"", "line 1: currency", "is empty"),
        ("currency = \"a\\u0007\"", "line 1: currency", "holds a control character"),
        ("currency = 7", "line 1: currency", "7 is not text in quotes"),
        ("[power]\nidle_w = -1", "line 2: power.idle_w", "-1 is out of range\n  Allowed: 0 to 1000 W"),
        ("[power]\nidle_w = nan", "line 2: power.idle_w", "nan is out of range"),
        ("[solar]\npannel_w = 1", "line 2: solar.pannel_w", "Did you mean `solar.panel_w`?"),
        ("[weather]\nrain = 1", "line 1: weather", "Known here: currency, driving, departure"),
        ("[[tariff]]\nname = \"x\"", "line 1: tariff.price (entry 1)", "is missing"),
        (
            "\n[[device]]\nname = \"x\"\ncount = 1\nhours = 2\nvideo = 0.5",
            "line 2: device (entry 1)",
            "`x` by kind of work add up to 0.500",
        ),
        ("[work]\nstopped_h = 0\ndriving_h = 3", "line 3: work.driving_h", "`phone` is used for 5 h a day"),
        ("[work]\ndays = 0", "line 2: work.days", "0 is out of range\n  Allowed: 1 to 366"),
        ("[work]\ndays = 1.5", "line 2: work.days", "1.5 is not a whole number"),
    ] {
        let error = Settings::read(text, "t.toml").unwrap_err().to_string();
        assert!(error.starts_with(&format!("t.toml, {place}")) && error.contains(said), "{text}: {error}");
    }
    let both = Settings::read("[driving]\ndrivers = 1\n[work]\ndays = 2", "t.toml").unwrap();
    assert_eq!((both.driving.drivers, both.spending.unwrap().work.days), (1, 2));
}

fn waymask(args: &[&str]) -> (i32, String, String) {
    let out = std::process::Command::new(env!("CARGO_BIN_EXE_waymask")).args(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (out.status.code().unwrap(), text(out.stdout), text(out.stderr))
}

#[test]
fn the_command_answers_without_a_layer() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("trip.toml");
    let (code, example, _) = waymask(&["settings", "trip"]);
    assert_eq!(code, 0);
    std::fs::write(&path, &example).unwrap();
    let path = path.to_str().unwrap();
    let (code, text, _) = waymask(&["spend", path]);
    // Nobody gave a price: nothing is said of prices.
    assert!(code == 0 && !text.contains("price") && !text.contains("tariff"), "{text}");
    assert!(text.contains("\n  of which phone ") && !text.contains("from the sun"), "{text}");
    for caution in Caution::ENERGY {
        assert!(text.contains(caution.text()), "{caution:?}: {text}");
    }
    let json = |path| -> serde_json::Value { serde_json::from_str(&waymask(&["spend", path, "--json"]).1).unwrap() };
    let without = json(path);
    let settings = BudgetSettings::default();
    assert_eq!(without["trip_bytes"], of(&settings, None).trip_bytes);
    assert!(!without.to_string().contains("price") && without.get("tariffs").is_none(), "{without}");
    assert!(
        without["notes"][0].as_str().unwrap().starts_with("the order of a day is assumed: driving from 09:00 to 15:00")
    );
    assert_eq!(without["cautions"], serde_json::json!(caution::texts(&Caution::ENERGY)));
    let prices = "\n[[tariff]]\nname = \"small\"\nprice = 38\nincluded_gb = 30\nextra_per_gb = 2.5\n\n\
                  [[tariff]]\nname = \"flat\"\nprice = 140\n";
    std::fs::write(path, example + prices).unwrap();
    let (code, text, _) = waymask(&["spend", path]);
    assert!(code == 0 && text.contains("up to 70.8 GB a month small is cheaper, beyond it flat"), "{text}");
    assert!(text.contains("     38.00  small  cheapest\n") && json(path)["tariffs"][1]["cost"] == 140.0, "{text}");
    let named = std::fs::read_to_string(path).unwrap().replacen("# currency = ", "currency = ", 1);
    std::fs::write(path, named).unwrap();
    let (code, text, _) = waymask(&["spend", path]);
    assert!(code == 0 && text.contains(" 38.00 EUR  small") && text.contains("140.00 EUR  flat"), "{text}");
    assert_eq!(json(path)["currency"], "EUR");
    std::fs::write(path, "[work]\ndays = 0\n").unwrap();
    let (code, _, error) = waymask(&["spend", path]);
    assert!(
        code == 2 && error.contains("trip.toml, line 2: work.days: 0 is out of range\n  Allowed: 1 to 366"),
        "{error}"
    );
    assert_eq!((waymask(&["spend"]).0, waymask(&["spend", "/no/such.toml"]).0), (2, 1));
}

#[test]
fn a_solar_panel_without_sun_or_place_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("trip.toml");
    std::fs::write(&path, "[solar]\npanel_w = 120\n").unwrap();
    let (code, text, error) = waymask(&["spend", path.to_str().unwrap()]);
    assert!(code == 2 && text.is_empty() && error.contains("trip.toml"), "{code} {text} {error}");
    assert!(error.contains("solar.sun_hours is missing: solar.panel_w is 120 W"), "{error}");
    // A plan knows its place, so the file itself is not wrong.
    assert!(Settings::read("[solar]\npanel_w = 120\n", "t.toml").is_ok());
}

#[test]
fn the_battery_is_told_day_by_day() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("trip.toml");
    let said = |toml: &str| {
        std::fs::write(&path, toml).unwrap();
        let (code, text, error) = waymask(&["spend", path.to_str().unwrap()]);
        assert_eq!(code, 0, "{error}");
        text
    };
    let text = said("[work]\ndays = 4\n");
    for line in [
        "energy for a day 430 Wh, for the trip 1720 Wh\n",
        "battery 922 Wh when full, which is 14 h 10 min at work without charging; 922 Wh at the start\n",
        "  day 1: least 492 Wh at 21:00, 492 Wh at its end\n",
        "  PANEL OFF day 3 from 13:06 to 21:00 (7 h 54 min), 368 Wh missing\n",
        "  PANEL OFF day 4 from 09:00 to 21:00 (12 h), 430 Wh missing\n",
    ] {
        assert!(text.contains(line), "{line}{text}");
    }
    let text = said("[work]\ndays = 4\n[solar]\npanel_w = 5000\nsun_hours = 5\n");
    assert!(text.contains("of these lost, because the battery is full") && !text.contains("PANEL OFF"), "{text}");
    assert!(text.contains("  the panel never goes off for want of power\n"), "{text}");
    let text = said("[battery]\namp_hours = 0\n");
    assert!(text.contains("no battery: ") && text.contains("PANEL OFF day 1 from 09:00 to 21:00"), "{text}");
}
