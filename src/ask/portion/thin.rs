//! Fewer roads than there are: the least groups go first.
use super::model::RoadsLeftOut;
use crate::layer::RoadGroup;
use crate::layer::model::SegmentRow;

/// The order in which groups are left out. Main roads, ferries and shuttle trains always stay.
const LEAST_FIRST: [RoadGroup; 3] = [RoadGroup::Lesser, RoadGroup::Local, RoadGroup::Through];

/// Takes whole groups out until at most `most` are left, as far as that goes; what was taken.
pub(super) fn thinned(segments: &mut Vec<SegmentRow>, most: usize) -> Vec<RoadsLeftOut> {
    let mut out = Vec::new();
    for group in LEAST_FIRST {
        if segments.len() <= most {
            break;
        }
        let mut left = RoadsLeftOut { group, segments: 0, km: 0.0 };
        segments.retain(|s| {
            let goes = RoadGroup::of(s.highway) == group;
            if goes {
                left.segments += 1;
                left.km += s.length_m / 1e3;
            }
            !goes
        });
        out.extend((left.segments > 0).then_some(left));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::words::Highway;

    fn rows(of: &[(Highway, usize)]) -> Vec<SegmentRow> {
        let row = |highway| SegmentRow { highway, length_m: 250.0, ..SegmentRow::default() };
        of.iter().flat_map(|(highway, count)| std::iter::repeat_n(row(*highway), *count)).collect()
    }

    #[test]
    fn the_least_roads_go_first_and_are_counted() {
        let all = rows(&[(Highway::Trunk, 3), (Highway::Track, 4), (Highway::Residential, 5), (Highway::Tertiary, 6)]);
        let told = |most: usize| {
            let mut kept = all.clone();
            let out = thinned(&mut kept, most);
            let named: Vec<_> = out.iter().map(|o| (o.group, o.segments, o.km)).collect();
            (kept.len(), named)
        };
        assert_eq!(told(18), (18, vec![]));
        assert_eq!(told(17), (14, vec![(RoadGroup::Lesser, 4, 1.0)]));
        assert_eq!(told(10), (9, vec![(RoadGroup::Lesser, 4, 1.0), (RoadGroup::Local, 5, 1.25)]));
        // Main roads stay, however many they are.
        assert_eq!(told(1).0, 3);
    }
}
