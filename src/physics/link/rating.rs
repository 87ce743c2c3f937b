//! Five ratings from the outage and the outage share of a segment.
use crate::base::words::Rating;
use crate::profile::RatingEdges;

/// The best rating of which both figures are kept.
///
/// `outage_p95_s` is the 95th percentile outage, seconds. The outage share judged is the smaller of the
/// segment's own and the one over the window around it: a blip on a segment of three seconds is a
/// third of it, yet nobody driving there would say that the road has no link a third of the time. A figure
/// that is not a number is never kept, so what is unknown is never rated well; a window share that
/// is not a number leaves the segment's own.
pub fn rating(outage_p95_s: f64, outage_share: f64, outage_share_window: f64, edges: &RatingEdges) -> Rating {
    let share = outage_share.min(outage_share_window);
    let below_dark = share < edges.dark_outage_share;
    let keeps = |outage_s: f64, share_most: f64| outage_p95_s <= outage_s && share <= share_most && below_dark;
    if keeps(edges.steady_outage_s, edges.steady_outage_share) {
        Rating::Steady
    } else if keeps(edges.blips_outage_s, edges.blips_outage_share) {
        Rating::Blips
    } else if keeps(edges.gaps_outage_s, 1.0) {
        Rating::Gaps
    } else if keeps(edges.drops_outage_s, 1.0) {
        Rating::Drops
    } else {
        Rating::Dark
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(outage_p95_s: f64, share: f64) -> Rating {
        rating(outage_p95_s, share, share, &RatingEdges::default())
    }

    #[test]
    fn edges_belong_to_the_better_rating() {
        // 0.4 s: ITU-T G.114 planning limit; 1 % and 3 %: 3GPP TS 22.105; 5 s and 30 s: RFC 7675.
        assert_eq!(of(0.0, 0.0), Rating::Steady);
        assert_eq!(of(0.4, 0.01), Rating::Steady);
        assert_eq!(of(0.41, 0.0), Rating::Blips);
        assert_eq!(of(0.0, 0.011), Rating::Blips);
        assert_eq!(of(2.0, 0.03), Rating::Blips);
        assert_eq!(of(0.3, 0.031), Rating::Gaps);
        assert_eq!(of(5.0, 0.49), Rating::Gaps);
        assert_eq!(of(5.1, 0.0), Rating::Drops);
        assert_eq!(of(30.0, 0.2), Rating::Drops);
        assert_eq!(of(30.1, 0.0), Rating::Dark);
        assert_eq!(of(0.1, 0.5), Rating::Dark);
        assert_eq!(of(f64::INFINITY, 1.0), Rating::Dark);
    }

    #[test]
    fn the_smaller_share_counts() {
        let edges = RatingEdges::default();
        assert_eq!(rating(0.3, 0.2, 0.005, &edges), Rating::Steady);
        assert_eq!(rating(0.3, 0.005, 0.2, &edges), Rating::Steady);
        assert_eq!(rating(3.0, 1.0, 0.05, &edges), Rating::Gaps);
    }

    #[test]
    fn unknown_is_never_rated_well() {
        let edges = RatingEdges::default();
        assert_eq!(rating(f64::NAN, 0.0, 0.0, &edges), Rating::Dark);
        assert_eq!(rating(0.0, f64::NAN, f64::NAN, &edges), Rating::Dark);
        assert_eq!(rating(0.0, 0.02, f64::NAN, &edges), Rating::Blips);
    }

    #[test]
    fn a_worse_figure_never_betters_the_rating() {
        let outages_s = [0.0, 0.2, 0.4, 0.5, 2.0, 3.0, 5.0, 10.0, 30.0, 31.0];
        let shares = [0.0, 0.01, 0.02, 0.03, 0.1, 0.49, 0.5, 1.0];
        for pair in outages_s.windows(2) {
            for s in shares.windows(2) {
                assert!(of(pair[0], s[0]) <= of(pair[1], s[0]));
                assert!(of(pair[0], s[0]) <= of(pair[0], s[1]));
            }
        }
    }
}
