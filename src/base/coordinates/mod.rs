//! Coordinates in the spellings that maps, messages and devices use: `42.5,1.5`, `42,5 1,5`, `N42.5 E1.5`,
//! `42°30'15.5"N 1°30'E`, `42 30 15.5 N, 1 30 0 E`, `geo:42.5,1.5;u=10` (RFC 5870).
//!
//! A parser of our own: crates that read some of these forms take what is half spelt for whole, or swap in silence.
//! Latitude comes first unless letters say otherwise.

#[cfg(test)]
mod tests;

/// A place as coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coordinates {
    /// Latitude, degrees.
    pub lat_deg: f64,
    /// Longitude, degrees.
    pub lon_deg: f64,
    /// Letters say which is which.
    pub lettered: bool,
}

/// A part of the text.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Spelt {
    /// A number: its value, whether it has a sign, whether it has decimals.
    Number {
        value: f64,
        signed: bool,
        broken: bool,
    },
    Degree,
    Minute,
    Second,
    Letter(char),
    Separator,
}

/// Reads coordinates; nothing where the text is something else, such as a name.
///
/// # Errors
/// It is meant as coordinates and is not a place on earth, or could be read in two ways: a sentence.
pub fn read(text: &str) -> Result<Option<Coordinates>, String> {
    let text = text.trim();
    if text.get(..4).is_some_and(|scheme| scheme.eq_ignore_ascii_case("geo:")) {
        return geo_uri(&text[4..]).map(Some);
    }
    let Some(plain) = plain_signs(text) else { return Ok(None) };
    let (pieces, values) = match pieces(&plain)? {
        Some(pieces) => {
            let values = pieces.iter().filter(|p| matches!(p, Spelt::Number { .. })).count();
            (pieces, values)
        }
        None => return Ok(None),
    };
    // One number alone may be the name of a road.
    if values < 2 && !pieces.contains(&Spelt::Separator) {
        return Ok(None);
    }
    let (first, second) = halves(&pieces)?;
    joined(half(first)?, half(second)?).map(Some)
}

/// One spelling for each sign that people and programs write differently; nothing where coordinates have no such letter.
fn plain_signs(text: &str) -> Option<String> {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        out.push(match c {
            '\u{2212}' | '\u{2010}' | '\u{2011}' | '\u{2013}' => '-',
            '°' | 'º' | '˚' => '°',
            '\'' | '\u{2032}' | '\u{2019}' | '\u{2018}' | '\u{b4}' => '\'',
            '"' | '\u{2033}' | '\u{201d}' | '\u{201c}' => '"',
            'n' | 's' | 'e' | 'w' => c.to_ascii_uppercase(),
            'N' | 'S' | 'E' | 'W' | '0'..='9' | '.' | ',' | ';' | '+' | '-' => c,
            c if c.is_whitespace() => ' ',
            _ => return None,
        });
    }
    out.bytes().any(|b| b.is_ascii_digit()).then(|| out.replace("''", "\""))
}

/// Whether commas are those of decimals.
///
/// # Errors
/// They could be either.
fn decimal_commas(text: &str) -> Result<bool, String> {
    let bytes = text.as_bytes();
    let digit = |at: Option<usize>| at.and_then(|at| bytes.get(at)).is_some_and(u8::is_ascii_digit);
    let inner = |word: &str, at: usize| {
        let of = word.as_ptr() as usize - text.as_ptr() as usize + at;
        digit(of.checked_sub(1)) && (digit(Some(of + 1)))
    };
    let words: Vec<&str> = text.split([' ', ';']).filter(|w| w.bytes().any(|b| b.is_ascii_digit())).collect();
    let most = words.iter().map(|w| w.match_indices(',').filter(|(at, _)| inner(w, *at)).count()).max().unwrap_or(0);
    match (text.contains('.'), words.len(), most) {
        (true, ..) | (_, _, 0) | (_, 1, 1) => Ok(false),
        (_, 2.., 1) => Ok(true),
        _ => Err(format!("commas could part numbers or decimals: write points for decimals, such as {}", "42.5,1.5")),
    }
}

/// The text in pieces; nothing where coordinates have no such piece.
fn pieces(text: &str) -> Result<Option<Vec<Spelt>>, String> {
    let commas = decimal_commas(text)?;
    let mut out: Vec<Spelt> = Vec::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let mut taken = c.len_utf8();
        match c {
            ' ' => {}
            '°' => out.push(Spelt::Degree),
            '\'' => out.push(Spelt::Minute),
            '"' => out.push(Spelt::Second),
            'N' | 'S' | 'E' | 'W' => out.push(Spelt::Letter(c)),
            ',' | ';' => out.push(Spelt::Separator),
            _ => match number(rest, commas) {
                Some((piece, length)) => {
                    out.push(piece);
                    taken = length;
                }
                None => return Ok(None),
            },
        }
        rest = &rest[taken..];
    }
    Ok(Some(out))
}

/// A number at the beginning of a text, and how many bytes it takes.
fn number(text: &str, commas: bool) -> Option<(Spelt, usize)> {
    let signed = text.starts_with(['+', '-']);
    let digits = &text[usize::from(signed)..];
    let whole = digits.bytes().take_while(u8::is_ascii_digit).count();
    let point = |b: u8| b == b'.' || commas && b == b',';
    let after = digits.as_bytes().get(whole).copied().filter(|b| point(*b));
    let decimals = after.map_or(0, |_| digits[whole + 1..].bytes().take_while(u8::is_ascii_digit).count());
    // `42.` is a number; a comma with nothing behind it parts.
    let has_point = after.is_some_and(|b| b == b'.' || decimals > 0);
    if whole + decimals == 0 {
        return None;
    }
    let length = usize::from(signed) + whole + if has_point { 1 + decimals } else { 0 };
    let value: f64 = text[..length].replace(',', ".").parse().ok()?;
    // The sign of -0°30' is that of all of it.
    Some((Spelt::Number { value, signed, broken: has_point }, length))
}

/// Where the first coordinate ends and the second begins.
fn halves(pieces: &[Spelt]) -> Result<(&[Spelt], &[Spelt]), String> {
    let places = |of: fn(&Spelt) -> bool| -> Vec<usize> {
        pieces.iter().enumerate().filter(|(_, p)| of(p)).map(|(i, _)| i).collect()
    };
    let numbers = places(|p| matches!(p, Spelt::Number { .. }));
    let (letters, degrees) = (places(|p| matches!(p, Spelt::Letter(_))), places(|p| *p == Spelt::Degree));
    let separators = places(|p| *p == Spelt::Separator);
    let split = |at: usize| Ok((&pieces[..at], &pieces[at..]));
    match (separators.as_slice(), letters.as_slice()) {
        ([at], _) => Ok((&pieces[..*at], &pieces[at + 1..])),
        ([], [0, second]) => split(*second),
        ([], [first, _]) => split(first + 1),
        ([], []) if degrees.len() == 2 && degrees[1] > 0 => split(degrees[1] - 1),
        ([], []) if degrees.is_empty() && numbers.len() % 2 == 0 && pieces.len() == numbers.len() => {
            split(numbers.len() / 2)
        }
        _ => Err(half_spelt()),
    }
}

/// One coordinate: degrees with their sign, whether it has one, and its letter.
type Half = (f64, bool, Option<char>);

/// Degrees, or degrees and minutes, or all three, with a letter before or behind.
fn half(pieces: &[Spelt]) -> Result<Half, String> {
    let (letter, values) = match pieces {
        [Spelt::Letter(c), rest @ ..] | [rest @ .., Spelt::Letter(c)] => (Some(*c), rest),
        all => (None, all),
    };
    let units = [Spelt::Degree, Spelt::Minute, Spelt::Second];
    let (mut sum, mut negative, mut signed, mut nth, mut exact) = (0.0, false, false, 0, true);
    let mut left = values.iter().peekable();
    while let Some(piece) = left.next() {
        let (Spelt::Number { value, signed: with_sign, broken }, true, true) = (piece, nth < 3, exact) else {
            return Err(half_spelt());
        };
        if nth > 0 && (*with_sign || *value >= 60.0) {
            return Err("minutes and seconds are from 0 to less than 60, without a sign".to_owned());
        }
        if nth == 0 {
            (negative, signed) = (value.is_sign_negative(), *with_sign);
        }
        sum += value.abs() / [1.0, 60.0, 3_600.0][nth];
        exact = !broken;
        left.next_if(|next| **next == units[nth]);
        nth += 1;
    }
    match nth {
        0 => Err(half_spelt()),
        _ if signed && letter.is_some() => Err("has both a sign and a letter: leave one of them out".to_owned()),
        _ => Ok((if negative { -sum } else { sum }, signed, letter)),
    }
}

/// Both together, latitude first.
fn joined(first: Half, second: Half) -> Result<Coordinates, String> {
    let south_or_west = |(value, _, letter): Half| if matches!(letter, Some('S' | 'W')) { -value } else { value };
    let is_lat = |half: Half| half.2.map(|letter| matches!(letter, 'N' | 'S'));
    let (lat, lon, lettered) = match (is_lat(first), is_lat(second)) {
        (None, None) => (first, second, false),
        (Some(true), Some(false)) => (first, second, true),
        (Some(false), Some(true)) => (second, first, true),
        (Some(_), Some(_)) => {
            return Err("has two latitudes or two longitudes: one letter is N or S, one E or W".to_owned());
        }
        _ => return Err("has one letter of two: give N or S and E or W, or none".to_owned()),
    };
    on_earth(south_or_west(lat), south_or_west(lon), lettered)
}

/// Coordinates, if they are a place on earth.
fn on_earth(lat_deg: f64, lon_deg: f64, lettered: bool) -> Result<Coordinates, String> {
    let is_lat = |deg: f64| (-90.0..=90.0).contains(&deg);
    let is_lon = |deg: f64| (-180.0..=180.0).contains(&deg);
    if is_lat(lat_deg) && is_lon(lon_deg) {
        return Ok(Coordinates { lat_deg: lat_deg + 0.0, lon_deg: lon_deg + 0.0, lettered });
    }
    let (what, value, most) = if is_lat(lat_deg) { ("longitude", lon_deg, 180) } else { ("latitude", lat_deg, 90) };
    let hint = match !lettered && is_lat(lon_deg) && is_lon(lat_deg) {
        true => format!("; latitude comes first: did you mean `{}`?", written(lon_deg, lat_deg)),
        false => ": give latitude and longitude such as 46.99,-28.01".to_owned(),
    };
    Err(format!("{what} {value} is not from -{most} to {most} degrees{hint}"))
}

/// Coordinates as they can be typed again.
pub fn written(lat_deg: f64, lon_deg: f64) -> String {
    let short = |deg: f64| {
        let text = format!("{deg:.5}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        if text == "-0" { "0".to_owned() } else { text.to_owned() }
    };
    format!("{},{}", short(lat_deg), short(lon_deg))
}

fn half_spelt() -> String {
    "is not a whole pair of coordinates: give latitude and longitude such as 46.99,-28.01".to_owned()
}

/// What follows `geo:`, RFC 5870: latitude, longitude, perhaps altitude, then parameters.
fn geo_uri(text: &str) -> Result<Coordinates, String> {
    let (place, parameters) = text.split_once(';').unwrap_or((text, ""));
    let crs = parameters.split(';').find_map(|p| {
        let (name, value) = p.split_once('=')?;
        name.eq_ignore_ascii_case("crs").then_some(value)
    });
    if let Some(other) = crs.filter(|crs| !crs.eq_ignore_ascii_case("wgs84")) {
        return Err(format!("is in the coordinates `{other}`: give WGS 84, latitude and longitude"));
    }
    // Some programs add what to search for: `geo:42.5,1.5?z=11`.
    let numbers: Vec<&str> = place.split('?').next().unwrap_or_default().split(',').collect();
    let number = |text: &str| {
        let is_plain = text.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'-' | b'.'));
        text.parse::<f64>().ok().filter(|_| is_plain).ok_or_else(half_spelt)
    };
    match numbers.as_slice() {
        [lat, lon] | [lat, lon, _] => on_earth(number(lat)?, number(lon)?, false),
        _ => Err(half_spelt()),
    }
}
