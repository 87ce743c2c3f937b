//! What is in the page.
use waymask::ask::plan::{How, Part};
use waymask::ask::surroundings::NearRoad;
use waymask::base::caution::Caution;
use waymask::base::ramp::{hex, look};
use waymask::base::words::Rating;
use waymask::budget::Budget;
use waymask::budget::settings::{BudgetSettings, Tariff};
use waymask::report::brief::{Brief, page};
use waymask::report::plan_cautions;

use crate::brief::kit;

/// The pictures of a page.
fn pictures(page: &str) -> Vec<&str> {
    page.match_indices("<svg").map(|(from, _)| &page[from..from + page[from..].find("</svg>").unwrap() + 6]).collect()
}

/// Text of a page as a browser would show it, without tags.
fn text_of(page: &str) -> String {
    let mut out = String::new();
    for part in page.split('<').skip(1) {
        out += part.split_once('>').map_or("", |p| p.1);
    }
    let out = out.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&apos;", "'");
    out.replace("&amp;", "&").replace('\u{a0}', " ")
}

#[test]
fn everything_that_matters_is_in_the_page() {
    let day = kit::day(90);
    let chosen = day.plan.chosen.clone();
    assert_eq!(chosen.meetings[0].how, How::AtStop, "the kit's plan stops for its meeting: {:?}", chosen.parts);
    assert_eq!(chosen.meetings[1].how, How::InMotion);
    let page = kit::hostile_page();
    let text = text_of(&page);
    // The kit's day has a meeting in motion and one at a stop.
    let belong = plan_cautions(&kit::trip(vec![kit::day(90)]));
    assert_eq!(belong[..3], [Caution::Passenger, Caution::Signs, Caution::Belt]);
    assert!(belong.contains(&Caution::Fastening) && !belong.contains(&Caution::Wiring), "{belong:?}");
    for caution in belong {
        assert!(text.contains(caution.text()), "{caution:?}");
    }
    for m in &chosen.meetings {
        assert!(text.matches(&m.name).count() >= 2, "card and strip's title tell of {}", m.name);
        assert!(text.contains(&format!("{}–{}", m.start.clock(), m.end.clock())));
    }
    for part in &chosen.parts {
        if let Part::Stop { from, to, place, .. } = part {
            assert!(text.contains(&format!("from {} to {} at {}", from.clock(), to.clock(), place.name)), "{text}");
            assert!(page.contains(&format!("href=\"geo:{:.5},{:.5}\"", place.lat_deg, place.lon_deg)), "{text}");
        }
    }
    for words in [
        kit::TITLE,
        kit::ROAD,
        kit::LONG,
        "Made up & drawn by <us>",
        "Monday, 15 June 2026",
        "Times in UTC",
        "Map data of 2026-01-01",
        "roof not known",
        "12 m to the east (90°): 97 % open, 47 percentage points more",
        "too low: do not drive under it",
        "crowns over",
        "tunnel or roof",
        "off the layer's roads",
        "untagged trees are 15 m high",
        "Why this day",
        "Other ways to spend this day",
        "If you leave late, with the same stops",
        "STOP at S1",
        kit::TOWN,
        "4 km north of <i>Anselm</i> (town)",
        "Made by waymask",
    ] {
        assert!(text.contains(words), "{words}");
    }
    assert!(
        text.contains("Compared: departures") && !text.contains("partial days"),
        "what the search did inside is left out"
    );
    assert!(!text.contains("Behind the gate"), "private places are not proposed");
}

#[test]
fn text_of_others_cannot_leave_its_place() {
    let page = kit::hostile_page();
    for tag in ["<script", "<img", "<b>call", "<style>*", "<us>"] {
        assert!(!page.contains(tag), "{tag}");
    }
    assert_eq!(page.matches("<style>").count(), 1);
    assert_eq!(page.matches("<title>").count() + page.matches("<title id").count(), page.matches("</title>").count());
}

#[test]
fn nothing_is_loaded_and_nothing_runs() {
    let page = kit::hostile_page();
    assert!(page.contains("default-src 'none'"));
    for (at, _) in page.match_indices("href=\"") {
        let own = page[at + 6..].starts_with('#') || page[at + 6..].starts_with("geo:");
        assert!(own, "{}", &page[at..at + 40]);
    }
    for (at, _) in page.match_indices("url(") {
        assert!(page[at + 4..].starts_with('#'), "{}", &page[at..at + 40]);
    }
    let tags: Vec<&str> = page.split('<').skip(1).filter_map(|t| t.split_once('>')).map(|t| t.0).collect();
    for tag in tags {
        let name = tag.split([' ', '/']).next().unwrap_or_default();
        assert!(!["script", "img", "link", "iframe", "object", "embed", "image", "use"].contains(&name), "{tag}");
        assert!(!tag.contains(" src=") && !tag.contains(" on"), "{tag}");
    }
}

#[test]
fn pictures_are_well_formed() {
    let page = kit::hostile_page();
    let pictures = pictures(&page);
    assert!(pictures.len() >= 2 + Rating::ALL.len(), "strip, map, legend");
    for picture in pictures {
        if let Err(error) = roxmltree::Document::parse(picture) {
            panic!("{error}: {picture}");
        }
    }
    for words in ["aria-labelledby=\"map-1 map-1-d\"", "<title id=\"map-1\">", "<desc id=\"strip-1-d\">"] {
        assert!(page.contains(words), "{words}");
    }
}

#[test]
fn the_same_trip_gives_the_same_bytes() {
    assert_eq!(kit::hostile_page(), kit::hostile_page());
}

#[test]
fn ratings_differ_by_colour_by_width_and_by_pattern() {
    let page = kit::hostile_page();
    let map = pictures(&page).into_iter().find(|p| p.contains("class=\"trip\"") && p.contains("map-1-d")).unwrap();
    let trip = &map[map.find("class=\"trip\"").unwrap()..];
    let trip = &trip[..trip.find("</g>").unwrap()];
    for &rating in Rating::ALL {
        let look = look(rating);
        let stroke = format!("<path stroke=\"{}\" stroke-width=\"{:.1}\"", hex(look.colour), look.width_px);
        assert_eq!(trip.matches(&stroke).count(), 1, "{stroke}");
    }
    let dashed: Vec<&str> = trip.split("stroke-dasharray=\"").skip(1).map(|d| d.split('"').next().unwrap()).collect();
    assert_eq!(dashed.len(), 2, "drops and dark");
    assert_ne!(dashed[0], dashed[1]);
}

#[test]
fn the_worst_carry_the_same_numbers_on_map_strip_and_table() {
    let page = kit::hostile_page();
    let pictures = pictures(&page);
    let of = |id: &str| pictures.iter().find(|p| p.contains(id)).unwrap();
    for n in 1..=10 {
        assert!(of("map-1-d").contains(&format!(">{n}</text>")), "map {n}");
        assert!(of("strip-1-d").contains(&format!("<tspan class=\"b\">{n}</tspan>")), "strip {n}");
        assert!(page.contains(&format!("data-head=\"no.\">{n}</th>")), "table {n}");
    }
}

#[test]
fn a_long_trip_stays_small() {
    let day = kit::day(300);
    let roads: Vec<NearRoad> = (0..3_000).flat_map(|_| kit::nearby()).collect();
    let trip = kit::trip(vec![day]);
    let page = page(&Brief { title: "Long", trip: &trip, nearby: &[roads], places: &[], map_pages: &[] });
    assert!(page.len() < 1_500_000, "{} bytes", page.len());
    assert!(page.contains("Small roads are left out."));
}

#[test]
fn data_and_energy_are_told_where_the_traveller_said_anything_of_them() {
    let mut settings = BudgetSettings::default();
    settings.tariff.push(Tariff { name: "Big <one>".into(), price: 140.0, ..Tariff::default() });
    let mut trip = kit::trip(vec![kit::day(60)]);
    trip.spending = Some(Budget::of(&settings, None, "t.toml", waymask::base::words::Dial::Hours24).unwrap());
    let text = page(&Brief { title: "T", trip: &trip, nearby: &[], places: &[], map_pages: &[] });
    for words in ["<h2>Data and energy</h2>", "A day takes ", "Big &lt;one&gt;", ">140.00</td>"] {
        assert!(text.contains(words), "{words}");
    }
    // Where energy is told and among the cautions.
    for caution in Caution::ENERGY {
        assert_eq!(text_of(&text).matches(caution.text()).count(), 2, "{caution:?}");
    }
    assert!(text.contains("The battery, day by day") && text.contains("Tariffs, with the trip in one month"));
    // Without prices nothing is said of them; a battery too small for its days is.
    let mut poor = BudgetSettings::default();
    poor.battery.amp_hours = 20.0;
    trip.spending = Some(Budget::of(&poor, None, "t.toml", waymask::base::words::Dial::Hours24).unwrap());
    let text = page(&Brief { title: "T", trip: &trip, nearby: &[], places: &[], map_pages: &[] });
    assert!(!text.contains("price") && !text.contains("Tariff") && !text.contains("tariff"));
    assert!(text.contains("The panel is off for want of power 3 times") && text.contains("The panel is off</caption>"));
    trip.spending = None;
    assert!(
        !page(&Brief { title: "T", trip: &trip, nearby: &[], places: &[], map_pages: &[] }).contains("Data and energy")
    );
}
