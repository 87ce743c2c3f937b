//! Facts of the trade on constructed roads (common practice, no source).
use waymask::base::words::{Cause, Rating};
use waymask::layer::model::SegmentRow;
use waymask::profile::Profile;

use crate::build::kit::{Place, Sketch};

fn longest_s(rows: &[&SegmentRow]) -> f64 {
    rows.iter().map(|r| r.outage_p95_s).fold(0.0, f64::max)
}

/// A dual carriageway through open country under three overpasses.
fn highway() -> (Place, [i64; 2], [i64; 3]) {
    let mut s = Sketch::at(46.0);
    let tags = [("highway", "motorway"), ("lanes", "2"), ("maxspeed", "110"), ("ref", "V 1")];
    let (east, _) = s.line(&[(-3000.0, -8.0), (3000.0, -8.0)], &tags);
    let (west, _) = s.line(&[(3000.0, 8.0), (-3000.0, 8.0)], &tags);
    let bridge = |x: f64, w: &'static str| (x, w);
    let decks = [bridge(-1500.0, "12"), bridge(0.0, "14"), bridge(1500.0, "20")].map(|(x, width)| {
        let tags = [("highway", "secondary"), ("bridge", "yes"), ("layer", "1"), ("width", width)];
        s.line(&[(x, -40.0), (x, 40.0)], &tags).0
    });
    (s.build(Profile::default()), [east, west], decks)
}

#[test]
fn a_wide_highway_in_open_country_outages_only_under_its_overpasses() {
    let (place, carriageways, decks) = highway();
    let overheads = place.layer.overheads_in(waymask::layer::Bounds::from_deg(-180.0, -90.0, 180.0, 90.0)).unwrap();
    for deck in decks {
        assert_eq!(overheads.iter().filter(|o| o.osm_id == deck).count(), 2, "one row per carriageway");
    }
    for way in carriageways {
        for row in place.of_way(way) {
            let under = overheads.iter().any(|o| o.segment_id == row.segment_id);
            let near = row.blocked_deck > 0.0;
            if under {
                // A quarter of a second up to one second at highway speed.
                assert!((0.25..=1.0).contains(&row.outage_p95_s), "{} s", row.outage_p95_s);
                assert!(row.rating <= Rating::Blips, "{}", row.rating);
            } else if !near {
                assert_eq!((row.outage_p95_s, row.rating), (0.0, Rating::Steady), "open highway");
            }
        }
    }
}

/// A road through woods or between rows of trees, 4 km long.
fn wooded(road_tags: &[(&str, &str)], trees: impl FnOnce(&mut Sketch)) -> (Place, i64) {
    let mut s = Sketch::at(46.0);
    let (road, _) = s.line(&[(-2000.0, 0.0), (2000.0, 0.0)], road_tags);
    trees(&mut s);
    (s.build(Profile::default()), road)
}

#[test]
fn close_trees_along_a_single_lane_road_cost_from_a_blip_to_a_few_seconds() {
    let tags = [("highway", "unclassified"), ("lanes", "1"), ("maxspeed", "50")];
    let (place, road) = wooded(&tags, |s| {
        for y in [-6.0, 6.0] {
            s.line(&[(-2000.0, y), (2000.0, y)], &[("natural", "tree_row"), ("height", "12")]);
        }
    });
    let rows = place.of_way(road);
    let typical_s = rows.iter().map(|r| r.longest_outage_s).sum::<f64>() / rows.len() as f64;
    println!("single lane between trees: typical longest {typical_s:.2} s, p95 {:.2} s", longest_s(&rows));
    assert!((0.2..=5.0).contains(&typical_s), "{typical_s} s");
    assert!(longest_s(&rows) < 12.0, "{} s", longest_s(&rows));
}

#[test]
fn dense_forest_over_a_narrow_road_costs_half_a_minute_to_a_minute() {
    let tags = [("highway", "track"), ("tracktype", "grade2"), ("maxspeed", "25")];
    let (place, road) = wooded(&tags, |s| {
        s.area([-2500.0, -400.0, 2500.0, 400.0], &[("natural", "wood"), ("leaf_type", "needleleaved")]);
    });
    let rows = place.of_way(road);
    let mean_s = rows.iter().map(|r| r.longest_outage_s).sum::<f64>() / rows.len() as f64;
    println!("dense forest: mean longest {mean_s:.1} s, p95 {:.1} s", longest_s(&rows));
    // The long ones run from half a minute to a minute, within a factor of one and a half; the mean over all drives is less: a
    // third of a minute, within a factor of two.
    assert!((30.0..=90.0).contains(&longest_s(&rows)) && (10.0..=40.0).contains(&mean_s), "{mean_s} s");
    assert!(rows.iter().all(|r| r.rating >= Rating::Drops));
}

#[test]
fn there_is_no_link_under_a_fuel_roof_or_in_a_tunnel() {
    let mut s = Sketch::at(46.0);
    let (service, _) = s.line(&[(-100.0, 0.0), (100.0, 0.0)], &[("highway", "service"), ("maxspeed", "10")]);
    s.area([-14.0, -9.0, 14.0, 9.0], &[("building", "roof"), ("layer", "1"), ("amenity", "fuel")]);
    let (a, b) = (s.node(-400.0, 500.0, &[]), s.node(400.0, 500.0, &[]));
    let (c, d) = (s.node(-900.0, 500.0, &[]), s.node(900.0, 500.0, &[]));
    let open = [("highway", "primary"), ("ref", "V 2")];
    s.way(&[c, a], &open);
    let tunnel = s.way(&[a, b], &[("highway", "primary"), ("ref", "V 2"), ("tunnel", "yes"), ("layer", "-1")]);
    s.way(&[b, d], &open);
    let place = s.build(Profile::default());
    // 28 m of roof at 10 km/h, less what is seen under its edges.
    let under_roof = place.of_way(service)[0];
    assert!((7.0..=12.0).contains(&under_roof.outage_p50_s), "{} s", under_roof.outage_p50_s);
    for row in place.of_way(tunnel) {
        assert!(row.outage_share > 0.98 && row.open_share < 0.02, "{} {}", row.outage_share, row.open_share);
        assert_eq!(row.main_cause, Cause::Cover);
    }
}

#[test]
fn a_deck_over_the_backward_lane_alone_has_its_row() {
    // The footbridge comes down on the middle of the road: eastward traffic drives south of it, westward below it.
    let mut sketch = Sketch::at(45.0);
    let (road, _) = sketch.line(&[(-100.0, 0.0), (100.0, 0.0)], &[("highway", "secondary"), ("width", "7")]);
    let foot = [("highway", "footway"), ("bridge", "yes"), ("layer", "1")];
    let (half, _) = sketch.line(&[(0.0, 30.0), (0.0, -0.5)], &foot);
    let (whole, _) = sketch.line(&[(50.0, 30.0), (50.0, -30.0)], &foot);
    let place = sketch.build(Profile::default());
    assert!(place.of_way(road).iter().any(|r| r.blocked_deck > 0.0));
    let rows = place.layer.overheads_in(waymask::layer::Bounds::from_deg(-180.0, -90.0, 180.0, 90.0)).unwrap();
    for deck in [half, whole] {
        assert_eq!(rows.iter().filter(|o| o.osm_id == deck).count(), 1, "one row for way {deck}");
    }
}

#[test]
fn behind_the_windscreen_only_what_stands_ahead_counts() {
    // A one-way road to the north, a wall of 40 m across it ahead of its end or behind its start.
    let open_share = |profile: &str, wall_y: f64| {
        let mut s = Sketch::at(46.0);
        let (road, _) = s.line(&[(0.0, 0.0), (0.0, 30.0)], &[("highway", "residential"), ("oneway", "yes")]);
        s.line(&[(-300.0, wall_y), (300.0, wall_y)], &[("barrier", "wall"), ("height", "40")]);
        let place = s.build(waymask::profile::presets::find(profile).unwrap().profile().unwrap());
        let row = place.of_way(road)[0];
        // What the cabin hides does not count as an obstruction of the road: shares of the rest still sum to one.
        assert!((row.open_share + row.blocked_building - 1.0).abs() < 1e-3, "{row:?}");
        row.open_share
    };
    let (ahead, behind) = (55.0, -25.0);
    assert!(open_share("windscreen", behind) > 0.999);
    assert!(open_share("windscreen", ahead) < open_share("roof", ahead) - 0.15);
    assert!(open_share("roof", behind) < 0.95);
}
