//! Offsets over time as time zone information (RFC 8536), the form in which `jiff` takes a zone of our own.

/// A change of the offset from UTC.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct OffsetChange {
    /// When, seconds since 1970-01-01T00:00:00Z.
    pub at_s: i64,
    /// What holds from then on.
    pub to: LocalTimeKind,
}

/// A kind of local time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct LocalTimeKind {
    /// Seconds east of UTC.
    pub offset_s: i32,
    /// Daylight saving time.
    pub daylight: bool,
    /// Short name, 3 to 6 letters, digits or signs.
    pub name: String,
}

/// The bytes of version 2: an empty first block, then 64-bit times. `changes` rise strictly.
///
/// # Errors
/// More kinds of local time than the form can hold.
pub fn bytes(before: &LocalTimeKind, changes: &[OffsetChange]) -> Result<Vec<u8>, String> {
    let mut kinds = vec![before.clone()];
    let mut indices = Vec::with_capacity(changes.len());
    for change in changes {
        let index = kinds.iter().position(|k| *k == change.to).unwrap_or(kinds.len());
        if index == kinds.len() {
            kinds.push(change.to.clone());
        }
        indices.push(u8::try_from(index).map_err(|_| "has more than 256 kinds of local time")?);
    }
    let mut names = Vec::new();
    let mut types = Vec::new();
    for kind in &kinds {
        types.extend(kind.offset_s.to_be_bytes());
        types.push(u8::from(kind.daylight));
        types.push(u8::try_from(names.len()).map_err(|_| "has too many names of local time")?);
        names.extend(kind.name.bytes());
        names.push(0);
    }
    let count = |n: usize| u32::try_from(n).map_err(|_| "has too many changes of local time".to_owned());
    let mut out = header([0, 1, 1]);
    out.extend([0; 6]);
    out.push(0);
    out.extend(header([count(changes.len())?, count(kinds.len())?, count(names.len())?]));
    changes.iter().for_each(|c| out.extend(c.at_s.to_be_bytes()));
    out.extend(indices);
    out.extend(types);
    out.extend(names);
    out.extend(b"\n\n");
    Ok(out)
}

/// Header with the numbers of changes, kinds and bytes of names.
fn header([changes, kinds, names]: [u32; 3]) -> Vec<u8> {
    let mut out = b"TZif2".to_vec();
    out.extend([0; 15]);
    for n in [0, 0, 0, changes, kinds, names] {
        out.extend(n.to_be_bytes());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::{Timestamp, tz::TimeZone};

    #[test]
    fn a_zone_of_our_own_is_read_back() {
        let kind =
            |hours: i32, daylight, name: &str| LocalTimeKind { offset_s: hours * 3600, daylight, name: name.into() };
        let changes = [
            OffsetChange { at_s: 1_000, to: kind(2, true, "AAA") },
            OffsetChange { at_s: 5_000_000_000, to: kind(1, false, "BBB") },
        ];
        let zone = TimeZone::tzif("Mine", &bytes(&kind(1, false, "BBB"), &changes).unwrap()).unwrap();
        for (at_s, hours) in [(0, 1), (999, 1), (1_000, 2), (4_999_999_999, 2), (5_000_000_000, 1), (9_000_000_000, 1)]
        {
            let offset = zone.to_offset(Timestamp::from_second(at_s).unwrap());
            assert_eq!(offset.seconds(), hours * 3600, "{at_s}");
        }
        assert_eq!(zone.iana_name(), Some("Mine"));
    }
}
