//! Which satellites are expected where in the sky, by latitude: closed form and sky tapes.
pub mod model;
