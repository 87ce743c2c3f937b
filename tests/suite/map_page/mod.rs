//! The map page: which part of a layer it shows, what is in it, and how it is found again. What a browser shows of it is looked
//! at by `scripts/map_page`.
mod beside;
mod page;
mod part;
mod unpacked;
