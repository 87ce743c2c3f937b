//! What a profile assumes of trees, and its keys.
use serde::{Deserialize, Serialize};

use crate::base::settings::End::{High, Low};
use crate::base::settings::Mark::{Assumed, CommonPractice, Published};
use crate::base::settings::{Key, number, word};
use crate::base::words::words;

words! {
    /// Season of the trees.
    pub enum Season {
        /// Deciduous trees in leaf.
        LeafOn = "leaf-on",
        /// Deciduous trees bare.
        LeafOff = "leaf-off",
    }
}

/// Trees.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct CanopyProfile {
    /// Season.
    pub season: Season,
    /// Length along the road over which gaps between crowns are alike, metres.
    pub gap_length_m: f64,
    /// Spread of attenuation between published relations, the same all along a drive: standard deviation of its natural
    /// logarithm.
    pub between_ln: f64,
    /// Scatter of attenuation between crowns, anew at every gap: the same measure.
    pub within_ln: f64,
    /// Bottom of the crowns over top of the trees, away from the wood's edge.
    pub crown_base_share: f64,
    /// Height of trees without tag or raster, broad-leaved or mixed, metres: nominal clutter height of ITU-R P.452-17.
    pub broadleaved_height_m: f64,
    /// The same, needle-leaved (coniferous there).
    pub needleleaved_height_m: f64,
    /// Branches over a road are cut back up to this height, metres.
    pub cut_back_m: f64,
    /// Crowns meet over the road where trees on either side are this far apart at most, metres.
    pub crowns_meet_m: f64,
    /// From this much farther apart on they do not reach over, metres; in between the gap widens with the square.
    pub crowns_part_m: f64,
    /// Height of orchards without a tag, metres: nominal clutter height of ITU-R P.452-17 for orchards and parks.
    pub orchard_height_m: f64,
    /// Height of hedges without a tag, metres.
    pub hedge_height_m: f64,
    /// Crown diameter of single trees and tree rows without a tag, metres.
    pub crown_diameter_m: f64,
    /// From the carriageway to the crowns of tree-lined roads at most, metres.
    pub avenue_clear_m: f64,
    /// Bridges up to this long are as low as the trees beside them where elevation does not tell, metres.
    pub low_bridge_m: f64,
}

impl Default for CanopyProfile {
    fn default() -> Self {
        Self {
            season: Season::LeafOn,
            gap_length_m: 4.0,
            between_ln: 0.57,
            within_ln: 0.43,
            crown_base_share: 0.25,
            broadleaved_height_m: 15.0,
            needleleaved_height_m: 20.0,
            cut_back_m: 4.5,
            crowns_meet_m: 2.0,
            crowns_part_m: 3.0,
            orchard_height_m: 4.0,
            hedge_height_m: 2.0,
            crown_diameter_m: 6.0,
            avenue_clear_m: 1.5,
            low_bridge_m: 60.0,
        }
    }
}

/// Their keys.
pub(crate) const KEYS: &[Key] = &[
    word("canopy.season", Assumed, Season::NAMES, "whether deciduous trees are in leaf"),
    number("canopy.gap_length_m", Assumed, 0.5, 50.0, "m", "gaps between crowns are alike over this length of road")
        .likely(2.0, 10.0),
    number(
        "canopy.between_ln",
        Published,
        0.0,
        3.0,
        "",
        "spread of ln(attenuation) between published relations, one value for a whole drive: 0.57 between Weissberger, FITU-R and ITU-R P.833-10 for 10 m of leaves at 12 GHz",
    )
    .likely(0.3, 0.9),
    number(
        "canopy.within_ln",
        Published,
        0.05,
        3.0,
        "",
        "scatter of ln(attenuation) between crowns, anew at every gap: 0.43 by rms 5 of 11 dB (Goldhirsh and Vogel 1998)",
    )
    .likely(0.3, 0.7),
    number(
        "canopy.crown_base_share",
        Assumed,
        0.0,
        0.95,
        "",
        "bottom of the crowns divided by the height of the trees, inside a wood",
    )
    .likely(0.1, 0.5).worse(Low),
    number(
        "canopy.broadleaved_height_m",
        Published,
        1.0,
        80.0,
        "m",
        "trees without a height, deciduous and mixed: nominal clutter height of ITU-R P.452-17 (of woods as a whole, not of single trees)",
    )
    .likely(8.0, 25.0).worse(High),
    number(
        "canopy.needleleaved_height_m",
        Published,
        1.0,
        80.0,
        "m",
        "trees without a height, coniferous: nominal clutter height of ITU-R P.452-17",
    )
    .likely(12.0, 32.0).worse(High),
    number(
        "canopy.cut_back_m",
        CommonPractice,
        2.0,
        10.0,
        "m",
        "branches over a road are cut back for lorries up to this height",
    )
    .likely(4.0, 5.5).worse(Low),
    number(
        "canopy.crowns_meet_m",
        Assumed,
        0.0,
        30.0,
        "m",
        "crowns meet over a road where the trees on its two sides are at most this far apart",
    )
    .likely(1.0, 5.0).worse(High),
    number(
        "canopy.crowns_part_m",
        Assumed,
        0.5,
        30.0,
        "m",
        "trees this much farther apart do not reach over the road; in between, the gap widens with the square of the distance",
    )
    .likely(2.5, 6.0).worse(High),
    number(
        "canopy.orchard_height_m",
        Published,
        1.0,
        30.0,
        "m",
        "orchards without a height: nominal clutter height of ITU-R P.452-17 for orchards, parks and sparse trees",
    )
    .likely(3.0, 8.0).worse(High),
    number("canopy.hedge_height_m", Assumed, 0.5, 20.0, "m", "hedges without a height").likely(1.5, 3.0).worse(High),
    number(
        "canopy.crown_diameter_m",
        Assumed,
        1.0,
        40.0,
        "m",
        "crowns of single trees and tree rows without a diameter",
    )
    .likely(4.0, 10.0).worse(High),
    number(
        "canopy.avenue_clear_m",
        Assumed,
        0.0,
        10.0,
        "m",
        "largest distance from the carriageway to the crowns along tree-lined roads",
    )
    .likely(0.5, 3.0).worse(Low),
    number(
        "canopy.low_bridge_m",
        Assumed,
        0.0,
        10000.0,
        "m",
        "without elevation, bridges up to this long are assumed to be no higher than the foot of the trees beside them; on longer ones, it is not known whether trees block",
    ),
];
