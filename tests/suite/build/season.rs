//! Summer and winter of the same roads.
use waymask::layer::model::SegmentRow;
use waymask::profile::{Profile, Season};

use crate::build::kit::{Place, Sketch};

/// Roads through woods of one kind each, far enough apart not to see each other's trees.
fn roads(season: Season) -> (Place, Vec<i64>) {
    let mut sketch = Sketch::at(46.0);
    let kinds: [&[(&str, &str)]; 6] = [
        &[("leaf_type", "broadleaved")],
        &[("leaf_type", "needleleaved"), ("leaf_cycle", "deciduous")],
        &[("leaf_type", "mixed")],
        &[("leaf_type", "needleleaved")],
        &[("leaf_type", "broadleaved"), ("leaf_cycle", "evergreen")],
        &[("leaf_type", "leafless")],
    ];
    // One direction: of two, the worse gives a row its figures, and which that is may be luck.
    let road = [("highway", "tertiary"), ("maxspeed", "70"), ("oneway", "yes")];
    let mut ways = Vec::new();
    for (i, kind) in kinds.into_iter().enumerate() {
        let y_m = 1000.0 * i as f64;
        ways.push(sketch.line(&[(-400.0, y_m), (400.0, y_m)], &road).0);
        sketch.area([-700.0, y_m - 200.0, 700.0, y_m + 200.0], &[&[("natural", "wood")], kind].concat());
    }
    let mut profile = Profile::default();
    profile.canopy.season = season;
    profile.link.drives = 32;
    (sketch.build(profile), ways)
}

/// Packed masks of a way's rows in both directions.
fn masks(place: &Place, rows: &[&SegmentRow]) -> Vec<Vec<u8>> {
    let of = |id, forward| place.layer.masks(id, forward).unwrap().map(|m| m.packed);
    rows.iter().flat_map(|r| [of(r.segment_id, true), of(r.segment_id, false)]).flatten().collect()
}

#[test]
fn a_season_moves_deciduous_stretches_and_leaves_spruce_alone() {
    let ((summer, ways), (winter, _)) = (roads(Season::LeafOn), roads(Season::LeafOff));
    for (name, way) in ["broad leaves", "larch", "mixed"].iter().zip(&ways) {
        let (on, off) = (summer.of_way(*way), winter.of_way(*way));
        assert_ne!(masks(&summer, &on), masks(&winter, &off), "{name}");
        for (on, off) in on.iter().zip(&off) {
            println!(
                "{name}: canopy hides {} in leaf, {} bare; outage share {} and {}; p95 {} s and {} s; {} and {} outages per 10 km",
                on.blocked_canopy,
                off.blocked_canopy,
                on.outage_share,
                off.outage_share,
                on.outage_p95_s,
                off.outage_p95_s,
                on.outages_per_10km,
                off.outages_per_10km
            );
            assert!(on.blocked_canopy > 0.1 && off.blocked_canopy < on.blocked_canopy - 0.01, "{name}");
            // Bare woods open the sky. Their outages last as long as a search, as in summer, or are luck of 32 drives.
            assert!(off.open_share > on.open_share && off.outage_p95_s <= on.outage_p95_s + 3.0, "{name}");
        }
    }
    for (name, way) in ["spruce", "evergreen broad leaves", "dead trees"].iter().zip(&ways[3..]) {
        let (on, off) = (summer.of_way(*way), winter.of_way(*way));
        let kept = masks(&summer, &on);
        assert!(!kept.is_empty() && kept == masks(&winter, &off), "{name}");
        assert_eq!(on, off, "{name}");
        assert!(on.iter().all(|r| r.blocked_canopy > 0.1), "{name}");
    }
}
