//! Best, likely and worst: what is said of roads beside which something is assumed.
use waymask::base::words::{Case, Evidence, Rating};
use waymask::layer::model::SegmentRow;
use waymask::profile::Profile;

use crate::build::kit::{Place, Sketch, write_raster};

fn quick() -> Profile {
    let mut profile = Profile::default();
    profile.link.drives = 16;
    // One of each on the map says that all are.
    (profile.surroundings.mapped_trees, profile.surroundings.mapped_buildings) = (1.0, 1.0);
    profile
}

/// A build over level ground: without elevation terrain is unknown everywhere, and with it the worst.
fn on_level_ground(sketch: &Sketch, profile: Profile) -> Place {
    sketch.build_with(profile, |options, folder| {
        let path = folder.join("ground.tif");
        write_raster(&path, &sketch.plane, 9_000.0, 30.0, |_| 100.0);
        options.elevation = vec![path];
    })
}

/// A tree and a shed of known height out of sight: somebody has mapped trees and buildings here.
fn mapped_at(s: &mut Sketch, x_m: f64) {
    s.node(x_m + 350.0, 0.0, &[("natural", "tree"), ("height", "6")]);
    s.area([x_m + 350.0, 50.0, x_m + 355.0, 55.0], &[("building", "shed"), ("height", "3")]);
}

/// Lanes between trees, houses and walls, all without a height; a cutting without a depth; and open land.
fn town() -> Sketch {
    let mut s = Sketch::at(46.0);
    [0.0, 2000.0, 4000.0, 6000.0].iter().for_each(|x_m| mapped_at(&mut s, *x_m));
    s.line(&[(0.0, -400.0), (0.0, 400.0)], &[("highway", "unclassified"), ("name", "Wood Lane")]);
    s.area([-300.0, -400.0, 300.0, 0.0], &[("natural", "wood"), ("leaf_type", "needleleaved")]);
    s.line(&[(2000.0, -400.0), (2000.0, 400.0)], &[("highway", "residential"), ("name", "House Street")]);
    for n in 0..40 {
        let y = -400.0 + 20.0 * f64::from(n);
        for west in [1985.0, 2006.0] {
            s.area([west, y, west + 9.0, y + 18.0], &[("building", if n % 2 == 0 { "house" } else { "yes" })]);
        }
    }
    s.line(&[(4000.0, -400.0), (4000.0, 400.0)], &[("highway", "tertiary"), ("cutting", "yes"), ("name", "Cut")]);
    s.line(&[(4012.0, -400.0), (4012.0, 400.0)], &[("barrier", "retaining_wall")]);
    s.line(&[(6000.0, -400.0), (6000.0, 400.0)], &[("highway", "service"), ("tree_lined", "both"), ("name", "Avenue")]);
    s
}

fn named<'p>(place: &'p Place, name: &'p str) -> impl Iterator<Item = &'p SegmentRow> {
    place.rows.iter().filter(move |r| r.name.as_deref() == Some(name))
}

/// What the best and the worst say must be what a build says whose profile states those ends: the same roads, satellites and
/// draws, by another way through the program.
#[test]
fn best_and_worst_are_what_builds_say_whose_profiles_state_the_ends() {
    let stated = on_level_ground(&town(), quick());
    let [best, worst] = [Case::Best, Case::Worst].map(|case| on_level_ground(&town(), quick().at(case).unwrap()));
    let (mut spread, mut known) = (0, 0);
    for (i, row) in stated.rows.iter().enumerate() {
        let three = [&best.rows[i], row, &worst.rows[i]];
        assert!(three.iter().all(|r| (r.way_id, r.part) == (row.way_id, row.part)));
        let ratings = three.map(|r| r.rating);
        let shares = three.map(|r| r.outage_share);
        assert_eq!(row.rating_best, *ratings.iter().min().unwrap(), "{:?}", row.name);
        assert_eq!(row.outage_share_best, shares.into_iter().fold(1.0, f64::min), "{:?}", row.name);
        if row.evidence != Evidence::Unknown {
            known += 1;
            assert_eq!(row.rating_worst, ratings.into_iter().max(), "{:?}", row.name);
            assert_eq!(row.outage_share_worst, Some(shares.into_iter().fold(0.0, f64::max)), "{:?}", row.name);
        }
        spread += usize::from(shares[2] > shares[0]);
        for (forward, [low, likely, high]) in
            [(true, three.map(|r| r.driven.forward.unwrap())), (false, three.map(|r| r.driven.backward.unwrap()))]
        {
            let driven = if forward { row.driven.forward } else { row.driven.backward }.unwrap();
            assert_eq!(driven.rating_best, low.rating.min(likely.rating).min(high.rating));
            let share = |d: &waymask::layer::model::Driven| d.outage_s / d.time_s;
            assert!((driven.outage_share_best - share(&low).min(share(&likely)).min(share(&high))).abs() < 2e-4);
        }
    }
    let all = stated.rows.len();
    assert!(spread * 3 > all && known * 3 > all, "{spread} of {all} segments have a range, {known} a worst");
}

#[test]
fn the_order_holds_and_evidence_is_data_only_where_the_three_agree() {
    let place = on_level_ground(&town(), quick());
    for row in &place.rows {
        assert!(row.rating_best <= row.rating && row.outage_share_best <= row.outage_share);
        match (row.rating_worst, row.outage_share_worst) {
            (Some(worst), Some(share)) => assert!(worst >= row.rating && share >= row.outage_share),
            (None, None) => assert_eq!(row.evidence, Evidence::Unknown),
            other => panic!("{other:?}"),
        }
        let agree = row.rating_worst == Some(row.rating_best) && row.outage_share_worst == Some(row.outage_share_best);
        assert!(row.evidence != Evidence::Data || agree, "{:?}", row.name);
    }
    let wood = || named(&place, "Wood Lane");
    assert!(wood().any(|r| r.rating_best < r.rating || r.rating_worst > Some(r.rating)));
    assert!(wood().any(|r| r.evidence == Evidence::Data), "its northern end is in the open");
    // Banks as deep and steep as they may be stand high enough to be seen, those as stated do not.
    assert!(named(&place, "Cut").any(|r| r.outage_share == 0.0 && r.outage_share_worst > Some(0.0)));
}

/// Heights and widths that tags give leave nothing to assume: one rating, no masks of their own for the ends.
#[test]
fn where_nothing_is_assumed_the_three_are_one_and_cost_nothing() {
    let mut s = Sketch::at(46.0);
    mapped_at(&mut s, 0.0);
    s.line(&[(0.0, -400.0), (0.0, 400.0)], &[("highway", "residential"), ("name", "Told")]);
    for n in 0..60 {
        let y = -500.0 + 20.0 * f64::from(n);
        s.area([6.0, y, 15.0, y + 18.0], &[("building", "yes"), ("height", "12")]);
    }
    let place = on_level_ground(&s, quick());
    let told = || named(&place, "Told");
    assert!(told().all(|r| r.rating_best == r.rating && r.outage_share_best == r.outage_share));
    assert!(told().all(|r| r.blocked_building > 0.05));
    let masks = |name: &str| place.layer.counts().unwrap().into_iter().find(|(table, _)| *table == name).unwrap().1;
    assert_eq!((masks("masks"), masks("end_masks")), (2 * place.rows.len() as u64, 0));
}

#[test]
fn where_a_cause_is_unknown_so_is_the_worst_and_the_summary_says_how_far() {
    let mut s = Sketch::at(46.0);
    s.line(&[(0.0, -400.0), (0.0, 400.0)], &[("highway", "residential")]);
    let mut profile = Profile::default();
    profile.link.drives = 16;
    let place = on_level_ground(&s, profile);
    assert!(place.rows.iter().all(|r| r.evidence == Evidence::Unknown && r.rating_best == Rating::Steady));
    assert!(place.rows.iter().all(|r| r.rating_worst.is_none() && r.outage_share_worst.is_none()));
    assert!(place.rows.iter().all(|r| r.driven.forward.unwrap().rating_worst.is_none()));
    let record = &place.built.record;
    assert!((record.km_by_rating_worst["not known"] - 0.8).abs() < 0.001, "{:?}", record.km_by_rating_worst);
    assert!((record.km_by_rating_best["steady"] - 0.8).abs() < 0.001);
    let mut out = waymask::base::plain::PlainLines::new();
    waymask::report::record_lines(&mut out, record);
    let said = out.text();
    assert!(said.contains("for 0.8 km the worst is not known"), "{said}");
}

/// A street of houses on both sides some metres from its middle; with what else their tags say.
fn street(wall_m: f64, tags: &[(&str, &str)]) -> Sketch {
    let mut s = Sketch::at(46.0);
    mapped_at(&mut s, 0.0);
    s.line(&[(0.0, -400.0), (0.0, 400.0)], &[("highway", "residential"), ("oneway", "yes"), ("name", "Street")]);
    for n in 0..40 {
        let y = -400.0 + 20.0 * f64::from(n);
        for west in [-wall_m - 9.0, wall_m] {
            s.area([west, y, west + 9.0, y + 18.0], &[&[("building", "house")], tags].concat());
        }
    }
    s
}

fn ends(sketch: &Sketch) -> (f64, f64) {
    let place = on_level_ground(sketch, quick());
    let rows: Vec<&SegmentRow> = named(&place, "Street").collect();
    let mean = |of: &dyn Fn(&SegmentRow) -> f64| rows.iter().map(|r| of(r)).sum::<f64>() / rows.len() as f64;
    (mean(&|r| r.outage_share_best), mean(&|r| r.outage_share_worst.unwrap()))
}

/// 150 neighbours of 6 m say where a height probably is; a house of nine metres may stand among them all the same.
#[test]
fn a_house_may_be_as_high_as_its_kind_whatever_its_neighbours_are() {
    let mut told = street(7.0, &[]);
    for n in 0..150 {
        let (x, y) = (1000.0 + 20.0 * f64::from(n % 15), 20.0 * f64::from(n / 15));
        told.area([x, y, x + 10.0, y + 10.0], &[("building", "house"), ("height", "6")]);
    }
    // The range of the kind is 5 to 9 m.
    let (low, high) = (ends(&street(7.0, &[("height", "5")])).0, ends(&street(7.0, &[("height", "9")])).1);
    let (best, worst) = ends(&told);
    assert!(best <= low + 1e-9 && worst >= high - 1e-9 && high > low + 0.002, "{best} {low} {worst} {high}");
}

/// The least and the most that houses of some heights make of the street, segment by segment.
fn of_heights(heights: [&str; 3]) -> (f64, f64) {
    let places = heights.map(|h| on_level_ground(&street(7.0, &[("height", h)]), quick()));
    let shares = places.each_ref().map(|place| named(place, "Street").map(|r| r.outage_share).collect::<Vec<f64>>());
    let count = shares[0].len();
    let of = |fold: fn(f64, f64) -> f64, start| {
        (0..count).map(|i| shares.iter().map(|s| s[i]).fold(start, fold)).sum::<f64>() / count as f64
    };
    (of(f64::min, 1.0), of(f64::max, 0.0))
}

/// Two storeys are 5.4 m without a roof, 6 m as stated, or 10.2 m with a roof.
#[test]
fn counted_storeys_are_a_range_of_heights() {
    let (low, high) = of_heights(["5.4", "6", "10.2"]);
    assert_eq!(ends(&street(7.0, &[("building:levels", "2")])), (low, high));
    assert!(high > low + 0.002, "{low} {high}");
    let with_roof = ends(&street(7.0, &[("building:levels", "2"), ("roof:height", "2")]));
    assert_eq!(with_roof, of_heights(["7.4", "8", "9.2"]), "where the roof is tagged only the storeys have a range");
}

/// Trees are mapped along the southern half of a road, and nobody knows what stands along the rest.
#[test]
fn the_segment_before_an_unknown_one_has_no_worst() {
    let mut s = Sketch::at(46.0);
    s.line(&[(0.0, -9_000.0), (0.0, 8_000.0)], &[("highway", "tertiary")]);
    for n in 0..60 {
        s.node(300.0, -9_000.0 + 20.0 * f64::from(n), &[("natural", "tree"), ("height", "6")]);
        s.area([350.0, -9_000.0 + 20.0 * f64::from(n), 355.0, -8_990.0 + 20.0 * f64::from(n)], &[("building", "shed")]);
    }
    let mut profile = Profile::default();
    profile.link.drives = 4;
    let place = on_level_ground(&s, profile);
    let mut rows: Vec<&SegmentRow> = place.rows.iter().collect();
    rows.sort_by_key(|r| r.part);
    let known = |r: &SegmentRow| r.evidence_canopy != waymask::base::words::BlockerEvidence::Unknown;
    let last = rows.iter().rposition(|r| known(r) && r.evidence != Evidence::Unknown).expect("some are known");
    assert!(
        known(rows[last + 1]) && rows[last + 1].rating_worst.is_none(),
        "known by itself, but next to unknown ground"
    );
    assert!(!known(rows[last + 2]) && rows[last].rating_worst.is_some());
}
