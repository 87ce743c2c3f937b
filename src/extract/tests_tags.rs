//! Tags to features, one rule at a time. Meanings: OpenStreetMap wiki, one page per key.
