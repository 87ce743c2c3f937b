//! The demo island: that it shows what it was made to show, facts of the trade (common practice, no source), and that words
//! fit their figures on every row. It is invented, and evidence for nothing but the demo.
use waymask::base::words::{Cause, OverheadKind, Rating};
use waymask::layer::Bounds;
use waymask::layer::model::{OutageRow, OverheadRow, SegmentRow};
use waymask::profile::Profile;

use crate::build::kit::{Place, Sketch, sample};

fn island() -> Place {
    Sketch::at(47.0).build_with(Profile::default(), |o, _| {
        o.extract = sample("varrow.osm.pbf");
        o.elevation = vec![sample("varrow-elevation.tif")];
    })
}

fn named<'a>(place: &'a Place, name: &str) -> Vec<&'a SegmentRow> {
    let rows: Vec<_> = place.rows.iter().filter(|r| r.name.as_deref() == Some(name)).collect();
    assert!(!rows.is_empty(), "no road named {name}");
    rows
}

fn km(rows: &[&SegmentRow], keep: impl Fn(&SegmentRow) -> bool) -> f64 {
    rows.iter().filter(|r| keep(r)).map(|r| r.length_m / 1000.0).sum()
}

#[test]
fn the_island_drives_as_the_trade_knows_it() {
    let place = island();
    let overheads: Vec<OverheadRow> = place.layer.overheads_in(Bounds::from_deg(-180.0, -90.0, 180.0, 90.0)).unwrap();
    for row in &place.rows {
        let blocked = row.open_share < 1.0 - 1e-6;
        assert!(
            row.rating == Rating::Steady || !blocked || row.main_cause != Cause::None,
            "segment {}",
            row.segment_id
        );
    }
    highway(&place, &overheads);
    forest(&place);
    covered(&place, &overheads);
    words(&place);
    outages(&place);
}

/// Words fit their figures: the seconds are within the word's edge, and one of the two figures is beyond the better word's.
fn words(place: &Place) {
    let edges = &Profile::default().rating;
    let seconds = [edges.steady_outage_s, edges.blips_outage_s, edges.gaps_outage_s, edges.drops_outage_s];
    let shares = [edges.steady_outage_share, edges.blips_outage_share, edges.dark_outage_share];
    for row in &place.rows {
        let (at, step) = (row.segment_id, usize::from(row.rating.code()));
        if row.rating == Rating::Dark {
            assert!(row.outage_p95_s > seconds[3] || row.outage_share > shares[2], "segment {at}");
            continue;
        }
        assert!(row.outage_p95_s <= seconds[step], "segment {at}: {} with {} s", row.rating, row.outage_p95_s);
        let by_share = || shares.get(step - 1).is_some_and(|edge| row.outage_share > *edge);
        assert!(step == 0 || row.outage_p95_s > seconds[step - 1] || by_share(), "segment {at}: {}", row.rating);
    }
}

/// One outage is one row: every direction of a segment whose outages count is in just one of them, and a tunnel in one each way.
fn outages(place: &Place) {
    let (rows, lanes) = (place.layer.outages().unwrap(), place.layer.lanes().unwrap());
    let steady_s = Profile::default().rating.steady_outage_s;
    let mut told_s = 0.0;
    for lane in &lanes {
        let segment = place.rows.iter().find(|r| r.segment_id == lane.segment_id).unwrap();
        let driven = if lane.forward { &segment.driven.forward } else { &segment.driven.backward };
        let first = |o: &OutageRow| 2 * o.segment_from - i64::from(o.forward);
        let in_rows = rows.iter().filter(|o| lane.outage_from == Some(first(o))).count();
        let p95_s = driven.as_ref().unwrap().outage_p95_s;
        // Stored to the millisecond.
        if (p95_s - steady_s).abs() > 0.001 {
            assert_eq!(in_rows, usize::from(p95_s > steady_s), "lane {}", lane.lane_id);
        }
        told_s += if in_rows > 0 { driven.as_ref().unwrap().outage_s } else { 0.0 };
    }
    let sum_s: f64 = rows.iter().map(|o| o.outage_s).sum();
    // Of an outage over the line of a district its row has what one side says, and lanes what each says.
    assert!((sum_s - told_s).abs() < 0.001 * told_s, "{sum_s} {told_s}");
    let tunnel: Vec<i64> = named(place, "Gannet Shoulder Tunnel").iter().map(|r| r.segment_id).collect();
    let through: std::collections::BTreeSet<i64> = lanes
        .iter()
        .filter(|l| tunnel.contains(&l.segment_id))
        .map(|l| {
            let row = place.layer.outage_over(l.segment_id, l.forward).unwrap().unwrap();
            assert_eq!(row.cause, Cause::Cover);
            row.outage_id
        })
        .collect();
    assert!(tunnel.len() > 4 && through.len() == 2, "{} segments in {through:?}", tunnel.len());
}

fn highway(place: &Place, overheads: &[OverheadRow]) {
    let rows = named(place, "Coast Highway");
    let steady = km(&rows, |r| r.rating == Rating::Steady);
    assert!(steady > 0.85 * km(&rows, |_| true), "{steady} km steady");
    for row in &rows {
        let decks: Vec<_> =
            overheads.iter().filter(|o| o.segment_id == row.segment_id && o.kind == OverheadKind::RoadDeck).collect();
        if decks.iter().any(|o| o.deck_width_m >= 8.0) {
            assert!((0.2..=1.1).contains(&row.outage_p95_s), "overpass: {} s", row.outage_p95_s);
        }
        if row.blocked_deck + row.blocked_cover == 0.0 {
            assert!(row.outage_p95_s <= 1.5 || row.outage_share < 0.02, "open highway: {} s", row.outage_p95_s);
        }
    }
}

fn forest(place: &Place) {
    let track = named(place, "Lanternwood Ride");
    let mean_s = track.iter().map(|r| r.longest_outage_s).sum::<f64>() / track.len() as f64;
    assert!((20.0..=90.0).contains(&mean_s), "dense forest over a track: {mean_s} s");
    let valley = named(place, "Sallow Valley Road");
    let worst_s = valley.iter().map(|r| r.outage_p95_s).fold(0.0, f64::max);
    assert!(worst_s < 30.0, "two-lane road through forest: {worst_s} s");
    let down = |rows: &[&SegmentRow]| {
        rows.iter().map(|r| r.outage_share * r.length_m).sum::<f64>() / (1000.0 * km(rows, |_| true))
    };
    let (highway, valley, track) = (down(&named(place, "Coast Highway")), down(&valley), down(&track));
    assert!(highway < valley && valley < track, "{highway} {valley} {track}");
}

fn covered(place: &Place, overheads: &[OverheadRow]) {
    for row in named(place, "Gannet Shoulder Tunnel") {
        assert!(row.outage_share > 0.98 && row.main_cause == Cause::Cover);
    }
    let large_roof =
        overheads.iter().filter(|o| o.kind == OverheadKind::Roof && o.covered_m > 20.0 && o.covered_m < 40.0);
    let segments: Vec<i64> = large_roof.map(|o| o.segment_id).collect();
    assert!(!segments.is_empty(), "no fuel-station roof");
    for row in place.rows.iter().filter(|r| segments.contains(&r.segment_id)) {
        assert!(row.outage_p50_s > 4.0, "under the fuel-station roof: {} s", row.outage_p50_s);
    }
}
