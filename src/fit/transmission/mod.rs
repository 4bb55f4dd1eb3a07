//! From readings to what lies between drive and sensor: a curve through knots, a linkage, the one of several that the
//! readings choose, and the map of a feedback sensor.
//!
//! `sides.rs` takes lost motion out of the readings for all of them; `assembly.rs` fits a linkage, and asks whether it fits
//! as well assembled the other way; `sensor.rs` judges a sensor's table as a whole; `linkage_model.rs` holds the least squares of a linkage's dimensions.

pub(super) mod assembly;
pub(super) mod branch;
pub(super) mod choose;
pub(super) mod curve;
pub(super) mod feedback;
pub(super) mod linkage;
mod linkage_model;
pub(super) mod sensor;
pub(super) mod sides;
