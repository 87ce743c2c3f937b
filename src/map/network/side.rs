//! Left- or right-hand traffic by place.
use crate::base::geodesy::Position;
use crate::base::words::DrivingSide;

/// Rough boxes of countries with left-hand traffic: west, south, east, north in degrees (from
/// memory, coarse on purpose; a `driving_side` tag or the profile wins). Boxes in `RIGHT` cut out
/// neighbours with right-hand traffic.
const LEFT: &[[f64; 4]] = &[
    [-10.8, 51.0, 1.8, 61.0],     // Great Britain and Ireland
    [-6.5, 49.8, 1.0, 51.0],      // the south coast of England
    [14.1, 35.7, 14.7, 36.2],     // Malta
    [32.2, 34.5, 34.7, 35.8],     // Cyprus
    [60.8, 23.5, 77.9, 37.2],     // Pakistan and north-west India
    [68.0, 5.5, 88.3, 30.5],      // India, Sri Lanka, Nepal
    [88.0, 20.5, 92.3, 28.4],     // Bangladesh, Bhutan, Sikkim
    [89.5, 23.0, 97.4, 29.4],     // north-east India
    [97.4, 5.5, 105.7, 20.5],     // Thailand
    [99.5, 0.8, 104.7, 7.4],      // Malaysia and Singapore
    [94.9, -11.1, 141.0, 6.0],    // Indonesia
    [109.5, 0.8, 119.4, 7.4],     // north Borneo
    [113.8, 22.1, 114.5, 22.6],   // Hong Kong
    [122.9, 24.0, 146.0, 45.6],   // Japan
    [112.9, -43.8, 153.7, -10.0], // Australia
    [140.9, -11.7, 156.0, -1.0],  // Papua New Guinea
    [166.0, -47.5, 179.0, -34.0], // New Zealand
    [11.7, -35.0, 33.0, -17.0],   // southern Africa
    [21.9, -18.1, 33.8, -8.2],    // Zambia
    [29.5, -26.9, 41.0, -10.4],   // Mozambique, Malawi
    [29.3, -11.8, 40.5, 4.6],     // Tanzania, Kenya, Uganda
    [57.3, -20.6, 57.9, -19.9],   // Mauritius
    [-78.5, 17.6, -76.1, 18.6],   // Jamaica
    [-79.5, 20.8, -72.7, 27.4],   // Bahamas
    [-61.0, 1.2, -54.0, 8.6],     // Guyana and Suriname
    [-61.95, 10.0, -59.4, 13.4],  // Trinidad, Barbados, Grenada
];
const RIGHT: &[[f64; 4]] = &[
    [117.0, 5.0, 127.0, 19.0],  // Philippines
    [100.2, 14.4, 107.7, 22.6], // Laos, Cambodia, Viet Nam
    [92.2, 9.8, 98.7, 28.6],    // Myanmar
    [124.0, 33.0, 128.6, 38.7], // Korea
    [11.7, -16.0, 22.0, -4.5],  // Angola
    [28.9, -4.5, 30.9, -1.0],   // Rwanda and Burundi
    [60.8, 29.5, 66.0, 37.2],   // Afghanistan's south-west
];

/// Traffic side at a place.
pub(crate) fn driving_side(at: Position) -> DrivingSide {
    let inside = |b: &[f64; 4]| (b[0]..=b[2]).contains(&at.lon_deg()) && (b[1]..=b[3]).contains(&at.lat_deg());
    if LEFT.iter().any(inside) && !RIGHT.iter().any(inside) { DrivingSide::Left } else { DrivingSide::Right }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn well_known_cities_drive_on_their_side() {
        let left =
            [(-0.1, 51.5), (139.7, 35.7), (151.2, -33.9), (28.0, -26.2), (72.8, 19.0), (174.8, -41.3), (100.5, 13.7)];
        let right =
            [(2.35, 48.85), (1.52, 42.51), (-74.0, 40.7), (126.98, 37.57), (121.0, 14.6), (-28.0, 47.0), (13.2, -8.8)];
        for (lon, lat) in left {
            assert_eq!(driving_side(Position::from_deg(lon, lat)), DrivingSide::Left, "{lon} {lat}");
        }
        for (lon, lat) in right {
            assert_eq!(driving_side(Position::from_deg(lon, lat)), DrivingSide::Right, "{lon} {lat}");
        }
    }
}
