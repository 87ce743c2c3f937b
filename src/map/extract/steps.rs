//! Ids and places on the disk: each as its step from the one before. Those of a way are near each other, and small numbers are
//! short.
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::road_node::RoadNode;
use crate::base::geodesy::Position;

/// A step from one place to the next, 1e-7 degrees; it may go around.
type PlaceStep = (i32, i32);

fn place_step(before: &mut Position, at: Position) -> PlaceStep {
    let step = (at.lon_e7.wrapping_sub(before.lon_e7), at.lat_e7.wrapping_sub(before.lat_e7));
    *before = at;
    step
}

fn place_after(at: &mut Position, (lon, lat): PlaceStep) -> Position {
    *at = Position { lon_e7: at.lon_e7.wrapping_add(lon), lat_e7: at.lat_e7.wrapping_add(lat) };
    *at
}

/// Ids.
pub(crate) mod ids {
    use super::*;

    /// Writes them.
    pub fn serialize<S: Serializer>(ids: &[i64], to: S) -> Result<S::Ok, S::Error> {
        let mut before = 0_i64;
        to.collect_seq(ids.iter().map(|id| id.wrapping_sub(std::mem::replace(&mut before, *id))))
    }
    /// Reads them again.
    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<i64>, D::Error> {
        let mut ids = Vec::<i64>::deserialize(from)?;
        let mut at = 0_i64;
        for id in &mut ids {
            at = at.wrapping_add(*id);
            *id = at;
        }
        Ok(ids)
    }
}

/// A line or ring.
pub(crate) mod line {
    use super::*;

    /// Writes it.
    pub fn serialize<S: Serializer>(line: &[Position], to: S) -> Result<S::Ok, S::Error> {
        let mut before = Position::default();
        to.collect_seq(line.iter().map(|at| place_step(&mut before, *at)))
    }
    /// Reads it again.
    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Position>, D::Error> {
        let mut at = Position::default();
        Ok(Vec::<PlaceStep>::deserialize(from)?.into_iter().map(|step| place_after(&mut at, step)).collect())
    }
}

/// Several of them.
pub(crate) mod lines {
    use super::*;

    #[derive(Serialize, Deserialize)]
    struct SteppedLine(#[serde(with = "line")] Vec<Position>);
    #[derive(Serialize)]
    struct LineToStep<'l>(#[serde(serialize_with = "line::serialize")] &'l [Position]);

    /// Writes them.
    pub fn serialize<S: Serializer>(lines: &[Vec<Position>], to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(lines.iter().map(|line| LineToStep(line)))
    }
    /// Reads them again.
    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Vec<Position>>, D::Error> {
        Ok(Vec::<SteppedLine>::deserialize(from)?.into_iter().map(|line| line.0).collect())
    }
}

/// Nodes of a road.
pub(crate) mod road_nodes {
    use super::*;

    /// Writes them.
    pub fn serialize<S: Serializer>(nodes: &[RoadNode], to: S) -> Result<S::Ok, S::Error> {
        let (mut id, mut before) = (0_i64, Position::default());
        let step = |n: &RoadNode| (n.id.wrapping_sub(std::mem::replace(&mut id, n.id)), place_step(&mut before, n.at));
        to.collect_seq(nodes.iter().map(step))
    }
    /// Reads them again.
    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<RoadNode>, D::Error> {
        let (mut id, mut at) = (0_i64, Position::default());
        let node = |(id_step, step): (i64, PlaceStep)| {
            id = id.wrapping_add(id_step);
            RoadNode { id, at: place_after(&mut at, step) }
        };
        Ok(Vec::<(i64, PlaceStep)>::deserialize(from)?.into_iter().map(node).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    struct Every {
        #[serde(with = "ids")]
        ids: Vec<i64>,
        #[serde(with = "lines")]
        lines: Vec<Vec<Position>>,
        #[serde(with = "road_nodes")]
        nodes: Vec<RoadNode>,
    }

    proptest::proptest! {
        #[test]
        fn what_is_written_is_read_again(nodes in proptest::collection::vec((proptest::num::i64::ANY, proptest::num::i32::ANY, proptest::num::i32::ANY), 0..20)) {
            let nodes: Vec<RoadNode> = nodes.into_iter().map(|(id, lon_e7, lat_e7)| RoadNode { id, at: Position { lon_e7, lat_e7 } }).collect();
            let line: Vec<Position> = nodes.iter().map(|n| n.at).collect();
            let every = Every { ids: nodes.iter().map(|n| n.id).collect(), lines: vec![line.clone(), Vec::new(), line], nodes };
            let bytes = postcard::to_stdvec(&every).unwrap();
            proptest::prop_assert_eq!(postcard::from_bytes::<Every>(&bytes).unwrap(), every);
        }
    }
}
