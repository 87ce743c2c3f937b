//! Which districts of an extract are wanted.
use geo::{Intersects, LineString, MultiPolygon, Polygon, Rect, coord};
use geojson::{GeoJson, Geometry, Value};

use crate::base::district::{District, Reach};
use crate::base::geodesy::Position;
use crate::map::extract::crossing::first_crossing;

/// What is wanted of an extract: whole districts, those that it touches.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Region {
    /// Everything.
    #[default]
    Whole,
    /// A box.
    Bounds(Reach),
    /// Polygons, longitude and latitude in degrees.
    Area(MultiPolygon<f64>),
    /// What lies near lines.
    Along {
        /// The lines.
        lines: Vec<Vec<Position>>,
        /// How near, metres.
        buffer_m: f64,
    },
}

impl Region {
    /// A box from its edges, degrees. One whose west lies east of its east runs across 180 degrees.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn bounds(west_deg: f64, south_deg: f64, east_deg: f64, north_deg: f64) -> Result<Self, String> {
        for (name, value, most) in [
            ("west", west_deg, 180.0),
            ("south", south_deg, 90.0),
            ("east", east_deg, 180.0),
            ("north", north_deg, 90.0),
        ] {
            if !value.is_finite() || value.abs() > most {
                return Err(format!("{name} {value} is not from -{most} to {most}"));
            }
        }
        if south_deg >= north_deg {
            return Err(format!("south {south_deg} is not below north {north_deg}"));
        }
        if west_deg == east_deg {
            return Err(format!("west and east are both {west_deg}"));
        }
        if west_deg > east_deg && east_deg + 360.0 - west_deg > 180.0 {
            return Err(format!("from west {west_deg} eastwards to {east_deg} is more than half around the globe"));
        }
        let (low, high) = (Position::from_deg(west_deg, south_deg), Position::from_deg(east_deg, north_deg));
        let turn_e7 = if west_deg > east_deg { 3_600_000_000 } else { 0 };
        Ok(Self::Bounds(Reach {
            south_e7: low.lat_e7.into(),
            west_e7: low.lon_e7.into(),
            // A box that ends on a line does not take what lies beyond.
            north_e7: i64::from(high.lat_e7) - 1,
            east_e7: i64::from(high.lon_e7) + turn_e7 - 1,
        }))
    }

    /// Polygons of a GeoJSON text (RFC 7946): alone, in features or in collections.
    ///
    /// # Errors
    /// It is not GeoJSON, holds no polygon, or one that is not valid.
    pub fn area(text: &str) -> Result<Self, String> {
        let json: GeoJson = text.parse().map_err(|e| format!("is not valid GeoJSON: {e}"))?;
        let mut polygons = Vec::new();
        match &json {
            GeoJson::Geometry(geometry) => take(geometry, &mut polygons)?,
            GeoJson::Feature(feature) => feature.geometry.iter().try_for_each(|g| take(g, &mut polygons))?,
            GeoJson::FeatureCollection(all) => {
                all.features.iter().flat_map(|f| &f.geometry).try_for_each(|g| take(g, &mut polygons))?;
            }
        }
        if polygons.is_empty() {
            return Err("is GeoJSON, but holds no polygon".into());
        }
        for (nth, polygon) in (1..).zip(&polygons) {
            let rings = std::iter::once(polygon.exterior()).chain(polygon.interiors());
            for ring in rings {
                if ring.0.len() < 4 {
                    return Err(format!("polygon {nth} is not valid: a ring has fewer than three corners"));
                }
                if let Some(at) = first_crossing(std::slice::from_ref(ring)) {
                    return Err(format!(
                        "polygon {nth} is not valid: a ring crosses itself near {:.5},{:.5}",
                        at.y, at.x
                    ));
                }
            }
        }
        Ok(Self::Area(MultiPolygon(polygons)))
    }

    /// What lies near lines.
    pub fn along(lines: Vec<Vec<Position>>, buffer_m: f64) -> Self {
        Self::Along { lines, buffer_m }
    }

    /// Whether a district is wanted.
    pub fn takes(&self, district: District) -> bool {
        match self {
            Self::Whole => true,
            Self::Bounds(bounds) => bounds.meets(&district.reach(0.0)),
            Self::Area(polygons) => {
                let own = district.reach(0.0);
                let corner = |lon_e7: i64, lat_e7: i64| coord! { x: lon_e7 as f64 * 1e-7, y: lat_e7 as f64 * 1e-7 };
                // Columns count eastwards from Greenwich: those of the west lie beyond 180 degrees.
                let turn_e7 = if own.west_e7 >= 1_800_000_000 { 3_600_000_000 } else { 0 };
                let rect =
                    Rect::new(corner(own.west_e7 - turn_e7, own.south_e7), corner(own.east_e7 - turn_e7, own.north_e7));
                polygons.intersects(&rect)
            }
            Self::Along { lines, buffer_m } => {
                let near = district.reach(*buffer_m);
                let meets = |places: &[Position]| {
                    Reach::around(places.iter().copied()).is_some_and(|around| near.meets(&around))
                };
                lines.iter().any(|line| match line.len() {
                    0 => false,
                    1 => meets(line),
                    _ => line.windows(2).any(meets),
                })
            }
        }
    }
}

fn take(geometry: &Geometry, polygons: &mut Vec<Polygon<f64>>) -> Result<(), String> {
    match &geometry.value {
        Value::Polygon(rings) => polygons.push(polygon(rings)?),
        Value::MultiPolygon(all) => {
            for rings in all {
                polygons.push(polygon(rings)?);
            }
        }
        Value::GeometryCollection(parts) => parts.iter().try_for_each(|g| take(g, polygons))?,
        _ => {}
    }
    Ok(())
}

fn polygon(rings: &[Vec<Vec<f64>>]) -> Result<Polygon<f64>, String> {
    let ring = |places: &Vec<Vec<f64>>| -> Result<LineString<f64>, String> {
        let place =
            |place: &Vec<f64>| match place[..] {
                [lon, lat, ..] if lon.abs() <= 180.0 && lat.abs() <= 90.0 => Ok(coord! { x: lon, y: lat }),
                _ => Err("a corner is not a longitude from -180 to 180 and a latitude from -90 to 90, in this order"
                    .to_owned()),
            };
        places.iter().map(place).collect::<Result<Vec<_>, _>>().map(LineString)
    };
    let mut rings = rings.iter().map(ring).collect::<Result<Vec<_>, _>>()?.into_iter();
    let outer = rings.next().ok_or("a polygon has no ring")?;
    Ok(Polygon::new(outer, rings.collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon: f64, lat: f64) -> District {
        District::of(Position::from_deg(lon, lat))
    }

    #[test]
    fn a_box_takes_the_districts_it_touches_across_180_degrees_too() {
        let small = Region::bounds(1.4, 42.4, 1.55, 42.6).unwrap();
        let taken =
            |region: &Region, all: &[(f64, f64)]| all.iter().map(|(x, y)| region.takes(at(*x, *y))).collect::<Vec<_>>();
        let places = [(1.3, 42.3), (1.6, 42.7), (1.1, 42.4), (1.8, 42.6), (1.4, 42.9)];
        assert_eq!(taken(&small, &places), [true, true, false, false, false]);
        let across = Region::bounds(179.9, -1.0, -179.9, 1.0).unwrap();
        assert_eq!(
            taken(&across, &[(179.9, 0.1), (-179.9, 0.1), (0.0, 0.0), (179.6, 0.1)]),
            [true, true, false, false]
        );
        assert!(Region::bounds(-28.0, 46.9, -28.2, 47.0).unwrap_err().contains("half around the globe"));
        for bad in [(1.0, 5.0, 2.0, 4.0), (1.0, 4.0, 1.0, 5.0), (f64::NAN, 4.0, 1.0, 5.0), (42.0, 1.0, 43.0, 91.0)] {
            assert!(Region::bounds(bad.0, bad.1, bad.2, bad.3).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn polygons_take_what_they_touch_and_nothing_in_their_holes() {
        let square = |w: f64, s: f64, e: f64, n: f64| format!("[[{w},{s}],[{e},{s}],[{e},{n}],[{w},{n}],[{w},{s}]]");
        let text = format!(
            r#"{{"type":"Feature","properties":{{}},"geometry":{{"type":"Polygon","coordinates":[{},{}]}}}}"#,
            square(-2.0, 50.0, 0.0, 52.0),
            square(-1.6, 50.4, -0.4, 51.6)
        );
        let frame = Region::area(&text).unwrap();
        let taken: Vec<bool> = [(-1.9, 50.1), (-1.0, 51.0), (-0.1, 51.9), (0.1, 51.0), (-2.1, 51.0)]
            .iter()
            .map(|(x, y)| frame.takes(at(*x, *y)))
            .collect();
        // Touching the edge at 0 degrees is touching.
        assert_eq!(taken, [true, false, true, true, true]);
        let bow_tie = r#"{"type":"Polygon","coordinates":[[[0,0],[1,1],[1,0],[0,1],[0,0]]]}"#;
        assert!(Region::area(bow_tie).unwrap_err().contains("crosses itself"));
        // A border with very many corners.
        let corner = |k: usize| {
            let turn = std::f64::consts::TAU * (k % 200_000) as f64 / 200_000.0;
            format!("[{:.9},{:.9}]", 1.5 + 0.1 * turn.cos(), 42.5 + 0.1 * turn.sin())
        };
        let corners: Vec<String> = (0..=200_000).map(corner).collect();
        let round = format!(r#"{{"type":"Polygon","coordinates":[[{}]]}}"#, corners.join(","));
        assert!(Region::area(&round).unwrap().takes(at(1.5, 42.5)));
        let point = r#"{"type":"Point","coordinates":[0,0]}"#;
        assert!(Region::area(point).unwrap_err().contains("holds no polygon"));
        let swapped = r#"{"type":"Polygon","coordinates":[[[50,95],[51,95],[51,96],[50,95]]]}"#;
        assert!(Region::area(swapped).unwrap_err().contains("in this order"));
        assert!(Region::area("{").unwrap_err().contains("not valid GeoJSON"));
    }

    #[test]
    fn a_line_takes_what_is_near_it() {
        let line = |places: &[(f64, f64)]| places.iter().map(|(x, y)| Position::from_deg(*x, *y)).collect::<Vec<_>>();
        let near = Region::along(vec![line(&[(1.6, 42.6), (1.62, 42.7)]), Vec::new()], 10_000.0);
        let taken: Vec<bool> = [(1.6, 42.6), (1.3, 42.6), (1.6, 42.8), (1.1, 42.6), (1.6, 43.1)]
            .iter()
            .map(|(x, y)| near.takes(at(*x, *y)))
            .collect();
        assert_eq!(taken, [true, true, true, false, false]);
    }
}
