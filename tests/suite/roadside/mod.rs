//! Trees beside constructed roads against the published models of roadside fading.
// Helpers outside of test functions fail by unwrapping, too.
#![allow(clippy::unwrap_used)]
mod crowns;
mod fades;
mod page;
mod published;
mod road;
mod shadowing;
