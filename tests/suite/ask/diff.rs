//! Two layers compared: figures worked out by hand, laws, and the same by plain SQL.
use std::collections::BTreeMap;
use std::path::Path;

use proptest::prelude::*;
use rusqlite::Connection;
use waymask::ask;
use waymask::ask::diff::{ChangeKind, DiffAnswer, DiffQuestion, SegmentChange};
use waymask::base::words::{Cause, Evidence, Rating, StopKind};
use waymask::layer::Layer;
use waymask::report::{self, ChangesFile};

use crate::ask::diff_layers::{Seg, record, two, write};

fn compared(old: &Layer, new: &Layer) -> (DiffAnswer, Vec<SegmentChange>) {
    let mut changes = Vec::new();
    let mut keep = |change: &SegmentChange| {
        changes.push(change.clone());
        Ok(())
    };
    let found = ask::diff(old, new, &DiffQuestion { top: 3 }, &mut keep).unwrap();
    (found, changes)
}

fn close(found: f64, want: f64) -> bool {
    (found - want).abs() < 1e-9
}

/// Two months of a region, each kind of change in one way.
fn months(old: &Path, new: &Path) -> [Layer; 2] {
    use Cause::{Building, Canopy, Cover, None};
    use Rating::{Dark, Drops, Gaps, Steady};
    let before = [
        Seg::of(1, 0, 200.0, Steady, 0.0, None),
        Seg::of(1, 1, 250.0, Drops, 6.0, Canopy),
        Seg::of(1, 2, 250.0, Drops, 4.0, Canopy),
        Seg::of(2, 0, 100.0, Gaps, 2.0, Building),
        Seg::of(3, 0, 150.0, Dark, 9.0, Cover),
        Seg::of(4, 0, 240.0, Drops, 7.0, Canopy),
        Seg::of(5, 0, 80.0, Gaps, 2.0, Canopy),
        Seg::of(6, 0, 90.0, Dark, 5.0, Canopy).unknown(),
        Seg::of(8, 0, 50.0, Gaps, 1.0, Canopy),
    ];
    let after = [
        before[0],
        Seg::of(1, 1, 250.0, Gaps, 2.0, Canopy),
        Seg::of(1, 2, 250.0, Gaps, 1.0, Canopy),
        Seg::of(2, 0, 100.0, Dark, 8.5, Cover),
        Seg::of(4, 0, 120.0, Drops, 3.0, Canopy),
        Seg::of(4, 1, 120.0, Drops, 4.0, Canopy),
        Seg::of(5, 0, 80.0, Steady, 0.0, None).unknown(),
        Seg::of(6, 0, 90.0, Gaps, 3.0, Canopy),
        Seg::of(7, 0, 60.0, Steady, 0.0, None),
        // The same rating for another reason.
        Seg::of(8, 0, 50.0, Gaps, 1.0, Building),
    ];
    let stops_before = [(1, StopKind::Fuel, 0.5), (2, StopKind::CampSite, 0.5), (3, StopKind::Parking, 0.5)];
    let stops_after = [(4, StopKind::Viewpoint, 0.5), (3, StopKind::Parking, 0.5), (2, StopKind::CampSite, 0.75)];
    [
        write(old, &before, &stops_before, &record("2026-06-01T00:00:00Z", "aa")),
        write(new, &after, &stops_after, &record("2026-07-01T00:00:00Z", "bb")),
    ]
}

#[test]
fn figures_are_those_worked_out_by_hand() {
    let (_folder, old, new) = two();
    let [old, new] = months(&old, &new);
    let (found, changes) = compared(&old, &new);
    let km = found.km;
    for (what, found, want) in [
        ("both", km.both, 0.200 + 0.250 + 0.250 + 0.100 + 0.120 + 0.080 + 0.090 + 0.050),
        ("only old", km.only_old, 0.150),
        ("only new", km.only_new, 0.120 + 0.060),
        ("better", km.better, 0.500),
        ("worse", km.worse, 0.100),
        ("same", km.same, 0.250),
        ("same but changed", km.same_but_changed, 0.050),
        ("redrawn, old", km.redrawn_old, 0.240),
        ("redrawn, new", km.redrawn_new, 0.120),
        ("became unknown", km.became_unknown, 0.080),
        ("became known", km.became_known, 0.090),
        ("cut, old", km.cut_old, 0.0),
        ("cut, new", km.cut_new, 0.120),
    ] {
        assert!(close(found, want), "{what}: {found} {want}");
    }
    let moves: Vec<_> =
        found.moves.iter().map(|m| (m.evidence, m.from.name(), m.to.name(), (1e3 * m.km).round())).collect();
    assert_eq!(
        moves,
        [
            (None, "steady", "steady", 200.0),
            (None, "gaps", "gaps", 50.0),
            (None, "gaps", "dark", 100.0),
            (None, "drops", "gaps", 500.0),
            (Some(ChangeKind::BecameUnknown), "gaps", "steady", 80.0),
            (Some(ChangeKind::BecameKnown), "dark", "gaps", 90.0),
        ]
    );
    let (of_old, of_new) = (&found.old, &found.new);
    assert!(close(of_old.km_by_rating["drops"], 0.740) && close(of_new.km_by_rating["drops"], 0.240));
    assert!(close(of_old.km_by_cause["canopy"], 0.960) && close(of_new.km_by_cause["canopy"], 0.830));
    assert!(close(of_old.km_by_evidence["rating: unknown"], 0.090));
    assert!(close(of_new.km_by_evidence["rating: unknown"], 0.080));
    let largest: Vec<_> = found.largest.iter().map(|s| (s.way_id, s.part_from, s.part_to, s.change_s())).collect();
    // Way 1 changes by 4 and 3 s, ways 5 and 6 by 2 s each; only three are wanted.
    assert_eq!((largest, found.stretches), (vec![(1, 1, 2, -7.0), (2, 0, 0, 6.5), (5, 0, 0, -2.0)], 4));
    let first = &found.largest[0];
    let at = Seg::of(1, 1, 250.0, Rating::Gaps, 2.0, Cause::Canopy).line()[0];
    assert_eq!((first.lat_deg, first.lon_deg), (at.lat_deg(), at.lon_deg()));
    assert_eq!((found.largest[1].cause_old, found.largest[1].cause_new), (Cause::Building, Cause::Cover));
    assert_eq!(found.largest[2].evidence, Some(ChangeKind::BecameUnknown));
    let kinds: Vec<_> = changes.iter().map(|c| (c.way_id, c.part, c.kind.name())).collect();
    assert_eq!(
        kinds,
        [
            (1, 1, "rated_better"),
            (1, 2, "rated_better"),
            (2, 0, "rated_worse"),
            (3, 0, "only_old"),
            (4, 0, "redrawn"),
            (4, 1, "only_new"),
            (5, 0, "became_unknown"),
            (6, 0, "became_known"),
            (7, 0, "only_new"),
            (8, 0, "rated_same"),
        ]
    );
    assert_eq!((found.changed_segments, found.segments_in_both), (10, 8));
    let stops = &found.stops;
    assert_eq!(stops.only_old, BTreeMap::from([(StopKind::Fuel, 1)]));
    assert_eq!(stops.only_new, BTreeMap::from([(StopKind::Viewpoint, 1)]));
    let moved: Vec<_> = stops.largest.iter().map(|s| (s.osm_id, s.open_share_old, s.open_share_new)).collect();
    assert_eq!((stops.both, stops.best_changed, stops.roof_changed, moved), (2, 1, 0, vec![(2, 0.5, 0.75)]));
    assert_eq!((found.is_equal, found.is_same_file, found.extents_meet), (false, false, true));
}

#[test]
fn people_read_the_answer_first() {
    let (_folder, old, new) = two();
    let [old, new] = months(&old, &new);
    let text = report::diff_table(&compared(&old, &new).0);
    let first = "1.1 km of road are in both layers, 150 m only in OLD and 180 m only in NEW; of those in both: 500 m rated \
                 better, 100 m worse, 250 m the same, 120 m redrawn, 80 m where something became unknown, 90 m where \
                 something became known.\n";
    assert!(text.starts_with(first), "{text}");
    for part in [
        "\nredrawn: 240 m in OLD, 120 m in NEW;",
        "0 m in OLD and 120 m in NEW belong to ways that both have\n",
        "\nunknown is not clear",
        "map data of 2026-06-01T00:00:00Z)\n",
        "\ncan they be compared: yes, program and profile are the same; 1 input changed\n",
        "  extract  map.osm.pbf (SHA-256 aaaaaaaa..., data of 2026-06-01T00:00:00Z) -> map.osm.pbf (SHA-256 bbbbbbbb...",
        "\nkm from OLD to NEW     steady    blips     gaps    drops     dark\n  steady                  0.2        -",
        "\nkm became unknown ",
        "\n  trees                       1.0      0.8\n",
        "\n4 stretches change by 0.1 s or more of expected time without a link; the 3 largest changes\n",
        "Road 1, way 1 parts 1 to 2, 500 m: 10.0 s -> 3.0 s, drops -> gaps, trees\n",
        "Road 2, way 2 part 0, 100 m: 2.0 s -> 8.5 s, gaps -> dark, buildings -> tunnel or roof\n",
        "gaps -> steady, trees -> nothing; unknown now, which is not clear\n",
        "\nplaces to stop: 2 in both, 1 only in OLD, 1 only in NEW\n",
        "  fuel                1 only in OLD      0 only in NEW\n",
        "Place 2, Road 1, camp site: 50 % open 12 m away -> 75 % 12 m away\n",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let json: serde_json::Value = serde_json::from_str(&report::diff_json(&compared(&old, &new).0).unwrap()).unwrap();
    assert!(close(json["km"]["better"].as_f64().unwrap(), 0.5) && json["cautions"].as_array().unwrap().len() > 3);
    assert_eq!(json["moves"][2], serde_json::json!({"evidence": null, "from": "gaps", "to": "dark", "km": 0.1}));
}

/// The changes of a comparison as a file of a name.
fn file(name: &str, changes: &[SegmentChange]) -> String {
    let mut out: Vec<u8> = Vec::new();
    let mut file = ChangesFile::begin(Path::new(name), &mut out).unwrap();
    changes.iter().for_each(|c| file.add(c).unwrap());
    assert_eq!(file.finish().unwrap(), changes.len() as u64);
    String::from_utf8(out).unwrap()
}

#[test]
fn files_hold_every_change() {
    let (_folder, old, new) = two();
    let [old, new] = months(&old, &new);
    let (_, mut changes) = compared(&old, &new);
    changes[0].road = "=1+\"x\"\u{1}".into();
    let csv = file("a.csv", &changes);
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(lines.len(), 11);
    assert!(lines[1].starts_with("rated_better,1,1,\"'=1+\"\"x\"\"\u{FFFD}\",primary,42.5009"), "{csv}");
    assert!(lines[1].ends_with(",250.0,250.0,drops,gaps,6.000,2.000,canopy,canopy,default,default"), "{csv}");
    assert!(lines[4].contains(",150.0,,dark,,9.000,,cover,,default,"), "{csv}");
    let header = file("a.csv", &[]);
    assert_eq!(header.trim_end(), lines[0]);
    let map: serde_json::Value = serde_json::from_str(&file("a.geojson", &changes)).unwrap();
    let features = map["features"].as_array().unwrap();
    assert_eq!((features.len(), features[3]["properties"]["change"].as_str()), (10, Some("only_old")));
    assert!(features[3]["properties"]["rating_new"].is_null() && map["cautions"].as_array().unwrap().len() > 3);
    for text in [file("a.geojson", &changes), file("a.geojson", &[])] {
        assert!(text.parse::<geojson::GeoJson>().is_ok(), "{text}");
    }
    assert!(ChangesFile::begin(Path::new("a.gpx"), &mut Vec::new()).is_err());
}

/// Layers of few ways, whose lengths either stay to the centimetre or change by more than a metre.
fn any_layer() -> impl Strategy<Value = Vec<Seg>> {
    let figures = (0_usize..2, 0_usize..5, 0_u32..90, 0_usize..3, any::<bool>(), 0_usize..2);
    proptest::collection::btree_map((1_i64..6, 0_u32..4), figures, 1..14).prop_map(|map| {
        let seg = |((way, part), (length, rating, tenths, cause, unknown, off)): (
            _,
            (usize, usize, u32, usize, bool, usize),
        )| {
            let seg = Seg::of(
                way,
                part,
                [100.25, 250.0][length],
                Rating::ALL[rating],
                f64::from(tenths) / 10.0,
                [Cause::Canopy, Cause::Deck, Cause::None][cause],
            );
            let evidence = if unknown { Evidence::Unknown } else { Evidence::Default };
            Seg { off_m: [0.0, 5.0][off], evidence, ..seg }
        };
        map.into_iter().map(seg).collect()
    })
}

/// The other way round.
fn mirrored(kind: ChangeKind) -> ChangeKind {
    match kind {
        ChangeKind::OnlyOld => ChangeKind::OnlyNew,
        ChangeKind::OnlyNew => ChangeKind::OnlyOld,
        ChangeKind::BecameUnknown => ChangeKind::BecameKnown,
        ChangeKind::BecameKnown => ChangeKind::BecameUnknown,
        ChangeKind::RatedBetter => ChangeKind::RatedWorse,
        ChangeKind::RatedWorse => ChangeKind::RatedBetter,
        ChangeKind::Redrawn | ChangeKind::RatedSame => kind,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn a_layer_equals_itself_and_two_compared_the_other_way_round_mirror(a in any_layer(), b in any_layer()) {
        let (_folder, old, new) = two();
        let stops = [(1, StopKind::Fuel, 0.5), (2, StopKind::CampSite, 0.6)];
        let same = record("2026-06-01T00:00:00Z", "aa");
        let old = write(&old, &a, &stops, &same);
        let new = write(&new, &b, &stops[1..], &record("2026-07-01T00:00:00Z", "bb"));
        let (itself, none) = compared(&old, &old);
        let length_km: f64 = a.iter().map(|s| s.length_m / 1e3).sum();
        prop_assert!(itself.is_equal && itself.is_same_file && none.is_empty() && itself.stretches == 0);
        prop_assert!(close(itself.km.both, length_km) && itself.km.same == itself.km.both);
        prop_assert!(itself.builds.is_same() && itself.stops.is_quiet() && itself.moves.iter().all(|m| m.from == m.to));
        let ((there, out), (back, home)) = (compared(&old, &new), compared(&new, &old));
        for (one, other) in [
            (there.km.only_old, back.km.only_new),
            (there.km.only_new, back.km.only_old),
            (there.km.better, back.km.worse),
            (there.km.worse, back.km.better),
            (there.km.same, back.km.same),
            (there.km.same_but_changed, back.km.same_but_changed),
            (there.km.became_unknown, back.km.became_known),
            (there.km.became_known, back.km.became_unknown),
            (there.km.redrawn_old, back.km.redrawn_new),
            (there.km.redrawn_new, back.km.redrawn_old),
            (there.km.cut_old, back.km.cut_new),
        ] {
            prop_assert_eq!(one, other);
        }
        let km = there.km;
        let parts = km.better + km.worse + km.same + km.became_known + km.became_unknown + km.redrawn_new;
        prop_assert!(close(km.both, parts));
        prop_assert!(close(km.both - km.redrawn_new + km.redrawn_old + km.only_old, length_km));
        prop_assert_eq!(&there.old.km_by_rating, &back.new.km_by_rating);
        prop_assert_eq!(there.is_equal, back.is_equal);
        let told = |c: &SegmentChange, kind: ChangeKind| (c.way_id, c.part, kind, c.old, c.new);
        let out: Vec<_> = out.iter().map(|c| told(c, mirrored(c.kind))).collect();
        let home: Vec<_> = home.iter().map(|c| { let (w, p, k, o, n) = told(c, c.kind); (w, p, k, n, o) }).collect();
        prop_assert_eq!(out, home);
        let stretches = |d: &DiffAnswer, sign: f64| -> Vec<_> {
            d.largest.iter().map(|s| (s.way_id, s.part_from, s.part_to, (sign * s.change_s() * 1e6).round())).collect()
        };
        prop_assert_eq!(stretches(&there, 1.0), stretches(&back, -1.0));
        prop_assert_eq!(there.stops.only_old.get(&StopKind::Fuel), back.stops.only_new.get(&StopKind::Fuel));
    }
}

/// Both sides of every key, by hand: what the new file has joined to the old, and what only the old one has.
const JOINED: &str = "
    SELECT o.length_m AS old_m, n.length_m AS new_m, o.rating AS old_rating, n.rating AS new_rating,
           o.evidence = 'unknown' AS old_unknown, n.evidence = 'unknown' AS new_unknown,
           abs(o.length_m - n.length_m) > 1 OR o.geom <> n.geom AS redrawn,
           max(n.outage_forward_s, n.outage_backward_s) - max(o.outage_forward_s, o.outage_backward_s) AS change_s
      FROM new.segments n LEFT JOIN main.segments o ON o.way_id = n.way_id AND o.part = n.part
    UNION ALL
    SELECT o.length_m, NULL, o.rating, NULL, NULL, NULL, NULL, NULL FROM main.segments o
     WHERE NOT EXISTS (SELECT 1 FROM new.segments n WHERE n.way_id = o.way_id AND n.part = o.part)";

#[test]
fn plain_sql_gives_the_same_figures() {
    let (_folder, old_path, new_path) = two();
    // More than a page of rows, with some of every kind.
    let seg = |i: u32, salt: u32| {
        let mixed = (i + 1).wrapping_mul(2_654_435_761).wrapping_add(salt.wrapping_mul(40_503)) >> 7;
        let changes = mixed.is_multiple_of(3);
        let draw = if changes { mixed } else { i };
        let rating = Rating::ALL[(draw % 5) as usize];
        let seg = Seg::of(
            i64::from(i / 7) + 1,
            i % 7,
            if changes && mixed.is_multiple_of(5) { 180.5 } else { 120.25 },
            rating,
            f64::from(draw % 100) / 12.5,
            Cause::Canopy,
        );
        let off_m = if changes && mixed.is_multiple_of(11) { 3.0 } else { 0.0 };
        let evidence = if draw.is_multiple_of(4) { Evidence::Unknown } else { Evidence::Default };
        (!mixed.is_multiple_of(13)).then_some(Seg { off_m, evidence, ..seg })
    };
    let of = |salt| (0..1_500).filter_map(|i| seg(i, salt)).collect::<Vec<_>>();
    let old = write(&old_path, &of(1), &[], &record("2026-06-01T00:00:00Z", "aa"));
    let new = write(&new_path, &of(2), &[], &record("2026-07-01T00:00:00Z", "bb"));
    let (found, _) = compared(&old, &new);
    let file = Connection::open(&old_path).unwrap();
    file.execute("ATTACH ? AS new", [new_path.to_str().unwrap()]).unwrap();
    let sum = |what: &str, of: &str| -> f64 {
        let sql = format!("SELECT coalesce(sum({what}), 0.0) FROM ({JOINED}) WHERE {of}");
        file.query_row(&sql, [], |r| r.get(0)).unwrap()
    };
    let km = |what: &str, of: &str| sum(what, of) / 1e3;
    let judged = "NOT redrawn AND old_unknown = new_unknown";
    for (what, found, want) in [
        ("both", found.km.both, km("new_m", "old_m IS NOT NULL AND new_m IS NOT NULL")),
        ("only old", found.km.only_old, km("old_m", "new_m IS NULL")),
        ("only new", found.km.only_new, km("new_m", "old_m IS NULL")),
        ("redrawn", found.km.redrawn_new, km("new_m", "redrawn")),
        ("redrawn", found.km.redrawn_old, km("old_m", "redrawn")),
        ("better", found.km.better, km("new_m", &format!("{judged} AND new_rating < old_rating"))),
        ("worse", found.km.worse, km("new_m", &format!("{judged} AND new_rating > old_rating"))),
        ("same", found.km.same, km("new_m", &format!("{judged} AND new_rating = old_rating"))),
        ("unknown", found.km.became_unknown, km("new_m", "NOT redrawn AND new_unknown > old_unknown")),
        ("known", found.km.became_known, km("new_m", "NOT redrawn AND new_unknown < old_unknown")),
    ] {
        println!("{what}: {found:.3} km");
        assert!((found - want).abs() < 1e-6 && want > 0.5, "{what}: {found} {want}");
    }
    for m in found.moves.iter().filter(|m| m.evidence.is_none()) {
        let of = format!("{judged} AND old_rating = {} AND new_rating = {}", m.from.code(), m.to.code());
        assert!((m.km - km("new_m", &of)).abs() < 1e-6, "{m:?}");
    }
    assert_eq!(found.moves.iter().filter(|m| m.evidence.is_none()).count(), 25);
    let largest_s = "SELECT max(abs(change_s)) FROM";
    let one: f64 = file.query_row(&format!("{largest_s} ({JOINED}) WHERE NOT redrawn"), [], |r| r.get(0)).unwrap();
    assert!(found.largest[0].change_s().abs() >= one - 1e-9, "{one} {:?}", found.largest[0]);
}
