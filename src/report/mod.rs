//! Results of trips as text.
