//! Changes to inputs: bits, bytes, numbers, stretches, words of the format, and pieces of other inputs.
use fastrand::Rng;

/// What parsers of text stumble over.
const STUMBLING: &[&str] = &[
    "永",
    "é",
    "\u{202e}",
    "\u{feff}",
    "\0",
    "\u{1b}",
    "\"",
    "'",
    "<",
    ">",
    "&#x0;",
    "{",
    "}",
    "[",
    "]",
    "(",
    ")",
    ",",
    ":",
    ";",
    "=",
    "\n",
    "\r\n",
    " ",
    "\t",
    "-",
    "+",
    "0",
    "1e999",
    "-0",
    "NaN",
    "inf",
    "1e-320",
    "99999999999999999999",
    "-9223372036854775808",
    "2147483648",
    "4294967296",
    "0x",
    "\\u",
    "\\ud800",
    "'''",
    "\"\"\"",
    "]]>",
    "T",
    "Z",
    "°",
    "/",
    "\\",
    "#",
    "|",
    "%",
    "..",
];
/// Numbers at the edge of a type.
const EDGES: &[u64] = &[
    0,
    1,
    0x7f,
    0x80,
    0xff,
    0x7fff,
    0x8000,
    0xffff,
    0x7fff_ffff,
    0x8000_0000,
    0xffff_ffff,
    i64::MAX as u64,
    1 << 63,
    u64::MAX,
];

/// An input made of one of `all`, no longer than `most` bytes.
pub fn mutated(rng: &mut Rng, all: &[Vec<u8>], words: &[String], most: usize) -> Vec<u8> {
    // What was found last is tried more often: it is where something new is.
    let from = if rng.bool() { rng.usize(all.len().saturating_sub(24)..all.len()) } else { rng.usize(..all.len()) };
    let mut input = all[from].clone();
    let changes = 1 << rng.u32(..5);
    for _ in 0..changes {
        change(rng, &mut input, all, words);
        input.truncate(most);
    }
    input
}

fn change(rng: &mut Rng, input: &mut Vec<u8>, all: &[Vec<u8>], words: &[String]) {
    let at = rng.usize(..=input.len());
    let most = 1 << rng.u32(..7);
    let length = rng.usize(..most);
    let to = (at + length).min(input.len());
    match rng.u8(..14) {
        0 if at < input.len() => input[at] ^= 1 << rng.u32(..8),
        1 if at < input.len() => input[at] = rng.u8(..),
        2 if at < input.len() => input[at] = input[at].wrapping_add(rng.u8(..16).wrapping_sub(8)),
        3 => edge(rng, input, at),
        4 => drop(input.drain(at..to)),
        5 => put(input, at..at, &Vec::from_iter(std::iter::repeat_with(|| rng.u8(..)).take(length))),
        6 => {
            let piece = input[at..to].to_vec();
            let most = if rng.u8(..20) == 0 { 10 } else { 3 };
            let times = 1 << rng.u32(..most);
            put(input, at..at, &piece.repeat(times));
        }
        7 => {
            let piece = input[at..to].to_vec();
            let other = rng.usize(..=input.len());
            put(input, other..other, &piece);
        }
        8 => {
            let other = &all[rng.usize(..all.len())];
            let from = rng.usize(..=other.len());
            let piece = &other[from..(from + length).min(other.len())];
            put(input, at..if rng.bool() { to } else { at }, piece);
        }
        9 => number(rng, input, at),
        10 => put(input, at..to.min(at + length % 4), rng.choice(STUMBLING).unwrap_or(&"").as_bytes()),
        _ if words.is_empty() => put(input, at..at, &[rng.u8(b' '..=b'~')]),
        // In the place of a word, more often than anywhere.
        11 | 12 => {
            let over = word_at(input, at);
            put(input, over, words[rng.usize(..words.len())].as_bytes());
        }
        _ => put(input, at..at, words[rng.usize(..words.len())].as_bytes()),
    }
}

fn put(input: &mut Vec<u8>, over: std::ops::Range<usize>, piece: &[u8]) {
    input.splice(over, piece.iter().copied());
}

/// The letters and digits around a place.
fn word_at(input: &[u8], at: usize) -> std::ops::Range<usize> {
    let of_word = |b: &u8| b.is_ascii_alphanumeric() || *b == b'_';
    let start = input[..at].iter().rposition(|b| !of_word(b)).map_or(0, |i| i + 1);
    let end = input[at..].iter().position(|b| !of_word(b)).map_or(input.len(), |i| at + i);
    start..end
}

/// A number at the edge of its type, in either order of bytes.
fn edge(rng: &mut Rng, input: &mut [u8], at: usize) {
    let value = EDGES[rng.usize(..EDGES.len())].wrapping_add(rng.u64(..3)).wrapping_sub(1);
    let width = 1 << rng.u32(..4);
    let bytes =
        if rng.bool() { value.to_le_bytes()[..width].to_vec() } else { value.to_be_bytes()[8 - width..].to_vec() };
    input[at..].iter_mut().zip(bytes).for_each(|(to, byte)| *to = byte);
}

/// Another number in the place of one written in digits.
fn number(rng: &mut Rng, input: &mut Vec<u8>, at: usize) {
    let Some(start) = input[at..].iter().position(u8::is_ascii_digit).map(|i| at + i) else { return };
    let end = input[start..].iter().position(|b| !b.is_ascii_digit()).map_or(input.len(), |i| start + i);
    let text = match rng.u8(..6) {
        0 => rng.u8(..).to_string(),
        1 => rng.i64(..).to_string(),
        2 => EDGES[rng.usize(..EDGES.len())].to_string(),
        3 => format!("{}.{}", rng.u16(..), rng.u16(..)),
        4 => format!("{}e{}", rng.u8(..), rng.i16(-400..400)),
        _ => "9".repeat(rng.usize(1..25)),
    };
    put(input, start..end, text.as_bytes());
}
