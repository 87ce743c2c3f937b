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

/// Arithmetic: watts times hours, and volts times ampere-hours.
#[test]
fn watts_and_hours_make_watt_hours() {
    let mut settings = BudgetSettings::default();
    settings.work.driving_h = 4.0;
    settings.work.stopped_h = 2.5;
    settings.power.working_w = 75.0;
    settings.power.other_w = 0.0;
    settings.device.iter_mut().for_each(|d| d.hours = 6.5);
    let day = energy::day(&settings, 0.0);
    assert_eq!((day.working_h, day.idle_h, day.drawn_wh), (6.5, 0.0, 487.5));
    let whole = Battery { usable_depth: 1.0, converter_efficiency: 1.0, ..Battery::default() };
    assert_eq!(energy::battery_wh(&whole), 1280.0);
    close(day.lasts_working_h.unwrap(), 12.288, 1e-9);
}

fn day_gb(devices: &[&str], hours: f64) -> f64 {
    let mut settings = BudgetSettings::default();
    settings.device.retain(|d| devices.contains(&d.name.as_str()));
    settings.device.iter_mut().for_each(|d| d.hours = hours);
    gb(Budget::of(&settings, None).data.total)
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
    assert_eq!(BudgetSettings::default().power.working_w, 25.0);
}

/// The sum of the parts is the whole, and more of anything never costs less.
#[test]
fn parts_add_up_and_meetings_stand_in_for_calls() {
    let settings = BudgetSettings::default();
    let s = Budget::of(&settings, None);
    let kinds: u64 = s.data.by_kind.iter().map(|(_, b)| b).sum();
    let devices: u64 = s.data.by_device.iter().map(|(_, b)| b).sum();
    assert_eq!((s.data.total, s.data.total), (kinds + s.data.background, devices));
    assert_eq!(s.trip_bytes, 3 * s.data.total);
    let with = |video_h| Budget::of(&settings, Some(MeetingHours { video_h, ..MeetingHours::default() })).data;
    assert_eq!(with(0.0).by_kind[0].1, 0);
    assert_eq!(with(2.0).meetings, 2 * 734_400_000);
    assert_eq!(with(2.0).total, with(0.0).total + with(2.0).meetings);
    // Seven hours of meetings keep the panel at work longer than five hours of devices.
    let long = Budget::of(&settings, Some(MeetingHours { video_h: 7.0, ..MeetingHours::default() }));
    assert_eq!((s.energy.working_h, long.energy.working_h), (5.0, 7.0));
}

fn tariff(name: &str, price: f64, included_gb: Option<f64>, extra_per_gb: Option<f64>) -> Tariff {
    Tariff { name: name.into(), price, included_gb, extra_per_gb }
}

/// Invented prices: 10 with 20 GB and 2 for each GB beyond, against a flat 50; 10 + 2 (x - 20) = 50 at 40 GB.
#[test]
fn a_flat_tariff_pays_from_where_prices_meet() {
    let (small, flat) = (tariff("small", 10.0, Some(20.0), Some(2.0)), tariff("flat", 50.0, None, None));
    let found = break_evens(&[flat.clone(), small.clone()]);
    assert_eq!((found.len(), found[0].below.as_str(), found[0].above.as_str()), (1, "small", "flat"));
    close(found[0].gb, 40.0, 1e-9);
    assert_eq!((cost(&small, 40.0), cost(&small, 20.0), cost(&flat, 999.0)), (Some(50.0), Some(10.0), Some(50.0)));
}

#[test]
fn tariffs_may_cross_twice_never_or_only_touch() {
    let of = |a: &Tariff, b: &Tariff| break_evens(&[a.clone(), b.clone()]).iter().map(|x| x.gb).collect::<Vec<_>>();
    let a = tariff("a", 10.0, Some(10.0), Some(2.0));
    // 40 up to 60 GB, 5 each beyond: dearer until 25 GB, cheaper until 83.33 GB.
    let b = tariff("b", 40.0, Some(60.0), Some(5.0));
    let found = of(&a, &b);
    assert_eq!(found.len(), 2, "{found:?}");
    close(found[0], 25.0, 1e-9);
    close(found[1], 250.0 / 3.0, 1e-9);
    // Against a search over whole GB.
    for x in 0..200 {
        let x = f64::from(x);
        let cheaper = cost(&a, x) < cost(&b, x);
        assert_eq!(cheaper, !(25.0..=250.0 / 3.0).contains(&x), "{x}");
    }
    assert!(of(&a, &tariff("c", 20.0, Some(10.0), Some(2.0))).is_empty());
    assert!(of(&tariff("d", 10.0, Some(10.0), Some(1.0)), &tariff("e", 10.0, Some(10.0), Some(2.0))).is_empty());
    // The link ends at the allowance: no price to compare beyond.
    let ends = tariff("f", 5.0, Some(20.0), None);
    assert_eq!((cost(&ends, 20.0), cost(&ends, 20.1)), (Some(5.0), None));
}

#[test]
fn allowance_and_battery_run_out_on_the_right_day() {
    let mut settings = BudgetSettings::default();
    settings.work.days = 10;
    settings.tariff = vec![tariff("small", 50.0, Some(20.0), Some(1.0)), tariff("ends", 5.0, Some(20.0), None)];
    let s = Budget::of(&settings, None);
    // About 6.9 GB a day: 20 GB are used up on the third.
    assert_eq!((s.tariffs[0].runs_out_on_day, s.tariffs[1].cost, s.tariffs[0].cheapest), (Some(3), None, true));
    // 25 W x 5 h + 15 W x 7 h + 40 W x 5 h = 430 Wh a day of 921.6: two days are covered.
    assert_eq!((s.energy.drawn_wh, s.energy.empty_on_day), (430.0, Some(3)));
    settings.solar.panel_w = 200.0;
    // 200 W x 4 h x 0.7 x 0.9 = 504 Wh.
    let sunny = Budget::of(&settings, None).energy;
    close(sunny.solar_wh, 504.0, 1e-9);
    assert_eq!(sunny.empty_on_day, None);
}

#[test]
fn settings_are_checked_key_by_key() {
    for (text, place, said) in [
        ("[work]\ndriving_h = 25", "line 2: work.driving_h", "25 is out of range\n  Allowed: 0 to 24 h"),
        ("[work]\ndriving_h = 13\nstopped_h = 12", "line 2: work.driving_h", "add up to 25"),
        ("[work]\nstopped_h = 20", "line 2: work.stopped_h", "add up to 26"),
        ("[battery]\nusable_depth = 1.5", "line 2: battery.usable_depth", "1.5 is out of range\n  Allowed: 0 to 1"),
        ("[power]\nidle_w = -1", "line 2: power.idle_w", "-1 is out of range\n  Allowed: 0 to 1000 W"),
        ("[power]\nidle_w = nan", "line 2: power.idle_w", "nan is out of range"),
        ("[solar]\npannel_w = 1", "line 2: solar.pannel_w", "Did you mean `solar.panel_w`?"),
        ("[weather]\nrain = 1", "line 1: weather", "Known here: driving, departure"),
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
    assert!(code == 0 && text.contains("no price is known") && !text.contains("tariffs, with"), "{text}");
    assert!(text.contains("\n  of which phone ") && !text.contains("left for the battery"), "{text}");
    for caution in Caution::ENERGY {
        assert!(text.contains(caution.text()), "{caution:?}: {text}");
    }
    let json = |path| -> serde_json::Value { serde_json::from_str(&waymask(&["spend", path, "--json"]).1).unwrap() };
    let without = json(path);
    let settings = BudgetSettings::default();
    assert_eq!(without["trip_bytes"], Budget::of(&settings, None).trip_bytes);
    assert!(without["notes"][0].as_str().unwrap().starts_with("no price is known"), "{without}");
    assert_eq!(without["cautions"], serde_json::json!(caution::texts(&Caution::ENERGY)));
    let prices = "\n[[tariff]]\nname = \"small\"\nprice = 10\nincluded_gb = 20\nextra_per_gb = 2\n\n\
                  [[tariff]]\nname = \"flat\"\nprice = 50\n";
    std::fs::write(path, example + prices).unwrap();
    let (code, text, _) = waymask(&["spend", path]);
    assert!(code == 0 && text.contains("up to 40.0 GB a month small is cheaper, beyond it flat"), "{text}");
    assert!(!text.contains("no price is known") && json(path)["notes"].as_array().unwrap().is_empty(), "{text}");
    std::fs::write(path, "[work]\ndays = 0\n").unwrap();
    let (code, _, error) = waymask(&["spend", path]);
    assert!(
        code == 2 && error.contains("trip.toml, line 2: work.days: 0 is out of range\n  Allowed: 1 to 366"),
        "{error}"
    );
    assert_eq!((waymask(&["spend"]).0, waymask(&["spend", "/no/such.toml"]).0), (2, 1));
}

#[test]
fn what_the_sun_gives_is_taken_off() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("trip.toml");
    for panel_w in [50.0, 5_000.0] {
        std::fs::write(&path, format!("[solar]\npanel_w = {panel_w}\nsun_hours = 5\n")).unwrap();
        let (code, text, error) = waymask(&["spend", path.to_str().unwrap()]);
        let wh = |line: &str| -> f64 {
            let found =
                text.lines().find(|l| l.ends_with(line)).unwrap_or_else(|| panic!("{line}: {code} {text}{error}"));
            found.split_whitespace().next().unwrap().parse().unwrap()
        };
        let drawn = wh("idle") + wh("Wh  other loads");
        let (sun, left) = (wh("Wh  from the sun"), wh("Wh  left for the battery"));
        assert!(sun < 0.0 && (left - (drawn + sun).max(0.0)).abs() <= 1.5, "{text}");
        assert_eq!(left > 0.0, panel_w < 1_000.0, "{text}");
    }
}
