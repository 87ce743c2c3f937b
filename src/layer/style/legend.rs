//! Words of the legend.
use crate::base::words::Rating;
use crate::profile::RatingEdges;

/// What a rating means, with the edges in force: `2 gaps: outages to 5 s, or over 3 % of time`.
pub fn rating(rating: Rating, edges: &RatingEdges) -> String {
    let percent = |share: f64| (share * 1e3).round() / 10.0;
    let meaning = match rating {
        Rating::Steady => {
            format!("outages to {} s, to {} % of time", edges.steady_outage_s, percent(edges.steady_outage_share))
        }
        Rating::Blips => {
            format!("outages to {} s, or over {} % of time", edges.blips_outage_s, percent(edges.steady_outage_share))
        }
        Rating::Gaps => {
            format!("outages to {} s, or over {} % of time", edges.gaps_outage_s, percent(edges.blips_outage_share))
        }
        Rating::Drops => format!("outages to {} s", edges.drops_outage_s),
        Rating::Dark => format!("longer outages, or over {} % of time", percent(edges.dark_outage_share)),
    };
    format!("{} {rating}: {meaning}", rating.code())
}
