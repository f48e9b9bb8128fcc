//! The link to lane devices: what they send is stored, placed in time, and acknowledged.

pub mod at_desk;
pub mod clock;
pub mod connect;
pub mod journal;
pub mod keeper;
pub mod operator;
pub mod orders;
pub mod place;
pub mod plate_loads;
pub mod session;

pub use clock::{ClockMap, Placed};
pub use keeper::{Keeper, Kept, KeptItem, StoreKeeper};
pub use session::{Line, Notice, Now, Session, SessionError};

#[cfg(test)]
pub(crate) mod fake_device;
#[cfg(test)]
mod tests;
