//! What stands against an entry of a case or of a later look.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use strum::VariantNames;

/// Something wrong, or odd, with an entry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum Objection {
    /// The day of the work is to come.
    WorkInFuture,
    /// The block belongs under the sound claw.
    BlockOnSoreClaw,
    /// The block is on a claw with another lesion of that day.
    BlockOnOtherLesion,
    /// A lesion needs its leg.
    LesionWithoutLeg,
    /// A block needs its leg.
    BlockWithoutLeg,
    /// The recheck is not after the work.
    RecheckNotAfter,
    /// The block is to come off before it was put on.
    BlockDueBefore,
    /// The block came off before it was put on.
    BlockOffBefore,
    /// The block came off on a day to come.
    BlockOffInFuture,
    /// An M stage belongs to digital dermatitis.
    StageWithoutDermatitis,
    /// A withdrawal ends before the treatment.
    WithdrawalBefore,
    /// The day of the look is to come.
    LookInFuture,
    /// The look is before the treatment.
    LookBefore,
    /// The case was withdrawn.
    CaseWithdrawn,
    /// Nothing was told of the foot.
    NothingTold,
    /// No block was put on in this case.
    NoBlockHere,
    /// Which leg, and whether there is a lesion, is not told.
    LegOrLesionMissing,
    /// The claw of the lesion is not told.
    ClawMissing,
    /// A field holds what it cannot.
    FieldWrong {
        /// Its name.
        field: String,
        /// What was given.
        text: String,
    },
    /// The same is entered for that foot and day.
    EnteredAlready,
    /// The foot has a block on.
    BlockStillOn,
    /// Looks like a code, and is none.
    NoCode {
        /// What was written.
        text: String,
        /// The code whose name it is like.
        code: Option<String>,
        /// The same, to be named.
        lesion: Option<String>,
    },
    /// The lesion is seldom there.
    UnusualZone {
        /// Its code.
        lesion: String,
        /// The zone.
        zone: u8,
    },
    /// A block on a foot that is for the veterinarian.
    BlockForVeterinarian,
    /// A medicine was given, and not all is told of how long milk and meat must not go out.
    WithdrawalMissing {
        /// The day of milk is not told.
        milk: bool,
        /// The day of meat is not told.
        meat: bool,
    },
    /// Pain relief was given, not who prescribed it.
    PrescriberMissing,
    /// A very low or high block.
    UnusualBlock {
        /// Its height.
        height_mm: f64,
    },
    /// A wrong year?
    LongAgo {
        /// The day given.
        date: Date,
    },
    /// A zone without a lesion.
    ZoneWithoutLesion,
    /// The block is higher than before.
    BlockGrown {
        /// At the last look.
        before_mm: f64,
        /// Now.
        now_mm: f64,
    },
    /// The block was seen on after it was off.
    BlockEnteredOff {
        /// Since then.
        date: Date,
    },
    /// Nobody here has that name.
    UnknownCow {
        /// What was given.
        cow: String,
    },
}

impl Objection {
    /// Whether it cannot be; what is merely odd is taken in when confirmed.
    #[must_use]
    pub const fn refuses(&self) -> bool {
        matches!(
            self,
            Self::WorkInFuture
                | Self::BlockOnSoreClaw
                | Self::BlockOnOtherLesion
                | Self::LesionWithoutLeg
                | Self::BlockWithoutLeg
                | Self::RecheckNotAfter
                | Self::BlockDueBefore
                | Self::BlockOffBefore
                | Self::BlockOffInFuture
                | Self::StageWithoutDermatitis
                | Self::WithdrawalBefore
                | Self::LookInFuture
                | Self::LookBefore
                | Self::CaseWithdrawn
                | Self::NothingTold
                | Self::NoBlockHere
                | Self::LegOrLesionMissing
                | Self::ClawMissing
                | Self::FieldWrong { .. }
        )
    }
}
