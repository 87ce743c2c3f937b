//! A trip made by hand: a road to the north-east with every rating, hostile names, a stop that the plan wants.
use jiff::tz::TimeZone;
use waymask::ask::corridor::{Above, Corridor, Gap, Piece, driven_outages};
use waymask::ask::plan::{self, DayQuestion, Halt, Kind, Meeting, Rules};
use waymask::ask::search::TownNear;
use waymask::ask::settings::Settings;
use waymask::ask::source::Source;
use waymask::ask::stops::{StopNear, near};
use waymask::ask::surroundings::NearRoad;
use waymask::ask::trip::{Trip, TripDay};
use waymask::base::geodesy::Position;
use waymask::base::progress::Silent;
use waymask::base::words::{
    Cause, Evidence, HowTold, MapObject, Overhang, OverheadKind, PlaceKind, Rating, RoadClass, Roofed, RoofedBy,
    StandsOn, StopAccess, StopKind,
};
use waymask::layer::model::{PanelPlace, PlaceRow, StopRow};
use waymask::report::brief::{Brief, page};

/// 2026-06-15T08:00:00Z.
pub const EIGHT: i64 = 1_781_510_400;
pub const MEETING: &str = "Stand-up <script>alert(\"1\")</script> & 'co'";
pub const CALL: &str = "Weekly]]>call</title></svg><b>";
pub const PLACE: &str = "<img src=x onerror=alert(1)>";
pub const ROAD: &str = "Rue \"d'Ormeau\" </desc><style>*{display:none}</style> (D 7)";
pub const TITLE: &str = "Trip </title><script src=//x>";
/// Longer than a page is wide, without a place to break it.
pub const LONG: &str =
    "Donaudampfschifffahrtselektrizitaetenhauptbetriebswerkbauunterbeamtengesellschaftsversammlungsraumverwaltung";

/// Pieces of a kilometre and a minute to the north-east.
pub fn pieces(count: usize) -> Vec<Piece> {
    const CAUSES: [Cause; 5] = [Cause::None, Cause::Canopy, Cause::Deck, Cause::Building, Cause::Cover];
    let at = |i: usize, k: f64| {
        let km = i as f64 + k;
        Position::from_deg(1.5 + km * 0.008 + 0.002 * (km * 3.0).sin(), 42.5 + km * 0.006)
    };
    let piece = |i: usize| {
        let (rating, code) = (Rating::ALL[i / 3 % 5], i / 3 % 5);
        Piece {
            segment_id: i as i64 + 1,
            forward: true,
            way_id: 7,
            part: i as u32,
            from_m: 0.0,
            at_km: i as f64,
            lon_deg: at(i, 0.0).lon_deg(),
            lat_deg: at(i, 0.0).lat_deg(),
            road: if i.is_multiple_of(2) { ROAD.into() } else { LONG.into() },
            length_m: 1_000.0,
            time_s: 60.0,
            outage_s: code as f64 * 4.0,
            outage_best_s: code as f64 * 2.0,
            outage_worst_s: (!i.is_multiple_of(7)).then_some(code as f64 * 6.0),
            outage_p95_s: [0.0, 1.5, 4.0, 20.0, 75.0][code],
            beyond: [0.3, 0.0, 0.0],
            running: [0.0; 3],
            rating,
            rating_best: Rating::Steady,
            rating_worst: (!i.is_multiple_of(7)).then_some(Rating::Dark),
            cause: CAUSES[code],
            open_share: 1.0 - 0.2 * code as f64,
            evidence: if i.is_multiple_of(7) { Evidence::Unknown } else { Evidence::Data },
            overhang: if i == 20 { Overhang::Crowns } else { Overhang::None },
            maxheight_m: (i == 10).then_some(2.1),
            drive: 0,
            enter_s: None,
            line: (0..=7).map(|k| at(i, f64::from(k) / 7.0)).collect(),
        }
    };
    (0..count).map(piece).collect()
}

fn stop_row(stop_id: i64, on: &Piece, name: &str, access: StopAccess) -> StopRow {
    let place = |distance_m, bearing_deg, open_share| PanelPlace { distance_m, bearing_deg, open_share };
    StopRow {
        stop_id,
        osm_type: MapObject::Node,
        kind: if stop_id == 2 { StopKind::Fuel } else { StopKind::Parking },
        name: Some(name.into()),
        access,
        roofed: if stop_id == 2 { Roofed::Unknown } else { Roofed::No },
        roofed_from: RoofedBy::None,
        stands_on: StandsOn::Ground,
        main_cause: Cause::Canopy,
        road: ROAD.into(),
        open_share: 0.5,
        places: vec![place(0.0, 0.0, 0.5), place(12.0, 90.0, 0.97)],
        at: on.line[3],
        ..StopRow::default()
    }
}

fn halt(stop: &StopNear) -> Halt {
    Halt {
        stop_id: stop.stop_id,
        name: stop.name.clone().unwrap(),
        kind: stop.kind,
        town: Some(TownNear {
            name: "<i>Anselm</i>".to_owned(),
            kind: PlaceKind::Town,
            distance_m: 4_000.0,
            bearing_deg: 0.0,
        }),
        lon_deg: stop.lon_deg,
        lat_deg: stop.lat_deg,
        at_km: stop.at_km.unwrap(),
        off_road_m: stop.off_road_m,
        roofed: stop.roofed != Roofed::No,
        roof: stop.roofed,
        overnight: false,
        meetings: true,
        open_share: stop.open_share,
        best_m: stop.best_distance_m,
        best_bearing_deg: stop.best_bearing_deg,
        best_open_share: stop.best_open_share,
    }
}

fn meeting(name: &str, kind: Kind, start_min: i64, minutes: i64) -> Meeting {
    let start_s = EIGHT + 60 * start_min;
    Meeting {
        uid: name.into(),
        name: name.into(),
        kind,
        start_s,
        end_s: start_s + 60 * minutes,
        tentative: kind == Kind::Casual,
        of: Default::default(),
    }
}

/// A day of some kilometres, as many minutes long.
pub fn day(km: usize) -> TripDay {
    let pieces = pieces(km);
    let rows = [
        stop_row(1, &pieces[18], PLACE, StopAccess::Open),
        stop_row(2, &pieces[25], LONG, StopAccess::Customers),
        stop_row(3, &pieces[30], "Behind the gate", StopAccess::Private),
    ];
    let stops = near(&pieces, &rows, 500.0, 30.0);
    let above = Above {
        at_km: 5.0,
        lon_deg: 1.5,
        lat_deg: 42.5,
        kind: OverheadKind::RailDeck,
        name: Some(PLACE.into()),
        half_shadow_s: 1.0,
        maxheight_m: Some(2.0),
    };
    let gap = |track_km, length_m, bridged| Gap {
        track_km,
        lon_deg: 1.5,
        lat_deg: 42.5,
        to_lon_deg: 1.501,
        to_lat_deg: 42.501,
        length_m,
        bridged,
    };
    let outages = driven_outages(&pieces, &Default::default(), 0.3);
    let corridor = Corridor {
        outages,
        pieces,
        overheads: vec![above],
        unmatched: vec![gap(3.0, 120.0, true)],
        tolerated_s: [2.0, 5.0, 30.0],
        ..Corridor::default()
    };
    let mut rules = Rules::default();
    (rules.departure.earlier_min, rules.departure.later_min) = (0, 0);
    let found = plan::plan_day(&DayQuestion {
        corridor: &corridor,
        simulator: None,
        night: None,
        ends_at: None,
        progress: &Silent,
        halts: stops.iter().filter(|s| s.may_stop).map(halt).collect(),
        meetings: vec![meeting(MEETING, Kind::MustNotDrop, 25, 25), meeting(CALL, Kind::Casual, 75, 20)],
        rules: &rules,
        edges: &Default::default(),
        usable: 8.5,
        depart_s: EIGHT,
        zone: TimeZone::UTC,
        shown: HowTold::default(),
    });
    TripDay { plan: found.unwrap(), corridor, stops, night: None, meetings_left_out: Vec::new() }
}

pub fn trip(days: Vec<TripDay>) -> Trip {
    let source = Source {
        credits: vec!["Made up & drawn by <us>".into()],
        data_of: vec!["2026-01-01T00:00:00Z".into()],
        assumed: vec!["untagged trees are 15 m high".into()],
        ..Source::default()
    };
    Trip { zone: "UTC".into(), days, settings: Settings::default(), spending: None, source, shown: HowTold::default() }
}

/// Roads beside the first pieces, one of each class and rating.
pub fn nearby() -> Vec<NearRoad> {
    let road = |i: i32| {
        let at = |k: f64| Position::from_deg(1.5 + 0.01 * f64::from(i), 42.5 + 0.1 * k);
        NearRoad {
            class: [RoadClass::Primary, RoadClass::Residential][i as usize % 2],
            rating: Rating::ALL[i as usize % 5],
            line: vec![at(0.0), at(1.0)],
        }
    };
    (0..10).map(road).collect()
}

/// A town beside the road, with a name that wants to leave its place.
pub const TOWN: &str = "T</text><script>";

fn town() -> PlaceRow {
    let at = Position::from_deg(1.7, 42.52);
    PlaceRow { place_id: 1, name: TOWN.into(), kind: PlaceKind::Town, rank: 3, at, ..PlaceRow::default() }
}

/// The page of one hostile day.
pub fn hostile_page() -> String {
    let trip = trip(vec![day(90)]);
    page(&Brief { title: TITLE, trip: &trip, nearby: &[nearby()], places: &[vec![town()]], map_pages: &[] })
}
