//! Every key of the sections of a budget: type, range, unit, where its starting value comes from, meaning.
use super::energy::battery_wh;
use super::settings::BudgetSettings;
use super::settings::PanelSize;
use crate::base::settings::Mark::{Assumed, CommonPractice, Published, Users};
use crate::base::settings::{Conflict, Key, entry, flag, list, number, text, whole, word};

/// Keys outside all sections, which a file has to hold before them.
pub(crate) const FIRST: &[Key] = &[text(
    "currency",
    Users,
    "what money is called behind its figures, at most 8 characters; plain figures where it is not given",
)
.sample("\"EUR\"")];

/// Every other key, in the order in which they are printed.
pub(crate) const KEYS: &[Key] = &[
    whole("work.days", Assumed, 1, 366, "", "number of days of the trip"),
    number("work.driving_h", Assumed, 0.0, 24.0, "h", "hours a day with the engine on"),
    number(
        "work.stopped_h",
        Assumed,
        0.0,
        24.0,
        "h",
        "hours a day at stops with the panel on; those beyond the stops of a plan follow its arrival",
    ),
    number(
        "work.driving_from_h",
        Assumed,
        0.0,
        24.0,
        "h",
        "hour of the day at which driving begins, where no plan says it; the hours at stops follow it",
    )
    .likely(7.0, 11.0),
    flag("work.in_motion_first", Assumed, "work is done while driving before it is done at stops"),
    number(
        "rates.video_kbps",
        Published,
        0.0,
        1e6,
        "kbit/s",
        "816 kbit/s each way: example bearer of 3GPP TS 26.114, annex E.29; HD calls use 2 to 4 times as much",
    ),
    number("rates.voice_kbps", Published, 0.0, 1e6, "kbit/s", "64 kbit/s each way, ITU-T G.711 without headers"),
    number("rates.messages_kbps", Assumed, 0.0, 1e6, "kbit/s", "messages and mail with some pictures"),
    number("rates.pages_kbps", Assumed, 0.0, 1e6, "kbit/s", "pages, maps, shared documents"),
    number("rates.streaming_kbps", Assumed, 0.0, 1e6, "kbit/s", "films and recorded talks"),
    number(
        "rates.upload_kbps",
        Assumed,
        0.0,
        1e6,
        "kbit/s",
        "photographs and files sent, averaged over the hours of sending",
    ),
    list("device", Assumed, DEVICE, 0, "devices on the link; your own list replaces this one entirely"),
    word(
        "power.panel",
        CommonPractice,
        PanelSize::NAMES,
        "size of the panel, for what it draws in use and idle: small and portable 25 and 15 W, standard 60 and 30 W, large and \
         flat 110 and 50 W; measure yours and give it below",
    ),
    number("power.working_w", CommonPractice, 0.0, 1e3, "W", "panel in use, instead of the figure of its size")
        .sample("25.0"),
    number("power.idle_w", Assumed, 0.0, 1e3, "W", "panel on but idle, instead of the figure of its size")
        .sample("15.0"),
    number(
        "power.other_w",
        Assumed,
        0.0,
        1e4,
        "W",
        "everything else while somebody works, such as laptops and phones charging",
    ),
    number("battery.volts", CommonPractice, 1.0, 1e3, "V", "nominal voltage"),
    number("battery.amp_hours", Assumed, 0.0, 1e4, "Ah", "capacity; 0 for none"),
    number("battery.usable_depth", CommonPractice, 0.0, 1.0, "", "share of the capacity that may be used"),
    number(
        "battery.converter_efficiency",
        CommonPractice,
        0.01,
        1.0,
        "",
        "share of the energy that the converter passes on",
    ),
    number(
        "battery.charge_driving_w",
        Assumed,
        0.0,
        1e4,
        "W",
        "charging power into the battery, before the converter, while the engine runs",
    ),
    number("battery.start_share", Assumed, 0.0, 1.0, "", "share of what may be used that is in it when the trip begins"),
    number(
        "battery.restart_share",
        Assumed,
        0.05,
        1.0,
        "",
        "once empty, it has to hold this share of what may be used before the panel comes on again, unless sun and engine alone \
         are enough",
    )
    .likely(0.05, 0.3),
    number("solar.panel_w", Assumed, 0.0, 1e4, "W", "rated power; 0 for none"),
    number(
        "solar.sun_hours",
        Users,
        0.0,
        24.0,
        "h",
        "hours of full sun a day on a panel that lies flat, clouds included; `spend` needs it, a plan knows places and dates",
    )
    .sample("4.0"),
    number(
        "solar.clear_share",
        Assumed,
        0.0,
        1.0,
        "",
        "share of a clear sky's sun that clouds let through, where sun_hours is not given",
    )
    .likely(0.3, 0.9),
    number(
        "solar.sunrise_h",
        Assumed,
        0.0,
        24.0,
        "h",
        "hour at which the sun rises, where place and date are not known; sun_hours are spread until sunset as half a wave",
    ),
    number("solar.sunset_h", Assumed, 0.0, 24.0, "h", "hour at which it sets, where they are not known"),
    number(
        "solar.efficiency",
        CommonPractice,
        0.0,
        1.0,
        "",
        "share that reaches the battery, after losses by heat, dirt and the regulator",
    ),
    list("tariff", Users, TARIFF, 0, "tariffs to compare; no price is known but what is given here"),
];

const DEVICE: &[Key] = &[
    text("name", Assumed, "what it is called").required(),
    whole("count", Assumed, 0, 1_000, "", "how many of them").required(),
    number("hours", CommonPractice, 0.0, 24.0, "h", "hours of use a day: 4 to 6").required(),
    number("background_kbps", Assumed, 0.0, 1e6, "kbit/s", "updates, synchronising, feeds while the panel is on"),
    number("video", Assumed, 0.0, 1.0, "", "share of the hours in video calls; all six shares add up to 1"),
    number("voice", Assumed, 0.0, 1.0, "", "share in calls without video"),
    number("messages", Assumed, 0.0, 1.0, "", "share with messages and mail"),
    number("pages", Assumed, 0.0, 1.0, "", "share with pages and documents"),
    number("streaming", Assumed, 0.0, 1.0, "", "share with films, music and recorded talks"),
    number("upload", Assumed, 0.0, 1.0, "", "share sending files"),
];

const TARIFF: &[Key] = &[
    text("name", Users, "what it is called").required().sample("\"small\""),
    number("price", Users, 0.0, 1e6, "", "of a month, in any unit of money").required().sample("38.0"),
    number("included_gb", Users, 0.0, 1e6, "GB", "GB of 10^9 bytes; leave out where nothing is counted").sample("30.0"),
    number("extra_per_gb", Users, 0.0, 1e6, "", "price of each GB beyond; leave out where the link ends there")
        .sample("2.5"),
];

/// The most characters of a currency.
const CURRENCY_LENGTH: usize = 8;
/// The smallest battery that is one, Wh.
const LEAST_BATTERY_WH: f64 = 10.0;

/// Hours and shares that contradict each other, though each is within its range.
pub(crate) fn conflict(settings: &BudgetSettings) -> Option<Conflict> {
    of_money(settings)
        .or_else(|| of_hours(settings))
        .or_else(|| of_devices(settings))
        .or_else(|| of_battery(settings))
        .or_else(|| of_sun(settings))
}

fn clash(keys: &[&str], fact: String, allowed: &str) -> Option<Conflict> {
    Some(Conflict { keys: keys.iter().map(|key| (*key).to_owned()).collect(), fact, allowed: allowed.to_owned() })
}

fn of_money(settings: &BudgetSettings) -> Option<Conflict> {
    let currency = settings.currency.as_deref()?;
    let length = currency.chars().count();
    let fact = match length {
        0 => "is empty".to_owned(),
        _ if currency.chars().any(char::is_control) => "holds a control character".to_owned(),
        _ if length > CURRENCY_LENGTH => format!("has {length} characters"),
        _ => return None,
    };
    clash(&["currency"], fact, "allowed: 1 to 8 characters such as \"EUR\", or leave it out for plain figures")
}

fn of_hours(settings: &BudgetSettings) -> Option<Conflict> {
    let (work, on_h) = (&settings.work, settings.work.on_h());
    if on_h > 24.0 {
        let fact = format!("driving_h and stopped_h add up to {on_h}");
        return clash(&["work.driving_h", "work.stopped_h"], fact, "allowed: at most the 24 hours of a day");
    }
    let end_h = work.driving_from_h + on_h;
    if end_h > 24.0 {
        let fact = format!(
            "driving from hour {} and then {on_h} hours with the panel on end at hour {end_h}",
            work.driving_from_h
        );
        return clash(
            &["work.driving_from_h", "work.driving_h", "work.stopped_h"],
            fact,
            "allowed: at most hour 24; let work.driving_from_h be earlier",
        );
    }
    None
}

fn of_devices(settings: &BudgetSettings) -> Option<Conflict> {
    let on_h = settings.work.on_h();
    for (i, device) in settings.device.iter().enumerate() {
        let (own, name) = (entry("device", i + 1), &device.name);
        let sum: f64 = device.shares().iter().sum();
        if (sum - 1.0).abs() > 0.005 {
            let fact = format!("the shares of `{name}` by kind of work add up to {sum:.3}");
            return clash(&[&own], fact, "make them add up to 1");
        }
        if device.hours > on_h {
            let fact = format!("`{name}` is used for {} h a day, but the panel is on for only {on_h} h", device.hours);
            return clash(
                &[&own, "work.driving_h", "work.stopped_h"],
                fact,
                "give a device at most as many hours as work.driving_h and work.stopped_h together",
            );
        }
    }
    None
}

fn of_battery(settings: &BudgetSettings) -> Option<Conflict> {
    let wh = battery_wh(&settings.battery);
    if wh <= 0.0 || wh >= LEAST_BATTERY_WH {
        return None;
    }
    let keys = ["battery.amp_hours", "battery.volts", "battery.usable_depth"];
    clash(
        &keys,
        format!("volts, amp_hours, usable_depth and converter_efficiency leave {wh:.3} Wh to be used"),
        "allowed: at least 10 Wh; set battery.amp_hours to 0 for no battery",
    )
}

fn of_sun(settings: &BudgetSettings) -> Option<Conflict> {
    let solar = &settings.solar;
    let (rise, set) = (solar.sunrise_h, solar.sunset_h);
    if rise >= set {
        let fact = format!("the sun cannot rise at hour {rise} and set at hour {set}");
        return clash(
            &["solar.sunrise_h", "solar.sunset_h"],
            fact,
            "set solar.sunrise_h to an hour before solar.sunset_h",
        );
    }
    let hours = solar.sun_hours.filter(|hours| *hours > set - rise)?;
    clash(
        &["solar.sun_hours", "solar.sunrise_h", "solar.sunset_h"],
        format!("{hours} hours of full sun do not fit between sunrise at hour {rise} and sunset at hour {set}"),
        "give at most as many hours as there are from solar.sunrise_h to solar.sunset_h",
    )
}
