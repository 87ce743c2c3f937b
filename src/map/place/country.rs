//! Countries, and the side their traffic keeps to.
use crate::base::words::DrivingSide;

/// Countries and territories with left-hand traffic, in alphabetical order.
///
/// Source: `driveSide` of the borders in the package `@rapideditor/country-coder` 5.6.1 (ISC licence), where a country
/// in several parts (such as `GB`) stands for its parts. All others keep right.
const LEFT: &str = "AC AG AI AU BB BD BM BN BS BT BW CC CK CQ CX CY DM FJ FK GB GD GG GS GY HK HM ID IE IM IN JE JM JP \
                    KE KI KN KY LC LK LS MO MS MT MU MV MW MY MZ NA NF NP NR NU NZ PG PK PN SB SC SG SH SR SZ TA TC TH \
                    TK TL TO TT TV TZ UG VC VG VI WS ZA ZM ZW";

/// A country or territory by its ISO 3166-1 code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Country([u8; 2]);

impl Country {
    /// The country of a code such as `AD`; nothing for other texts, those of a part (`US-TX`) among them. `EA` (Ceuta, Melilla)
    /// and `IC` (Canary Islands) are reserved for parts of Spain.
    pub fn of_code(code: &str) -> Option<Self> {
        match *code.as_bytes() {
            [b'E', b'A'] | [b'I', b'C'] => None,
            [a @ b'A'..=b'Z', b @ b'A'..=b'Z'] => Some(Self([a, b])),
            _ => None,
        }
    }
    /// Its code.
    pub fn code(&self) -> &str {
        std::str::from_utf8(&self.0).unwrap_or_default()
    }
    /// The side its traffic keeps to.
    pub fn keeps(&self) -> DrivingSide {
        if LEFT.split(' ').any(|code| code == self.code()) { DrivingSide::Left } else { DrivingSide::Right }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_come_back_and_other_texts_are_no_countries() {
        assert_eq!(Country::of_code("AD").map(|c| c.code().to_owned()), Some("AD".to_owned()));
        for text in ["", "A", "EA", "ad", "US-TX", "A1", "\u{e9}"] {
            assert_eq!(Country::of_code(text), None, "{text}");
        }
    }

    #[test]
    fn the_table_is_in_order_and_holds_codes() {
        let codes: Vec<&str> = LEFT.split(' ').collect();
        assert!(codes.is_sorted() && codes.iter().all(|c| Country::of_code(c).is_some()), "{codes:?}");
        let keeps = |code: &str| Country::of_code(code).map(|c| c.keeps());
        for (code, side) in [("GB", DrivingSide::Left), ("FR", DrivingSide::Right), ("ZW", DrivingSide::Left)] {
            assert_eq!(keeps(code), Some(side), "{code}");
        }
    }
}
