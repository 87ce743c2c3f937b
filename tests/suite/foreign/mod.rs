//! What others wrote, and what they may have meant to do with it: names, files too large, files broken on purpose.

mod names;
mod parsers;
mod sizes;
