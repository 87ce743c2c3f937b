//! When an event is, as its file writes it: for events whose time cannot be placed.
use jiff::civil::Date;

use super::component::Component;
use super::lines::shown;
use super::value::{self, DateOrTime};

/// The start of an event as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AsWritten {
    /// For people: `2026-06-15 09:00 (Nowhere)`, or the text of the file where it is not a time.
    pub text: String,
    /// The day on the wall clock of wherever it is; nothing where the text is not a time.
    pub day: Option<Date>,
    /// It has further dates, which may be of any day.
    pub recurs: bool,
}

impl AsWritten {
    /// Of an event; nothing where it has no start.
    pub(crate) fn of(event: &Component) -> Option<Self> {
        let line = event.get("DTSTART")?;
        let recurs = ["RRULE", "RDATE"].iter().any(|name| event.get(name).is_some());
        let Some(moment) = value::moment(&line.value) else {
            return Some(Self { text: format!("`{}`", shown(line.value.trim())), day: None, recurs });
        };
        let zone = line.param("TZID").map(|id| format!(" ({})", shown(id.trim()))).unwrap_or_default();
        let wall = moment.wall();
        let text = match moment {
            DateOrTime::Day(day) => day.to_string(),
            DateOrTime::Wall(_) => format!("{}{zone}", wall.strftime("%Y-%m-%d %H:%M")),
            DateOrTime::Utc(_) => format!("{} UTC", wall.strftime("%Y-%m-%d %H:%M")),
        };
        let text = if recurs { format!("{text}, recurring") } else { text };
        Some(Self { text, day: Some(wall.date()), recurs })
    }
}
