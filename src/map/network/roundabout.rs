//! How wide roundabouts are: their radius is what they are driven by.
use std::collections::HashMap;
use std::f64::consts::TAU;

use crate::base::geodesy::{LocalPlane, Point};
use crate::map::extract::model::Road;

/// Wider circles are driven as roads, metres (assumed).
const WIDEST_M: f64 = 250.0;

/// Radius of the middle of the carriageway of every road that is a roundabout or a part of one, metres.
///
/// A roundabout in one way is as wide as its length says. One in several ways, as many with bus lanes or bridges are, lies
/// on the circle through the nodes of all ways that hang together.
pub(super) fn radii_m(roads: &[Road]) -> Vec<Option<f64>> {
    let mut out = vec![None; roads.len()];
    let mut open = Vec::new();
    for (i, road) in roads.iter().enumerate().filter(|(_, r)| r.roundabout && r.nodes.len() > 1) {
        match is_closed(road) {
            true => out[i] = Some(length_m(road) / TAU),
            false => open.push(i),
        }
    }
    for group in connected(roads, &open) {
        let radius_m = circle_radius_m(roads, &group);
        group.into_iter().for_each(|i| out[i] = radius_m);
    }
    out.iter_mut().for_each(|r| *r = r.filter(|m| *m <= WIDEST_M));
    out
}

fn is_closed(road: &Road) -> bool {
    road.nodes.len() > 3 && road.nodes.first().map(|n| n.id) == road.nodes.last().map(|n| n.id)
}

fn length_m(road: &Road) -> f64 {
    road.nodes.windows(2).map(|w| crate::base::geodesy::distance_m(w[0].at, w[1].at)).sum()
}

/// Roads that hang together by their nodes, each group in order.
fn connected(roads: &[Road], chosen: &[usize]) -> Vec<Vec<usize>> {
    let mut group_of: Vec<usize> = (0..chosen.len()).collect();
    let mut first_at: HashMap<i64, usize> = HashMap::new();
    for (k, i) in chosen.iter().enumerate() {
        for node in &roads[*i].nodes {
            let (mut a, mut b) = (root(&group_of, *first_at.entry(node.id).or_insert(k)), root(&group_of, k));
            if a > b {
                (a, b) = (b, a);
            }
            group_of[b] = a;
        }
    }
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); chosen.len()];
    for (k, i) in chosen.iter().enumerate() {
        groups[root(&group_of, k)].push(*i);
    }
    groups.retain(|g| !g.is_empty());
    groups
}

fn root(group_of: &[usize], mut k: usize) -> usize {
    while group_of[k] != k {
        k = group_of[k];
    }
    k
}

/// Radius of the circle that fits the nodes best in the sense of Kasa (least squares of squared distances, which has a
/// closed form); `None` for fewer than three places or a straight line.
fn circle_radius_m(roads: &[Road], group: &[usize]) -> Option<f64> {
    let mut nodes: Vec<_> = group.iter().flat_map(|i| &roads[*i].nodes).collect();
    nodes.sort_by_key(|n| n.id);
    nodes.dedup_by_key(|n| n.id);
    let plane = LocalPlane::at_position(nodes.first()?.at);
    let points: Vec<Point> = nodes.iter().map(|n| plane.to_plane(n.at)).collect();
    let count = points.len() as f64;
    let mean = |f: &dyn Fn(&Point) -> f64| points.iter().map(f).sum::<f64>() / count;
    let (x, y) = (mean(&|p| p.x_m), mean(&|p| p.y_m));
    let moment = |m: i32, n: i32| mean(&|p| (p.x_m - x).powi(m) * (p.y_m - y).powi(n));
    let (xx, xy, yy) = (moment(2, 0), moment(1, 1), moment(0, 2));
    let determinant = xx * yy - xy * xy;
    if determinant <= 1e-6 * (xx + yy) * (xx + yy) {
        return None;
    }
    let (a, b) = ((moment(3, 0) + moment(1, 2)) / 2.0, (moment(0, 3) + moment(2, 1)) / 2.0);
    let (cx, cy) = ((a * yy - b * xy) / determinant, (b * xx - a * xy) / determinant);
    Some((cx * cx + cy * cy + xx + yy).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::RoadClass;
    use crate::map::network::test_roads::{ring, road};

    /// Half the perimeter over pi: that of a regular polygon is `2 n r sin(pi / n)`.
    #[test]
    fn a_roundabout_in_one_way_is_as_wide_as_its_length_says() {
        for (radius_m, corners) in [(12.0, 8), (20.0, 24), (60.0, 40)] {
            let got = radii_m(&[ring(1, radius_m, corners, true)])[0].unwrap();
            let n = f64::from(corners as u32);
            let polygon_m = 2.0 * n * radius_m * (std::f64::consts::PI / n).sin() / TAU;
            assert!((got - polygon_m).abs() < 0.02, "{got} {polygon_m}");
        }
        assert_eq!(radii_m(&[ring(1, 400.0, 60, true)]), [None], "a ring road");
    }

    #[test]
    fn one_in_several_ways_lies_on_the_circle_through_their_nodes() {
        let whole = ring(1, 18.0, 16, false);
        let piece =
            |id: i64, from: usize, to: usize| Road { id, nodes: whole.nodes[from..=to].to_vec(), ..whole.clone() };
        let other = ring(5, 40.0, 12, false);
        let far = Road { nodes: other.nodes[..5].iter().map(|n| moved(*n)).collect(), ..other.clone() };
        let roads = [piece(1, 0, 1), piece(2, 1, 5), road(3, RoadClass::Primary), far, piece(4, 5, 9)];
        let got = radii_m(&roads);
        for i in [0, 1, 4] {
            assert!((got[i].unwrap() - 18.0).abs() < 0.05, "{got:?}");
        }
        assert!((got[3].unwrap() - 40.0).abs() < 0.2 && got[2].is_none(), "{got:?}");
        assert_eq!(radii_m(&[piece(1, 0, 1)]), [None], "two nodes lie on many circles");
    }

    fn moved(mut node: crate::map::extract::model::RoadNode) -> crate::map::extract::model::RoadNode {
        node.id += 1000;
        node.at.lat_e7 += 100_000;
        node
    }
}
