//! From probabilities to a flag that does not flicker.

use crate::record::Flag;
use crate::score::course::price::Limits;
use crate::score::settings::FEW_PASSAGES;
use shared::lane_score::{LaneFlag, ladder};

/// What a flag rests on.
#[derive(Clone, Copy, Debug)]
pub struct Grounds {
    /// Probability of a score of 2 or more.
    pub probability: f64,
    /// Probability that she is severely lame.
    pub severe: f64,
    /// Trusted passages so far.
    pub passages: u32,
    /// Days since the last of them.
    pub unseen_days: i64,
    /// Days without one after which there are no data.
    pub no_data_days: u32,
    /// Her own baseline is not known well enough to tell a natural lean from soreness.
    pub baseline_unsure: bool,
    /// Everything that came today was not hers.
    pub not_hers: bool,
    /// A block is on, or the last trim is only days ago.
    pub treated: bool,
}

/// The flag of the day, given yesterday's step of the ladder; also the new step.
///
/// The ladder has hysteresis: each step is taken at its first limit and left below its second.
#[must_use]
pub fn decide(yesterday: Flag, grounds: &Grounds, limits: &Limits) -> (Flag, Flag) {
    if grounds.passages == 0 || grounds.unseen_days >= i64::from(grounds.no_data_days) {
        return (Flag::NoData, Flag::Clear);
    }
    let [watch, check] = [limits.watch, limits.check].map(<[f64; 2]>::from);
    let known = (grounds.probability, grounds.severe);
    let step = flag(ladder(lane_flag(yesterday), known, watch, check, grounds.treated));
    let few = grounds.passages < FEW_PASSAGES && step < Flag::Check;
    let unsure = grounds.baseline_unsure && step == Flag::Watch && !grounds.treated;
    let said = if grounds.not_hers || few || unsure { Flag::CannotTell } else { step };
    (said, step)
}

/// A flag as a step of the ladder; what cannot be told is none.
#[must_use]
pub const fn lane_flag(flag: Flag) -> LaneFlag {
    match flag {
        Flag::Watch => LaneFlag::Watch,
        Flag::Check => LaneFlag::Check,
        Flag::Urgent => LaneFlag::Urgent,
        _ => LaneFlag::Clear,
    }
}

/// A step of the ladder as a flag.
#[must_use]
pub const fn flag(step: LaneFlag) -> Flag {
    match step {
        LaneFlag::Clear => Flag::Clear,
        LaneFlag::Watch => Flag::Watch,
        LaneFlag::Check => Flag::Check,
        LaneFlag::Urgent => Flag::Urgent,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::settings::{URGENT_OFF, URGENT_ON};

    const LIMITS: Limits = Limits { watch: (0.20, 0.12), check: (0.60, 0.40) };

    fn grounds(probability: f64) -> Grounds {
        Grounds {
            probability,
            severe: 0.0,
            passages: 50,
            unseen_days: 0,
            no_data_days: 3,
            baseline_unsure: false,
            not_hers: false,
            treated: false,
        }
    }

    #[test]
    fn a_wobble_about_the_limit_does_not_flicker() {
        let mut step = Flag::Clear;
        let mut changes = 0;
        for day in 0..40 {
            let p = LIMITS.check.0 + if day % 2 == 0 { 0.05 } else { -0.05 };
            let (flag, next) = decide(step, &grounds(p), &LIMITS);
            changes += u32::from(flag != step);
            step = next;
        }
        assert_eq!((changes, step), (1, Flag::Check));
    }

    #[test]
    fn nothing_seen_is_no_data_and_never_clear() {
        assert_eq!(decide(Flag::Clear, &Grounds { passages: 0, ..grounds(0.01) }, &LIMITS).0, Flag::NoData);
        assert_eq!(decide(Flag::Check, &Grounds { unseen_days: 3, ..grounds(0.9) }, &LIMITS).0, Flag::NoData);
        assert_eq!(
            decide(Flag::Clear, &Grounds { passages: 1, ..grounds(0.01) }, &LIMITS).0,
            Flag::CannotTell
        );
        assert_eq!(
            decide(Flag::Clear, &Grounds { not_hers: true, ..grounds(0.01) }, &LIMITS).0,
            Flag::CannotTell
        );
    }

    #[test]
    fn a_block_holds_the_flag_back_unless_she_is_severely_lame() {
        let treated = |severe| Grounds { treated: true, severe, ..grounds(0.95) };
        assert_eq!(decide(Flag::Clear, &treated(URGENT_ON - 0.01), &LIMITS), (Flag::Watch, Flag::Watch));
        assert_eq!(decide(Flag::Clear, &treated(URGENT_ON), &LIMITS), (Flag::Urgent, Flag::Urgent));
        assert_eq!(decide(Flag::Urgent, &treated(URGENT_OFF), &LIMITS).0, Flag::Urgent);
        assert_eq!(decide(Flag::Urgent, &treated(URGENT_OFF - 0.01), &LIMITS).0, Flag::Watch);
        assert_eq!(decide(Flag::Clear, &Grounds { severe: 0.9, ..grounds(0.95) }, &LIMITS).0, Flag::Urgent);
    }
}
