//! Five ratings from the outage and the outage share of a segment.
use crate::base::words::{RatedBy, Rating};
use crate::profile::RatingEdges;

/// The word for the outage and the outage share of a segment.
///
/// `outage_p95_s` is the 95th percentile outage, seconds: it says the word. The outage share makes it at most one step worse,
/// so that the seconds a word stands for are never far from those shown: many blinks do not make a long outage. Above the
/// share of `dark` it is dark. The share judged is the smaller of the segment's own and the one over the window around it: a
/// blip on a segment of three seconds is a third of it, yet nobody driving there would say that the road has no link a third of the
/// time. A figure that is not a number is never kept, so what is unknown is never rated well; a window share that
/// is not a number leaves the segment's own.
pub fn rating(outage_p95_s: f64, outage_share: f64, outage_share_window: f64, edges: &RatingEdges) -> Rating {
    judge(outage_p95_s, outage_share, outage_share_window, edges).0
}

/// The word as [`rating`] finds it, and which of the two figures decided it.
pub fn judge(outage_p95_s: f64, outage_share: f64, outage_share_window: f64, edges: &RatingEdges) -> (Rating, RatedBy) {
    let share = outage_share.min(outage_share_window);
    let by_outage = first_within(
        outage_p95_s,
        [
            (edges.steady_outage_s, Rating::Steady),
            (edges.blips_outage_s, Rating::Blips),
            (edges.gaps_outage_s, Rating::Gaps),
            (edges.drops_outage_s, Rating::Drops),
        ],
    );
    let by_share = first_within(
        share,
        [
            (edges.steady_outage_share, Rating::Steady),
            (edges.blips_outage_share, Rating::Blips),
            (edges.dark_outage_share, Rating::Gaps),
        ],
    );
    let rating = match (by_outage, by_share) {
        (_, Rating::Dark) => Rating::Dark,
        (by_outage, by_share) if by_share > by_outage => one_worse(by_outage),
        (by_outage, _) => by_outage,
    };
    let by = match rating {
        Rating::Steady => RatedBy::None,
        rating if rating == by_outage => RatedBy::Outage,
        _ => RatedBy::Share,
    };
    (rating, by)
}

/// The rating of the first edge that a figure keeps; dark where it keeps none.
fn first_within<const N: usize>(figure: f64, edges: [(f64, Rating); N]) -> Rating {
    edges.into_iter().find(|(edge, _)| figure <= *edge).map_or(Rating::Dark, |(_, rating)| rating)
}

fn one_worse(rating: Rating) -> Rating {
    Rating::ALL.iter().copied().find(|worse| *worse > rating).unwrap_or(Rating::Dark)
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
        assert_eq!(of(0.5, 0.031), Rating::Gaps);
        assert_eq!(of(5.0, 0.49), Rating::Gaps);
        assert_eq!(of(5.1, 0.0), Rating::Drops);
        assert_eq!(of(30.0, 0.2), Rating::Drops);
        assert_eq!(of(30.1, 0.0), Rating::Dark);
        assert_eq!((of(0.1, 0.5), of(0.1, 0.501)), (Rating::Blips, Rating::Dark));
        assert_eq!(of(f64::INFINITY, 1.0), Rating::Dark);
    }

    #[test]
    fn the_figure_that_decides_is_named() {
        let by = |p95_s: f64, share: f64| judge(p95_s, share, share, &RatingEdges::default());
        assert_eq!(by(0.4, 0.01), (Rating::Steady, RatedBy::None));
        assert_eq!(by(1.9, 0.02), (Rating::Blips, RatedBy::Outage));
        assert_eq!(by(0.3, 0.02), (Rating::Blips, RatedBy::Share));
        assert_eq!(by(1.9, 0.2), (Rating::Gaps, RatedBy::Share));
        assert_eq!(by(4.0, 0.2), (Rating::Gaps, RatedBy::Outage), "the share asks for no more than the outage does");
        assert_eq!(by(4.0, 0.6), (Rating::Dark, RatedBy::Share));
        assert_eq!(by(40.0, 0.6), (Rating::Dark, RatedBy::Outage));
    }

    #[test]
    fn the_smaller_share_counts() {
        let edges = RatingEdges::default();
        assert_eq!(rating(0.3, 0.2, 0.005, &edges), Rating::Steady);
        assert_eq!(rating(0.3, 0.005, 0.2, &edges), Rating::Steady);
        assert_eq!(rating(3.0, 1.0, 0.05, &edges), Rating::Gaps);
        assert_eq!(rating(3.0, 0.6, 0.55, &edges), Rating::Dark);
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

    #[test]
    fn words_fit_their_figures() {
        // The seconds shown are within the word's edge, and one of the two figures is beyond those of the next better word.
        let edges = RatingEdges::default();
        let outage_edges_s = [edges.steady_outage_s, edges.blips_outage_s, edges.gaps_outage_s, edges.drops_outage_s];
        let share_edges = [edges.steady_outage_share, edges.blips_outage_share, edges.dark_outage_share, f64::INFINITY];
        for k in 0..200 {
            for n in 0..200 {
                let (p95_s, share) = (0.0005 * f64::from(k).powf(2.1), 1e-5 * f64::from(n).powf(2.18));
                let found = of(p95_s, share);
                let step = found as usize;
                if found == Rating::Dark {
                    assert!(p95_s > edges.drops_outage_s || share > edges.dark_outage_share);
                    continue;
                }
                assert!(p95_s <= outage_edges_s[step] && share <= edges.dark_outage_share, "{found:?} {p95_s} {share}");
                if step > 0 {
                    assert!(
                        p95_s > outage_edges_s[step - 1] || share > share_edges[step - 1],
                        "{found:?} {p95_s} {share}"
                    );
                }
                if p95_s <= edges.steady_outage_s {
                    assert!(found <= Rating::Blips, "outages of {p95_s} s are at most blips, however many");
                }
            }
        }
    }
}
