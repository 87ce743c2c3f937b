//! Files that are written: whole or not at all, never over what is read, and without remains.
//!
//! An output grows in a hidden folder beside its name, which a lock tells to be in use, and is renamed when whole. What an
//! interrupt finds unfinished is removed by [`stop`]; what a killed run left, by the next one that writes the same name, which
//! then names it.
mod abandoned;
mod apart;
mod ending;
mod ledger;
mod place;
mod replacement;
mod room;
mod whole;

pub(crate) use abandoned::remove_all_in;
pub(crate) use apart::{check_apart, is_same_file};
pub(crate) use ending::{ending, unknown_ending};
pub(crate) use ledger::{Left, note_mark, note_tidied, remove_if_bare, stop, tidied};
pub(crate) use place::{folder_of, place_of};
pub(crate) use replacement::{Replacement, cannot_write};
pub(crate) use room::{check_both_free, check_free};
pub(crate) use whole::{stream, stream_part, write};
