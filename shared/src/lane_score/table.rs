//! The table of cows that a device judges a passage by: what each usually shows, and what is believed of her.

use super::measures::{CLASSES, MEASURES};
use super::states::LEVELS;
use crate::{identity::AnimalCode, limits::MAX_OWN_STATES};
use heapless::Vec;
use serde::{Deserialize, Serialize};

/// The form of a table that this side knows.
pub const TABLE_VERSION: u16 = 1;

/// What holds for every cow of a table. The first three fields never change in any version.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TableHead {
    /// Its form.
    pub version: u16,
    /// Names the table; never 0.
    pub table: u32,
    /// Rows, by rising tag.
    pub rows: u16,
    /// Variance of each measure of a passage by class, the cow's own factor and the stated error left out.
    pub variance: [[f32; MEASURES]; CLASSES],
    /// What this lane adds to each measure of every cow.
    pub shift: [f32; MEASURES],
    /// Variance of that.
    pub shift_variance: [f32; MEASURES],
    /// Probability that a person scores her 2 or more: sound, and at each level.
    pub scored: [f32; LEVELS + 1],
    /// `watch` from this probability, and until below.
    pub watch: [f32; 2],
    /// `check` from this probability, and until below.
    pub check: [f32; 2],
    /// Weight of a passage's evidence.
    pub weight: f32,
}

impl TableHead {
    /// Whether a passage can be judged by it: nothing is NaN or infinite, no variance without size.
    #[must_use]
    pub fn usable(&self) -> bool {
        let one = core::slice::from_ref;
        self.variance.iter().all(|of_class| within(of_class, f32::MIN_POSITIVE, MOST))
            && within(&self.shift_variance, 0.0, MOST)
            && within(&self.shift, -MOST, MOST)
            && [&self.scored[..], &self.watch, &self.check, one(&self.weight)]
                .into_iter()
                .all(|parts| within(parts, 0.0, 1.0))
    }
}

/// More than any measure or variance can be. Our choice.
const MOST: f32 = 1e6;

/// Whether all are within bounds, which NaN never is.
#[inline(never)]
fn within(values: &[f32], low: f32, high: f32) -> bool {
    values.iter().all(|value| (low..=high).contains(value))
}

/// A step of the ladder of flags.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum LaneFlag {
    /// Nothing to say.
    #[default]
    Clear,
    /// Keep an eye on her.
    Watch,
    /// Look at her feet.
    Check,
    /// Look at her feet today.
    Urgent,
}

/// One cow.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CowRow {
    /// Her tag.
    pub code: AnimalCode,
    /// Her flag before this passage.
    pub flag: LaneFlag,
    /// A block is on, or the last trim is only days ago: of `check` nothing is said.
    pub treated: bool,
    /// The days right after a trim: errors are twice as wide.
    pub unsettled: bool,
    /// Her usual value of each measure if she is sound, hundredths.
    pub usual: [i16; MEASURES],
    /// SD of that, twentieths.
    pub usual_sd: [u8; MEASURES],
    /// Her own factor on the variance of a passage, sixteenths.
    pub noise: [u8; MEASURES],
    /// Probability that she is sound, as [`likely`] reads it.
    pub sound: u8,
    /// The likeliest of the other states; what is left over is spread as new cases are.
    pub states: Vec<OwnState, MAX_OWN_STATES>,
}

/// A state with a usual value of its own: she may have been in it for long.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct OwnState {
    /// Which: 1 + 5 x place + level; places LF, RF, LR, RR, both front, both rear.
    pub state: u8,
    /// Its probability, as [`likely`] reads it.
    pub likely: u8,
    /// What would be usual for her were she sound, if she is in this state, less [`CowRow::usual`], quarters.
    pub usual: [i8; MEASURES],
    /// SD of that, twentieths.
    pub usual_sd: [u8; MEASURES],
}

/// A probability from its byte: e to the power of minus a sixteenth of it; 255 is none.
#[must_use]
pub fn likely(byte: u8) -> f32 {
    if byte == u8::MAX { 0.0 } else { libm::expf(-f32::from(byte) / 16.0) }
}
