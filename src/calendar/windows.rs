//! Names that Windows gives to time zones, as calendars written there may hold them without a `VTIMEZONE`.

/// The table; its source and licence stand at its head.
const TABLE: &str = include_str!("windows_zones.txt");

/// The zone of the IANA database that a Windows name stands for in the world at large; letter case does not matter.
pub(crate) fn iana(name: &str) -> Option<&'static str> {
    let mut rows = TABLE.lines().filter(|l| !l.starts_with('#')).filter_map(|l| l.split_once('\t'));
    rows.find(|(windows, _)| windows.eq_ignore_ascii_case(name)).map(|(_, iana)| iana)
}
