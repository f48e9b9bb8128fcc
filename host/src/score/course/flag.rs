//! From probabilities to a flag that does not flicker.

use crate::record::Flag;
use crate::score::course::price::Limits;
use crate::score::settings::{FEW_PASSAGES, URGENT_OFF, URGENT_ON};

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
    let limit = |(on, off): (f64, f64), step: Flag| if yesterday >= step { off } else { on };
    let p = grounds.probability;
    let mut step = if p < limit(limits.watch, Flag::Watch) {
        Flag::Clear
    } else if p < limit(limits.check, Flag::Check) {
        Flag::Watch
    } else if grounds.severe < limit((URGENT_ON, URGENT_OFF), Flag::Urgent) {
        Flag::Check
    } else {
        Flag::Urgent
    };
    // A block or a fresh trim explains a change of load, but no severe one: its own effect is in her errors already.
    if grounds.treated && step < Flag::Urgent {
        step = step.min(Flag::Watch);
    }
    let few = grounds.passages < FEW_PASSAGES && step < Flag::Check;
    let unsure = grounds.baseline_unsure && step == Flag::Watch && !grounds.treated;
    let said = if grounds.not_hers || few || unsure { Flag::CannotTell } else { step };
    (said, step)
}

#[cfg(test)]
mod tests {
    use super::*;

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
