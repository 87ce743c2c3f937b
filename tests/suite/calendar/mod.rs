//! Calendars: the examples of RFC 5545, a reference library's dates, the sample, hostile files.
mod details;
mod hostile;
mod kit;
mod reference;
mod rfc_exceptions;
mod rfc_rules;
mod rfc_zones;
mod sample;
mod windows;
mod writing;
