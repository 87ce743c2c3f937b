//! Heights of buildings that no tag gives: by kind, by neighbours, and what an answer that rests on them says of itself.
use waymask::base::words::{BlockerEvidence, Evidence};
use waymask::profile::Profile;
use waymask::profile::source::with_values;

use crate::build::kit::{Place, Sketch};

/// A road to the north, one lane, one way, and a building from y = -100 to 100 whose wall stands some metres east of it.
fn street(wall_m: f64, tags: &[(&str, &str)]) -> Sketch {
    let mut s = Sketch::at(46.0);
    s.line(&[(0.0, -100.0), (0.0, 100.0)], &[("highway", "residential"), ("oneway", "yes")]);
    s.area([wall_m, -100.0, wall_m + 20.0, 100.0], tags);
    s
}

/// Houses a kilometre away, where they hide nothing: 30 of a kind, with a height or without.
fn neighbours(sketch: &mut Sketch, kind: &str, height: Option<&str>) {
    for n in 0..30 {
        let (x, y) = (1000.0 + 30.0 * f64::from(n % 6), 30.0 * f64::from(n / 6));
        let mut tags = vec![("building", kind)];
        tags.extend(height.map(|h| ("height", h)));
        sketch.area([x, y, x + 10.0, y + 10.0], &tags);
    }
}

fn blocked(place: &Place) -> f64 {
    place.rows.iter().map(|r| r.blocked_building).sum::<f64>() / place.rows.len() as f64
}

#[test]
fn a_building_is_as_high_as_its_kind() {
    let of_kind = |kind: &str| blocked(&street(6.0, &[("building", kind)]).build(Profile::default()));
    let of_height =
        |height: &str| blocked(&street(6.0, &[("building", "yes"), ("height", height)]).build(Profile::default()));
    // Values of the profile by default.
    for (kind, height) in [
        ("house", "7"),
        ("apartments", "12"),
        ("garage", "3"),
        ("warehouse", "7"),
        ("school", "9"),
        ("church", "15"),
        ("yes", "8"),
        ("ruins_of_something", "8"),
    ] {
        assert_eq!(of_kind(kind), of_height(height), "{kind}");
    }
    let church = with_values(&Profile::default(), &["building.church_m=30".to_owned()]).unwrap();
    assert_eq!(blocked(&street(6.0, &[("building", "church")]).build(church)), of_height("30"));
    let said = with_values(&Profile::default(), &["building.church_m=0".to_owned()]).unwrap_err().to_string();
    assert!(said.contains("building.church_m") && said.contains("1 to 150 m"), "{said}");
}

#[test]
fn neighbours_of_the_same_kind_draw_a_height_towards_theirs() {
    let near = |kind: &str, height: &str| {
        let mut s = street(6.0, &[("building", "yes")]);
        neighbours(&mut s, kind, Some(height));
        s.build(Profile::default())
    };
    let of_height =
        |height: &str| blocked(&street(6.0, &[("building", "yes"), ("height", height)]).build(Profile::default()));
    // 30 of 20 m and what counts as ten of 8 m: (30 * 20 + 10 * 8) / 40 = 17 m.
    let place = near("yes", "20");
    assert_eq!(blocked(&place), of_height("17"));
    let said = place.built.record.assumed.join("\n");
    let wanted = "30 buildings with a height; for the others the default of their kind, drawn towards tagged ones nearby (1) or alone (0)";
    assert!(said.contains(wanted), "{said}");
    assert_eq!(blocked(&near("house", "20")), of_height("8"), "houses say nothing of a building of unknown use");
}

#[test]
fn a_height_nobody_knows_may_be_why_the_sky_is_open() {
    // Above 35 degrees a wall of 8 m hides nothing from 12 m away ((8 - 2) / 12 is 27 degrees); one of 15 m does (47).
    let evidence = |tags: &[(&str, &str)], wall_m: f64| {
        let mut s = street(wall_m, tags);
        neighbours(&mut s, "yes", None);
        let place = s.build(Profile::default());
        let row = &place.rows[0];
        assert_eq!(row.blocked_building, 0.0, "{tags:?} {wall_m}");
        row.evidence_building
    };
    assert_eq!(evidence(&[("building", "yes")], 12.0), BlockerEvidence::Default);
    assert_eq!(evidence(&[("building", "yes"), ("height", "8")], 12.0), BlockerEvidence::Map);
    // From 40 m even 15 m hide nothing: (15 - 2) / 40 is 18 degrees.
    assert_eq!(evidence(&[("building", "yes")], 40.0), BlockerEvidence::Map);
}

#[test]
fn what_the_map_does_not_hold_is_unknown_and_told_in_kilometres() {
    let mut s = street(6.0, &[("building", "yes"), ("height", "12")]);
    let alone = s.build(Profile::default());
    assert!(
        alone.rows.iter().all(|r| r.evidence_building == BlockerEvidence::Unknown && r.evidence == Evidence::Unknown)
    );
    let said = alone.built.record.assumed.join("\n");
    assert!(
        said.contains("buildings are not mapped along 0.2 of 0.2 km") && said.contains("trees are not mapped along"),
        "{said}"
    );
    neighbours(&mut s, "yes", None);
    let town = s.build(Profile::default());
    assert!(
        town.rows.iter().all(|r| r.evidence_building == BlockerEvidence::Tag),
        "{:?}",
        town.rows[0].evidence_building
    );
    assert!(!town.built.record.assumed.join("\n").contains("buildings are not mapped"));
}

#[test]
fn a_building_as_large_as_a_town_is_a_defect() {
    let large = |half_m: f64| {
        let mut s = street(6.0, &[("building", "yes"), ("height", "20")]);
        s.area([-half_m, -half_m, half_m, half_m], &[("building", "yes"), ("height", "60")]);
        s.build(Profile::default())
    };
    let (vast, merely_large) = (large(650.0), large(600.0));
    assert_eq!(vast.built.record.defects["vast_building"].count, 1);
    assert!(!merely_large.built.record.defects.contains_key("vast_building"));
}
