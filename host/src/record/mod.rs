//! What the host knows, as plain data: animals, passages, what people saw and did, and what is said of each day.

mod animal;
pub mod case;
mod clock_point;
mod day;
pub mod day_words;
pub mod finding;
mod foot_work;
pub mod gate;
mod lane_day;
pub mod names;
mod observer_prior;
mod passage;
pub mod passage_table;
mod people;

pub use animal::{AnimalId, HerdEntry, MobilityScore};
pub use clock_point::ClockPoint;
pub use day::{CowDay, Flag, Place};
pub use foot_work::{FootWork, VersionSpan, known_at_last, known_by};
pub use lane_day::{LaneCause, LaneDay, plate_name};
pub use observer_prior::ObserverPrior;
pub use passage::{Passage, checked};
pub use people::{mark, message, person};
