//! Which part of a layer is shown, compared with plain loops over all of its rows.
use geo::{Contains, MultiPolygon, Point, Polygon, polygon};
use waymask::ask;
use waymask::ask::portion::{Portion, PortionOf, PortionQuestion};
use waymask::base::geodesy::Position;
use waymask::layer::{Bounds, Layer};

use crate::layer::rows;

const ROWS: i64 = 900;

fn asked(layer: &Layer, part: PortionOf) -> waymask::Result<Portion> {
    ask::portion(layer, &PortionQuestion { part, most_segments: 60_000, most_read: 100_000 })
}

/// Ids of segments and stops for which a place holds: of a segment any of its vertices.
pub fn by_loops(layer: &Layer, holds: impl Fn(Position) -> bool) -> (Vec<i64>, Vec<i64>) {
    let touches = |line: &[Position]| line.iter().any(|at| holds(*at));
    let segments = layer.segments().unwrap();
    let stops = layer.stops().unwrap();
    (
        segments.iter().filter(|s| touches(&s.line)).map(|s| s.segment_id).collect(),
        stops.iter().filter(|s| holds(s.at)).map(|s| s.stop_id).collect(),
    )
}

pub fn ids(portion: &Portion) -> (Vec<i64>, Vec<i64>) {
    (portion.segments.iter().map(|s| s.segment_id).collect(), portion.stops.iter().map(|s| s.stop_id).collect())
}

#[test]
fn a_box_a_polygon_and_the_whole_are_what_plain_loops_find() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, ROWS).unwrap();
    let layer = Layer::open(&path).unwrap();
    let whole = asked(&layer, PortionOf::Whole).unwrap();
    assert_eq!(ids(&whole), by_loops(&layer, |_| true));
    let bounds = Bounds::from_deg(1.6, 42.499, 1.9, 42.502);
    let found = asked(&layer, PortionOf::Box(bounds)).unwrap();
    assert_eq!(ids(&found), by_loops(&layer, |at| Bounds { min: at, max: at }.meets(bounds)));
    assert!(found.segments.len() > 50 && found.segments.len() < 500, "{}", found.segments.len());
    let wedge: Polygon<f64> = polygon![(x: 1.6, y: 42.49), (x: 2.2, y: 42.49), (x: 1.6, y: 42.51)];
    let both = MultiPolygon(vec![wedge.clone(), polygon![(x: 2.5, y: 42.4), (x: 2.6, y: 42.4), (x: 2.55, y: 42.6)]]);
    let found = asked(&layer, PortionOf::Polygons(both.clone())).unwrap();
    assert_eq!(ids(&found), by_loops(&layer, |at| both.contains(&Point::new(at.lon_deg(), at.lat_deg()))));
    assert!(found.segments.len() > 50, "{}", found.segments.len());
    // Water and names are those of the roads shown.
    let seen = Bounds::around(&found.segments.iter().flat_map(|s| s.line.clone()).collect::<Vec<_>>()).unwrap();
    assert_eq!(found.places, layer.named_places_in(seen).unwrap());
    assert!(found.ground.iter().all(|w| Bounds::around(&w.rings[0]).unwrap().meets(seen)));
}

#[test]
fn nothing_to_show_and_too_much_are_errors_with_a_way_out() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 40).unwrap();
    let layer = Layer::open(&path).unwrap();
    let elsewhere = asked(&layer, PortionOf::Box(Bounds::from_deg(10.0, 10.0, 11.0, 11.0))).unwrap_err().to_string();
    assert!(
        elsewhere.contains("has no roads in the part asked for") && elsewhere.contains("waymask info"),
        "{elsewhere}"
    );
    for part in [PortionOf::Whole, PortionOf::Box(Bounds::from_deg(-180.0, -90.0, 180.0, 90.0))] {
        let question = PortionQuestion { part, most_segments: 10, most_read: 39 };
        let many = ask::portion(&layer, &question).unwrap_err().to_string();
        assert!(many.contains("40 segments") && many.contains("--area") && many.contains("--along"), "{many}");
    }
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 0).unwrap();
    let empty = asked(&Layer::open(&path).unwrap(), PortionOf::Whole).unwrap_err().to_string();
    assert!(empty.contains("holds no roads"), "{empty}");
}

#[test]
fn a_layer_without_ground_or_names_is_shown_all_the_same() {
    let (_folder, path) = rows::folder();
    rows::write(&path, false, 20).unwrap();
    let connection = rusqlite::Connection::open(&path).unwrap();
    let off = rusqlite::config::DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER;
    connection.set_db_config(off, false).unwrap();
    for table in ["places", "ground", "ground_lines"] {
        connection.execute_batch(&format!("DELETE FROM {table}; DELETE FROM rtree_{table}_geom")).unwrap();
    }
    drop(connection);
    let found = asked(&Layer::open(&path).unwrap(), PortionOf::Whole).unwrap();
    assert_eq!((found.segments.len(), found.places.len(), found.ground.len()), (20, 0, 0));
}
