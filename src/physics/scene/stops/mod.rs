//! Places to stop: where the vehicle stands ([`site`]), where something can be set down ([`footing`]), and what is above
//! both ([`plates`]).
pub mod footing;
pub mod plates;
pub mod site;
