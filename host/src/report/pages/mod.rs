//! Small web pages: the list with its marks, a cow, the crush, before and after, the herd, rechecks, the lane. Each is a
//! function of the farm and of who looks. No outside resources.

mod backup;
mod change;
mod cow;
mod crush;
mod herd;
mod passage;
mod picture;
mod plates;
mod query;
mod render;

pub use plates::PlatesNow;
pub use query::{date_of, query_value, query_values};
pub use render::{Page, Pages, View, Viewer};
