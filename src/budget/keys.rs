//! Every key of the sections of a budget: type, range, unit, where its starting value comes from, meaning.
use super::settings::BudgetSettings;
use crate::base::settings::Mark::{Assumed, CommonPractice, Published, Users};
use crate::base::settings::{Conflict, Key, entry, list, number, text, whole};

/// Every key, in the order in which they are printed.
pub(crate) const KEYS: &[Key] = &[
    whole("work.days", Assumed, 1, 366, "", "number of days of the trip"),
    number("work.driving_h", Assumed, 0.0, 24.0, "h", "hours a day with the engine on"),
    number("work.stopped_h", Assumed, 0.0, 24.0, "h", "hours a day at stops with the panel on"),
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
    number("power.working_w", CommonPractice, 0.0, 1e3, "W", "panel in use"),
    number("power.idle_w", Assumed, 0.0, 1e3, "W", "panel on but idle, driving or standing"),
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
    number("battery.charge_driving_w", Assumed, 0.0, 1e4, "W", "charging power while the engine runs"),
    number("solar.panel_w", Assumed, 0.0, 1e4, "W", "rated power; 0 for none"),
    number("solar.sun_hours", Assumed, 0.0, 24.0, "h", "hours of full sun a day, for the season and place"),
    number(
        "solar.efficiency",
        CommonPractice,
        0.0,
        1.0,
        "",
        "share that reaches the battery, after losses by lying flat, heat, dirt and the regulator",
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
    number("price", Users, 0.0, 1e6, "", "of a month, in any unit of money").required().sample("10.0"),
    number("included_gb", Users, 0.0, 1e6, "GB", "GB of 10^9 bytes; leave out where nothing is counted").sample("20.0"),
    number("extra_per_gb", Users, 0.0, 1e6, "", "price of each GB beyond; leave out where the link ends there")
        .sample("2.0"),
];

/// Hours and shares that contradict each other, though each is within its range.
pub(crate) fn conflict(settings: &BudgetSettings) -> Option<Conflict> {
    let on_h = settings.work.on_h();
    let hours = ["work.driving_h", "work.stopped_h"].map(str::to_owned);
    if on_h > 24.0 {
        let fact = format!("driving_h and stopped_h add up to {on_h}");
        return Some(Conflict {
            keys: hours.into(),
            fact,
            allowed: "allowed: at most the 24 hours of a day".to_owned(),
        });
    }
    for (i, device) in settings.device.iter().enumerate() {
        let (own, name) = (entry("device", i + 1), &device.name);
        let sum: f64 = device.shares().iter().sum();
        if (sum - 1.0).abs() > 0.005 {
            let fact = format!("the shares of `{name}` by kind of work add up to {sum:.3}");
            return Some(Conflict { keys: vec![own], fact, allowed: "make them add up to 1".to_owned() });
        }
        if device.hours > on_h {
            let fact = format!("`{name}` is used for {} h a day, but the panel is on for only {on_h} h", device.hours);
            let allowed =
                "give a device at most as many hours as work.driving_h and work.stopped_h together".to_owned();
            return Some(Conflict { keys: [vec![own], hours.into()].concat(), fact, allowed });
        }
    }
    None
}
