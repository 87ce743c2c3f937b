//! Satellites: the closed form compared with moving patterns, element files, SGP4, shells, passes.
mod fit;
mod passes;
mod reading;
mod sgp4_published;
mod timeline;
mod walker;
