//! The guide: pages for people, shown here and by `waymask guide TOPIC`. Text only; uses no other room.
//!
//! Pages name each other by topic, as the command takes it.

/// A page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Page {
    /// What it is asked for by.
    pub topic: &'static str,
    /// What it is about.
    pub title: &'static str,
    /// Markdown.
    pub text: &'static str,
}

/// Declares a module that shows each page, and the list of them; the topic is the file's name without its ending.
macro_rules! pages {
    ($($module:ident $topic:literal $file:literal $title:literal;)*) => {
        $(
            #[doc = include_str!($file)]
            pub mod $module {}
        )*
        /// All pages here, in the order they are listed.
        pub(crate) const PAGES: &[crate::guide::Page] =
            &[$(crate::guide::Page { topic: $topic, title: $title, text: include_str!($file) }),*];
    };
}

pages! {
    data "data" "data.md" "what to feed it: open sources of maps, elevation, trees and buildings, and their traps";
    build "build" "build.md" "building a layer: what is read, how long it takes, the five words";
    districts "districts" "districts.md" "large regions: stopped and updated builds, parts of an extract, shards";
    bigger "bigger" "bigger.md" "bigger than one machine: servers, clusters, failures, cost";
    layer "layer" "layer.md" "how it looks in a GIS viewer; tables and columns: name, unit, meaning";
    sql "sql" "sql.md" "questions to a layer in SQL: worst stretches, near a line, by commune";
    routing_tools "routing-tools" "routing-tools.md" "pgRouting, networkx and igraph with the costs of a layer";
    formats "formats" "formats.md" "FlatGeobuf, GeoParquet, GeoJSON, CSV, tiles";
    profile "profile" "profile.md" "every assumption of a build; presets";
    map "map" "map.md" "one page to look at: a map in any browser, with or without a network";
    names "names" "names.md" "what may be typed where a place is asked for; towns in answers; time zones";
    corridor "corridor" "corridor.md" "the road you will drive";
    neighbours "neighbours" "neighbours.md" "a trip over two regions: several layers in one question";
    route "route" "route.md" "ways between places, edges for routing engines";
    plan "plan" "plan.md" "the day: when to leave, where to hold meetings; the brief";
    mounts "mounts" "mounts.md" "where on the vehicle the panel does best on a drive";
    trip "trip" "trip.md" "the trip file: rules of the day, people";
    stops "stops" "stops.md" "where to stop, and where to stand the panel";
    budget "budget" "budget.md" "data and energy of a trip";
    sky "sky" "sky.md" "the sky over one place";
    sensitivity "sensitivity" "sensitivity.md" "which assumption matters";
    diff "diff" "diff.md" "what changed between two builds";
    accuracy "accuracy" "accuracy.md" "how far to trust it: what was compared with what, what is not modelled";
    safety "safety" "safety.md" "before you rely on it: driving, roofs, stands, wiring";
    mapped "mapped" "../map/neighbourhood/rule.md" "what the silence of the map means, heights of buildings";
    roadside "roadside" "../physics/sky/roadside.md" "crowns compared with measured roads";
    promises "promises" "promises.md" "what happens when something goes wrong, what is checked before each release, what is not";
    outputs "outputs" "outputs.md" "files that are written, interrupts, exit codes";
    damage "damage" "damage.md" "damaged files: which formats carry checksums, what is noticed and what is not";
    glossary "glossary" "glossary.md" "one word, one meaning";
    changelog "changelog" "changelog.md" "what changed, by version of the layer";
}

/// Choices that need a reason.
#[doc = include_str!("decisions.md")]
pub mod decisions {
    /// The list of these pages.
    pub const INDEX: crate::guide::Page = crate::guide::Page {
        topic: "decisions",
        title: "choices that need a reason, one page each",
        text: include_str!("decisions.md"),
    };
    pages! {
        libraries "decisions/libraries" "decisions/libraries.md" "what each library is for";
        districts "decisions/districts" "decisions/districts.md" "squares of the globe, parts, what crosses their lines";
        overheads "decisions/overheads" "decisions/overheads.md" "decks, tunnels and roofs outside the masks";
        relief "decisions/relief" "decisions/relief.md" "elevation, surface models, cuttings";
        places "decisions/places" "decisions/places.md" "countries, the side of the traffic, legal speeds, errors of the map";
        trees "decisions/trees" "decisions/trees.md" "how much trees block, map against raster";
        rating "decisions/rating" "decisions/rating.md" "from simulated drives to one word";
        range "decisions/range" "decisions/range.md" "best, likely and worst";
        drives "decisions/drives" "decisions/drives.md" "256 simulated drives, searches that are finished";
        satellites "decisions/satellites" "decisions/satellites.md" "shells, phases, epochs";
        rerate "decisions/rerate" "decisions/rerate.md" "rating a layer again";
        profile "decisions/profile" "decisions/profile.md" "every assumption has a key";
        matching "decisions/matching" "decisions/matching.md" "tracks to lanes";
        corridor "decisions/corridor" "decisions/corridor.md" "what a corridor costs";
        foreign_layers "decisions/foreign-layers" "decisions/foreign-layers.md" "layers from anywhere";
        looks "decisions/looks" "decisions/looks.md" "how a layer looks in a GIS viewer";
        map_page "decisions/map-page" "decisions/map-page.md" "a map page that loads nothing";
        routes "decisions/routes" "decisions/routes.md" "ways between places";
        plan "decisions/plan" "decisions/plan.md" "a day as a path over places";
        calendars "decisions/calendars" "decisions/calendars.md" "calendar files and recurrence";
        stops "decisions/stops" "decisions/stops.md" "places to stop and what is kept of them";
        foreign "decisions/foreign" "decisions/foreign.md" "broken files, hostile names, sizes";
        brief "decisions/brief" "decisions/brief.md" "the strip and the page";
    }
}

/// Every page, in the order they are listed.
pub fn pages() -> impl Iterator<Item = &'static Page> {
    PAGES.iter().chain([&decisions::INDEX]).chain(decisions::PAGES)
}

/// The page of a topic.
pub fn find(topic: &str) -> Option<&'static Page> {
    pages().find(|page| page.topic == topic)
}

#[cfg(test)]
mod tests;
