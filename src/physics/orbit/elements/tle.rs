//! Two-line sets, with or without a line for the name (`0 NAME` or the name alone). What the columns hold is
//! read by the crate `sgp4`; finding the sets among other lines, and keeping from it what it cannot take, is
//! done here.
use jiff::Timestamp;

use super::message::{SGP4_TYPES, checked, other_theory};
use super::model::{LeftOut, MeanElements, SetsRead};

/// Columns of either line; what follows (some files carry notes there) is not part of the set.
const COLUMNS: usize = 69;
/// A first or second line that has lost its end is still seen for what it is from this length.
const LEAST_COLUMNS: usize = 60;

/// Whether a line looks like the first or second of a set.
pub(super) fn is_either_line(line: &str) -> bool {
    is_line(line, b'1') || is_line(line, b'2')
}

fn is_line(line: &str, number: u8) -> bool {
    let bytes = line.trim_end().as_bytes();
    bytes.len() >= LEAST_COLUMNS && bytes[0] == number && bytes[1] == b' '
}

pub(super) fn read(text: &str) -> SetsRead {
    let mut found = SetsRead::default();
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    let mut name = "";
    let mut k = 0;
    while k < lines.len() {
        let line = lines[k];
        let second = lines.get(k + 1).copied().filter(|next| is_line(next, b'2'));
        match second {
            Some(second) if is_line(line, b'1') => {
                let set = set(line, second, name);
                found.take(|| place(k, line, name), set);
                k += 1;
                name = "";
            }
            _ if is_either_line(line) => {
                let want = if line.starts_with('1') { "second line is missing" } else { "first line is missing" };
                found.take(|| place(k, line, name), Err(LeftOut::bad(want)));
                name = "";
            }
            _ if line.trim().is_empty() || line.starts_with('#') => {}
            _ => name = line.strip_prefix("0 ").unwrap_or(line).trim(),
        }
        k += 1;
    }
    found
}

fn place(index: usize, line: &str, name: &str) -> String {
    let number: String = line.chars().skip(2).take(5).collect();
    let blank = if name.is_empty() { "" } else { " " };
    format!("object {}{blank}{name} (line {})", number.trim(), index + 1)
}

fn set(first: &str, second: &str, name: &str) -> Result<MeanElements, LeftOut> {
    let mut first = columns(first, "first")?;
    let second = columns(second, "second")?;
    let kind = char::from(first[62]).to_string();
    if kind != " " && !SGP4_TYPES.contains(&kind.as_str()) {
        return Err(other_theory("ephemeris type", &kind));
    }
    // Blanks that some writers leave where the reader wants a sign or a digit; none changes the checksum.
    for (column, filler) in [(50, b'+'), (59, b'+'), (62, b'0')] {
        if first[column] == b' ' {
            first[column] = filler;
        }
    }
    let read = sgp4::Elements::from_tle(None, &first, &second).map_err(|e| LeftOut::bad(e.to_string()))?;
    let time = read.datetime.and_utc();
    let epoch = Timestamp::new(time.timestamp(), time.timestamp_subsec_nanos() as i32);
    checked(MeanElements {
        catalogue_number: read.norad_id,
        name: name.to_owned(),
        epoch: epoch.map_err(|e| LeftOut::bad(format!("epoch: {e}")))?,
        mean_motion_rev_day: read.mean_motion,
        eccentricity: read.eccentricity,
        inclination_deg: read.inclination,
        node_deg: read.right_ascension,
        perigee_deg: read.argument_of_perigee,
        anomaly_deg: read.mean_anomaly,
        bstar: read.drag_term,
        half_motion_rate_rev_day2: read.mean_motion_dot,
    })
}

/// The columns of one line. Plain characters and a digit at the end are checked here: the reader counts on
/// both.
fn columns(line: &str, which: &str) -> Result<Vec<u8>, LeftOut> {
    let bytes = line.as_bytes();
    let more = bytes.get(COLUMNS).is_some_and(|b| !b.is_ascii_whitespace());
    if bytes.len() < COLUMNS || more {
        return Err(LeftOut::bad(format!("{which} line does not have {COLUMNS} columns")));
    }
    let bytes = bytes[..COLUMNS].to_vec();
    if !bytes.iter().all(|b| (b' '..=b'~').contains(b)) {
        return Err(LeftOut::bad(format!("{which} line holds characters that do not belong there")));
    }
    if !bytes[COLUMNS - 1].is_ascii_digit() {
        return Err(LeftOut::bad(format!("{which} line does not end in a checksum")));
    }
    Ok(bytes)
}
