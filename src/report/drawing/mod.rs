//! Maps drawn as SVG, without scripts: frame, lines, signs that keep apart, scale bar. The brief and the map page share it.
pub(in crate::report) mod frame;
pub(in crate::report) mod furniture;
pub(in crate::report) mod labels;
pub(in crate::report) mod lines;
