//! What a column may hold: its SQL type, how a value is rounded and stored, how it is read back.
//!
//! This is the only place where figures are rounded. Rounded figures keep the files small and make
//! equal builds equal; the steps are far below what the inputs can tell.
use rusqlite::types::{ToSqlOutput, Value, ValueRef};

use super::stop::PanelPlace;
use crate::base::words::{Rating, Words};

/// A kind of column.
pub trait ColumnKind {
    /// Its value in the rows.
    type Value;
    /// Type in the GeoPackage, table 1 of OGC 12-128r18.
    const SQL: &'static str;
    /// Whether the column may be empty.
    const NULLABLE: bool = false;
    /// The value as stored, or what is wrong with it.
    fn store(value: &Self::Value) -> Result<ToSqlOutput<'_>, String>;
    /// The value read back, or what is wrong with it.
    fn load(stored: ValueRef<'_>) -> Result<Self::Value, String>;
}

/// Longest text that is read, bytes: four times the longest value of a tag.
const LONGEST_TEXT: usize = 4 * 1_020;
/// Letters of a foreign text that an error shows.
const SHOWN: usize = 40;

fn integer(stored: ValueRef<'_>) -> Result<i64, String> {
    stored.as_i64().map_err(|_| format!("holds {} where a whole number is expected", held(stored)))
}

fn real(stored: ValueRef<'_>) -> Result<f64, String> {
    let value = stored.as_f64().map_err(|_| format!("holds {} where a number is expected", held(stored)))?;
    if value.is_finite() { Ok(value) } else { Err(format!("{value} is not a number that a layer holds")) }
}

fn text(stored: ValueRef<'_>) -> Result<&str, String> {
    let text = match stored {
        ValueRef::Text(bytes) => std::str::from_utf8(bytes).map_err(|_| "holds text that is not UTF-8".to_owned())?,
        _ => return Err(format!("holds {} where text is expected", held(stored))),
    };
    match text.len() {
        0..=LONGEST_TEXT => Ok(text),
        longer => Err(format!("holds a text of {longer} bytes; the longest allowed has {LONGEST_TEXT}")),
    }
}

/// The beginning of a text that is too long to be read back.
fn cut(text: &str) -> &str {
    let end = (0..=LONGEST_TEXT.min(text.len())).rev().find(|i| text.is_char_boundary(*i));
    &text[..end.unwrap_or(0)]
}

/// What a column holds in place of what it should, in few letters.
fn held(stored: ValueRef<'_>) -> String {
    match stored {
        ValueRef::Null => "nothing".to_owned(),
        ValueRef::Integer(n) => n.to_string(),
        ValueRef::Real(x) => format!("{x:e}"),
        ValueRef::Text(bytes) => format!("the text `{}`", shown(&String::from_utf8_lossy(bytes))),
        ValueRef::Blob(bytes) => format!("{} bytes", bytes.len()),
    }
}

/// The beginning of a foreign text. Errors take out of it what a terminal would obey.
fn shown(text: &str) -> String {
    text.chars().take(SHOWN).collect()
}

fn owned(value: impl Into<Value>) -> ToSqlOutput<'static> {
    ToSqlOutput::Owned(value.into())
}

/// An id: any 64-bit whole number.
pub(crate) struct Id;
impl ColumnKind for Id {
    type Value = i64;
    const SQL: &'static str = "INTEGER";
    fn store(value: &i64) -> Result<ToSqlOutput<'_>, String> {
        Ok(owned(*value))
    }
    fn load(stored: ValueRef<'_>) -> Result<i64, String> {
        integer(stored)
    }
}

/// A count or number of a piece.
pub struct Count;
impl ColumnKind for Count {
    type Value = u32;
    const SQL: &'static str = "INTEGER";
    fn store(value: &u32) -> Result<ToSqlOutput<'_>, String> {
        Ok(owned(*value))
    }
    fn load(stored: ValueRef<'_>) -> Result<u32, String> {
        let n = integer(stored)?;
        u32::try_from(n).map_err(|_| format!("{n} is not from 0 to {}", u32::MAX))
    }
}

/// A small number: a rating, a number of lanes.
pub struct Small;
impl ColumnKind for Small {
    type Value = u8;
    const SQL: &'static str = "MEDIUMINT";
    fn store(value: &u8) -> Result<ToSqlOutput<'_>, String> {
        Ok(owned(*value))
    }
    fn load(stored: ValueRef<'_>) -> Result<u8, String> {
        let n = integer(stored)?;
        u8::try_from(n).map_err(|_| format!("{n} is not from 0 to {}", u8::MAX))
    }
}

/// Yes or no.
pub(crate) struct Flag;
impl ColumnKind for Flag {
    type Value = bool;
    const SQL: &'static str = "BOOLEAN";
    fn store(value: &bool) -> Result<ToSqlOutput<'_>, String> {
        Ok(owned(*value))
    }
    fn load(stored: ValueRef<'_>) -> Result<bool, String> {
        match integer(stored)? {
            0 => Ok(false),
            1 => Ok(true),
            other => Err(format!("{other} is neither 0 nor 1")),
        }
    }
}

/// A figure kept to `1 / PER_UNIT` of its unit.
pub(crate) struct Figure<const PER_UNIT: u32>;
impl<const PER_UNIT: u32> Figure<PER_UNIT> {
    /// A figure as it is stored.
    pub(crate) fn rounded(value: f64) -> f64 {
        let per_unit = f64::from(PER_UNIT);
        // Adding zero turns -0.0 into 0.0, which SQLite would keep apart.
        (value * per_unit).round() / per_unit + 0.0
    }
}
impl<const PER_UNIT: u32> ColumnKind for Figure<PER_UNIT> {
    type Value = f64;
    const SQL: &'static str = "REAL";
    fn store(value: &f64) -> Result<ToSqlOutput<'_>, String> {
        if !value.is_finite() {
            return Err(format!("{value} is not a number that can be stored"));
        }
        Ok(owned(Self::rounded(*value)))
    }
    fn load(stored: ValueRef<'_>) -> Result<f64, String> {
        real(stored)
    }
}

/// A figure as it was computed, to the last bit: what later computations begin with.
pub struct Exact;
impl ColumnKind for Exact {
    type Value = f64;
    const SQL: &'static str = "REAL";
    fn store(value: &f64) -> Result<ToSqlOutput<'_>, String> {
        if value.is_finite() { Ok(owned(value + 0.0)) } else { Err(format!("{value} cannot be stored")) }
    }
    fn load(stored: ValueRef<'_>) -> Result<f64, String> {
        real(stored)
    }
}

/// Degrees, to a whole one.
pub(crate) type Degrees = Figure<1>;
/// Metres, to a centimetre.
pub type Metres = Figure<100>;
/// A share of one, to 0.0001.
pub type Share = Figure<10_000>;
/// A share as it is stored.
pub(crate) fn stored_share(share: f64) -> f64 {
    Share::rounded(share)
}

/// Seconds as they are stored.
pub(crate) fn stored_seconds(seconds: f64) -> f64 {
    Seconds::rounded(seconds)
}

/// Metres as they are stored.
pub(crate) fn stored_metres(metres: f64) -> f64 {
    Metres::rounded(metres)
}

/// Seconds, to a millisecond.
pub type Seconds = Figure<1_000>;
/// Kilometres per hour, to a tenth.
pub type Speed = Figure<10>;
/// Times per 10 km, to a hundredth.
pub(crate) type Rate = Figure<100>;
/// Expected numbers, to a millionth: small ones are added up over long roads.
pub type Expected = Figure<1_000_000>;

/// Any text, cut where it is far longer than a tag. NUL, after which the text functions of SQL and C stop reading, becomes
/// U+FFFD.
pub struct Text;
impl ColumnKind for Text {
    type Value = String;
    const SQL: &'static str = "TEXT";
    fn store(value: &String) -> Result<ToSqlOutput<'_>, String> {
        if value.contains('\0') || value.len() > LONGEST_TEXT {
            return Ok(owned(cut(&value.replace('\0', "\u{FFFD}")).to_owned()));
        }
        Ok(ToSqlOutput::Borrowed(ValueRef::Text(value.as_bytes())))
    }
    fn load(stored: ValueRef<'_>) -> Result<String, String> {
        text(stored).map(str::to_owned)
    }
}

/// One of a closed set of words.
pub(crate) struct Word<W>(std::marker::PhantomData<W>);
impl<W: Words> ColumnKind for Word<W> {
    type Value = W;
    const SQL: &'static str = "TEXT";
    fn store(value: &W) -> Result<ToSqlOutput<'_>, String> {
        Ok(ToSqlOutput::Borrowed(ValueRef::Text(value.name().as_bytes())))
    }
    fn load(stored: ValueRef<'_>) -> Result<W, String> {
        let text = text(stored)?;
        W::parse(text).ok_or_else(|| format!("`{}` is not one of {}", shown(text), W::list()))
    }
}

/// A rating by its code, 0 for steady to 4 for dark.
pub(crate) struct RatingCode;
impl ColumnKind for RatingCode {
    type Value = Rating;
    const SQL: &'static str = Small::SQL;
    fn store(value: &Rating) -> Result<ToSqlOutput<'_>, String> {
        Ok(owned(value.code()))
    }
    fn load(stored: ValueRef<'_>) -> Result<Rating, String> {
        let code = Small::load(stored)?;
        Rating::from_code(code).ok_or_else(|| format!("{code} is not the code of a rating"))
    }
}

/// Bytes.
pub(crate) struct Bytes;
impl ColumnKind for Bytes {
    type Value = Vec<u8>;
    const SQL: &'static str = "BLOB";
    fn store(value: &Vec<u8>) -> Result<ToSqlOutput<'_>, String> {
        Ok(ToSqlOutput::Borrowed(ValueRef::Blob(value)))
    }
    fn load(stored: ValueRef<'_>) -> Result<Vec<u8>, String> {
        let bytes = stored.as_blob().map_err(|_| format!("holds {} where bytes are expected", held(stored)))?;
        Ok(bytes.to_vec())
    }
}

/// Places for a panel in a row as text, `metres bearing share` of each, `; ` between them: readable in any viewer.
pub struct PanelPlaces;
impl ColumnKind for PanelPlaces {
    type Value = Vec<PanelPlace>;
    const SQL: &'static str = "TEXT";
    fn store(value: &Vec<PanelPlace>) -> Result<ToSqlOutput<'_>, String> {
        if value.iter().any(|p| ![p.distance_m, p.bearing_deg, p.open_share].into_iter().all(f64::is_finite)) {
            return Err("a place with a value that is not a number cannot be stored".into());
        }
        let one = |p: &PanelPlace| format!("{:.1} {:.0} {:.4}", p.distance_m, p.bearing_deg, p.open_share);
        Ok(owned(value.iter().map(one).collect::<Vec<_>>().join("; ")))
    }
    fn load(stored: ValueRef<'_>) -> Result<Vec<PanelPlace>, String> {
        let text = text(stored)?;
        let one = |place: &str| {
            let numbers: Option<Vec<f64>> =
                place.split(' ').map(|n| n.parse().ok().filter(|n| f64::is_finite(*n))).collect();
            match numbers.as_deref() {
                Some([distance_m, bearing_deg, open_share]) => {
                    Ok(PanelPlace { distance_m: *distance_m, bearing_deg: *bearing_deg, open_share: *open_share })
                }
                _ => Err(format!("`{}` is not a place", shown(place))),
            }
        };
        text.split("; ").filter(|p| !p.is_empty()).map(one).collect()
    }
}

/// The same, or nothing.
pub(crate) struct Maybe<K>(std::marker::PhantomData<K>);
impl<K: ColumnKind> ColumnKind for Maybe<K> {
    type Value = Option<K::Value>;
    const SQL: &'static str = K::SQL;
    const NULLABLE: bool = true;
    fn store(value: &Option<K::Value>) -> Result<ToSqlOutput<'_>, String> {
        value.as_ref().map_or(Ok(owned(Value::Null)), K::store)
    }
    fn load(stored: ValueRef<'_>) -> Result<Option<K::Value>, String> {
        if stored == ValueRef::Null { Ok(None) } else { K::load(stored).map(Some) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure<K: ColumnKind<Value = f64>>(value: f64) -> f64 {
        match K::store(&value).unwrap() {
            ToSqlOutput::Owned(Value::Real(x)) => x,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn figures_are_rounded_to_their_step() {
        assert_eq!(figure::<Metres>(249.994_9), 249.99);
        assert_eq!(figure::<Metres>(249.995_1), 250.0);
        assert_eq!(figure::<Share>(0.123_46), 0.1235);
        assert_eq!(figure::<Seconds>(1.234_56), 1.235);
        assert_eq!(figure::<Speed>(88.514), 88.5);
        assert!(figure::<Share>(-0.000_01).is_sign_positive(), "minus zero would be a second zero");
    }

    #[test]
    fn what_is_not_a_number_is_refused() {
        assert!(Metres::store(&f64::NAN).is_err());
        assert!(Maybe::<Seconds>::store(&Some(f64::INFINITY)).is_err());
    }

    #[test]
    fn words_outside_their_set_are_refused() {
        use crate::base::words::{Cause, OverheadKind};
        let error = Word::<Cause>::load(ValueRef::Text(b"guess")).unwrap_err();
        assert_eq!(error, "`guess` is not one of cover, deck, building, terrain, canopy, boarded, satellites, none");
        assert!(Word::<Cause>::load(ValueRef::Text(b"rail_deck")).is_err(), "a word of another set");
        assert_eq!(Word::<OverheadKind>::load(ValueRef::Text(b"rail_deck")), Ok(OverheadKind::RailDeck));
        assert!(RatingCode::load(ValueRef::Integer(5)).unwrap_err().contains("5 is not the code"));
    }

    #[test]
    fn places_come_back_from_their_text_and_damage_is_an_error() {
        let place = |distance_m, bearing_deg, open_share| PanelPlace { distance_m, bearing_deg, open_share };
        let places = vec![place(0.0, 0.0, 0.25), place(7.5, 359.0, 0.9999)];
        let ToSqlOutput::Owned(Value::Text(text)) = PanelPlaces::store(&places).unwrap() else { panic!("no text") };
        assert_eq!(text, "0.0 0 0.2500; 7.5 359 0.9999");
        assert_eq!(PanelPlaces::load(ValueRef::Text(text.as_bytes())).unwrap(), places);
        assert_eq!(PanelPlaces::load(ValueRef::Text(b"")).unwrap(), []);
        for bad in ["1 2", "1 2 x", "1 2 NaN", "1 2 3 4"] {
            assert!(PanelPlaces::load(ValueRef::Text(bad.as_bytes())).unwrap_err().contains(bad));
        }
        assert!(PanelPlaces::store(&vec![place(f64::NAN, 0.0, 0.0)]).is_err());
    }

    #[test]
    fn texts_are_bounded_on_either_way() {
        let long = "\u{e9}".repeat(LONGEST_TEXT);
        let Ok(ToSqlOutput::Owned(Value::Text(stored))) = Text::store(&long) else { panic!("no text") };
        assert_eq!(stored.len(), LONGEST_TEXT);
        assert!(Text::load(ValueRef::Text(stored.as_bytes())).is_ok_and(|t| long.starts_with(&t)));
        let error = Text::load(ValueRef::Text(long.as_bytes())).unwrap_err();
        assert!(error.contains("8160 bytes") && error.contains("4080"), "{error}");
    }

    #[test]
    fn what_is_held_instead_is_told_in_few_letters() {
        let error = |stored| Metres::load(stored).unwrap_err();
        assert_eq!(error(ValueRef::Null), "holds nothing where a number is expected");
        assert_eq!(error(ValueRef::Blob(&[1, 2])), "holds 2 bytes where a number is expected");
        let text = "ab".repeat(1_000);
        assert_eq!(
            error(ValueRef::Text(text.as_bytes())).len(),
            40 + "holds the text `` where a number is expected".len()
        );
        assert!(error(ValueRef::Real(f64::INFINITY)).contains("inf is not a number"));
        assert!(Flag::load(ValueRef::Integer(2)).unwrap_err().contains("neither 0 nor 1"));
    }

    #[test]
    fn numbers_out_of_range_in_a_foreign_file_are_errors() {
        assert!(Small::load(ValueRef::Integer(256)).is_err());
        assert!(Count::load(ValueRef::Integer(-1)).is_err());
        assert!(Id::load(ValueRef::Text(b"1")).is_err());
        assert!(Text::load(ValueRef::Text(&[0xff, 0xfe])).is_err(), "not UTF-8");
    }
}
