//! The risk of meetings on the move, as a plan tells it, compared with drives of another seed over whole strokes.
use super::MeetingSimulator;
use crate::ask::corridor::Piece;
use crate::ask::plan::{Depth, DriveRisk, Kind, MeetingPart, Simulator, Whereabout, probability};
use crate::ask::rerate::Stored;
use crate::base::index::LaneIndex;
use crate::base::progress::Silent;
use crate::base::words::Case;
use crate::build::{BuildOptions, build};
use crate::layer::Layer;
use crate::map::network::model::Stroke;
use crate::physics::link::each::each_drive;
use crate::physics::link::sky::LinkSky;
use crate::profile::Profile;
use crate::rating::drives::{Roads, Skies, latitude_keys, skies, stretches, stroke_key};

#[allow(dead_code)]
#[path = "../../../tests/suite/need.rs"]
mod need;

const MEETING_S: f64 = 300.0;
const EVERY_S: f64 = 200.0;
/// Strokes looked at: one of these many, so that the test ends.
const ONE_OF: usize = 3;

/// Meetings by what was told of them, in tenths: told, seen, told by figures of the layer, how many.
type Tenths = [(f64, f64, f64, f64); 10];

/// A stroke as the pieces of a drive.
fn pieces(stored: &Stored, stroke: &Stroke) -> Vec<Piece> {
    let mut at_km = 0.0;
    let piece = |(id, direction): &(crate::base::index::SegmentIndex, crate::base::words::Direction)| {
        let row = &stored.rows[id.at()];
        let driven = row.driven[*direction].unwrap();
        let piece = Piece {
            segment_id: row.segment_id,
            forward: direction.is_forward(),
            way_id: row.way_id,
            part: row.part,
            at_km,
            lat_deg: stored.pieces[id.at()].begins(*direction)[0].lat_deg(),
            length_m: row.length_m,
            time_s: driven.time_s,
            beyond: [driven.beyond_blips, driven.beyond_gaps, driven.beyond_drops],
            running: [driven.running_blips, driven.running_gaps, driven.running_drops],
            rating_worst: driven.rating_worst,
            ..Piece::default()
        };
        at_km += row.length_m / 1e3;
        piece
    };
    stroke.steps.iter().map(piece).collect()
}

fn compare(layer: &Layer, stored: &Stored, roads: &Roads, skies: &Skies, stroke: &Stroke, out: &mut Tenths) {
    let first = &roads.pieces[stroke.steps[0].0.at()];
    let pieces = pieces(stored, stroke);
    let drive = DriveRisk::new(&pieces, &[], 0.0, 30.0);
    if first.boarded || drive.length_s() < MEETING_S {
        return;
    }
    let simulator = MeetingSimulator::new(layer, &pieces, &drive.begins_s).unwrap();
    let edge_s = roads.profile.rating.blips_outage_s;
    let mut other = roads.profile.clone();
    other.link.seed += 1;
    let sky = LinkSky::new(&skies.sky(first).timeline, skies.grid, &other);
    let all = each_drive(&stretches(roads, stroke, Case::Likely).unwrap(), &sky, &other, stroke_key(roads, stroke));
    let mut from_s = 0.0;
    while from_s + MEETING_S <= drive.length_s() {
        let to_s = from_s + MEETING_S;
        let whereabout = Whereabout::Road { from_s, to_s, since_s: 0.0 };
        let part = MeetingPart { seconds: MEETING_S, before_s: 0.0, whereabout };
        let told = simulator.figures(edge_s, &[part], Case::Likely, Depth::Tell).unwrap().unwrap().risk;
        let overlap_s = |o: &crate::physics::link::stats::Outage| o.end_s.min(to_s) - o.start_s.max(from_s);
        let seen = all.iter().filter(|d| d.iter().any(|o| overlap_s(o) > edge_s)).count() as f64 / all.len() as f64;
        let by_layer = probability(drive.long_outages(Kind::MustNotDrop, from_s, to_s));
        let tenth = &mut out[((told * 10.0) as usize).min(9)];
        *tenth = (tenth.0 + told, tenth.1 + seen, tenth.2 + by_layer, tenth.3 + 1.0);
        from_s += EVERY_S;
    }
}

#[test]
fn heavy_the_risk_of_meetings_on_the_move_is_what_other_drives_show() {
    let Some(data) = need::data("andorra") else { return };
    let folder = tempfile::tempdir().unwrap();
    let mut profile = Profile::default();
    profile.link.drives = 128;
    let options = BuildOptions {
        elevation: vec![data.clone()],
        profile,
        ..BuildOptions::new(data.join("andorra-2025.osm.pbf"), folder.path().join("andorra.gpkg"))
    };
    build(&options, &Silent).unwrap();
    let layer = Layer::open(&options.output).unwrap();
    let stored = Stored::read(&layer).unwrap();
    let skies = skies(&stored.profile, &latitude_keys(&stored.pieces), stored.masks.grid, &|_| None);
    let masks = |lane: LaneIndex, case: Case| stored.masks.of(lane, case);
    let roads = Roads {
        profile: &stored.profile,
        pieces: &stored.pieces,
        strokes: &stored.strokes,
        own: &stored.own,
        masks: &masks,
        apart: &|_| false,
    };
    let mut tenths = Tenths::default();
    for stroke in stored.strokes.iter().step_by(ONE_OF) {
        compare(&layer, &stored, &roads, &skies, stroke, &mut tenths);
    }
    let all = tenths.iter().fold((0.0, 0.0, 0.0, 0.0), |a, t| (a.0 + t.0, a.1 + t.1, a.2 + t.2, a.3 + t.3));
    println!("meetings of five minutes: told, seen, by figures of the layer, how many");
    for (told, seen, by_layer, count) in tenths.iter().chain([&all]).filter(|t| t.3 > 0.0) {
        println!("  {:.3}  {:.3}  {:.3}  {count}", told / count, seen / count, by_layer / count);
    }
    assert!(all.3 > 100.0, "{} meetings", all.3);
    assert!(((all.0 - all.1) / all.3).abs() < 0.02, "told {}, seen {}", all.0 / all.3, all.1 / all.3);
    // What only ranks days is on the careful side.
    assert!(all.2 >= all.0, "by figures of the layer {}, told {}", all.2 / all.3, all.0 / all.3);
    for (told, seen, _, count) in tenths.into_iter().filter(|t| t.3 >= 10.0) {
        assert!(((told - seen) / count).abs() < 0.06, "told {}, seen {} of {count}", told / count, seen / count);
    }
}
