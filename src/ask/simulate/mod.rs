//! What a meeting lives through, by simulated drives: over the stored masks of the very road driven, from some kilometres
//! before the meeting to its end, and under the sky of the places where one stands.
//!
//! In: a layer, the pieces of a drive, the parts of a meeting. Out: the share of drives in which an outage takes more of
//! the meeting than it tolerates.
mod lanes;
mod overlap;
mod road;
mod simulator;
mod skies;
mod standing;
#[cfg(test)]
mod tests_overlap;
#[cfg(test)]
mod tests_risk;

pub use simulator::MeetingSimulator;
