//! A passage against a cow's row: how likely each state is now, and what is said of her.

use super::{
    measures::{MEASURES, Measures},
    states::{
        EFFECT, MOST_ODDS_A_PASSAGE, MUST_SHOW, ONSET, PLACES, POINTS, SEVERE_LEVEL, STATES, TAIL_FREEDOM,
        UNSURE_EFFECT,
    },
    table::{CowRow, LaneFlag, OwnState, TableHead, likely},
};
use crate::plate::Leg;
use libm::{expf, logf};

#[cfg(test)]
mod tests;

/// `urgent` when she is severely lame with this probability.
pub const URGENT_ON: f64 = 0.60;
/// `urgent` ends below this.
pub const URGENT_OFF: f64 = 0.40;
/// A step of the flags' ladder is left below this part of the limit at which it was taken. Our choice (hysteresis): on eighteen
/// hard herds two thirds missed 2 lame cows of a hundred more and flagged a fifteenth more in vain, with a list an eighth
/// shorter.
pub const FLAG_OFF: f64 = 0.5;
/// How much wider the errors of the unsettled days are. Our choice.
pub const UNSETTLED_WIDER: f64 = 2.0;
/// A leg is named from this share of the lame states on. Our choice: likelier than all others together.
const NAMED_FROM: f32 = 0.5;

/// What is said of her.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judgement {
    /// Her flag.
    pub flag: LaneFlag,
    /// Probability that a person would score her 2 or more.
    pub probability: f32,
    /// The leg that is sore, where one leg is likelier than all else together and she is not clear.
    pub leg: Option<Leg>,
}

/// The step of the ladder, given the one before. It has hysteresis: each step is taken at its first limit and left below its
/// second. A block or a fresh trim explains a change of load, but no severe one.
#[must_use]
pub fn ladder(
    before: LaneFlag,
    (probability, severe): (f64, f64),
    watch: [f64; 2],
    check: [f64; 2],
    treated: bool,
) -> LaneFlag {
    let limit = |[on, off]: [f64; 2], step: LaneFlag| if before >= step { off } else { on };
    let step = if probability < limit(watch, LaneFlag::Watch) {
        LaneFlag::Clear
    } else if probability < limit(check, LaneFlag::Check) {
        LaneFlag::Watch
    } else if severe < limit([URGENT_ON, URGENT_OFF], LaneFlag::Urgent) {
        LaneFlag::Check
    } else {
        LaneFlag::Urgent
    };
    if treated && step < LaneFlag::Urgent { step.min(LaneFlag::Watch) } else { step }
}

/// How a state shows: a place at a level.
#[derive(Clone, Copy)]
struct Sore {
    place: usize,
    level: usize,
    points: f32,
    effect: &'static [(f32, f32); MEASURES],
    must_show: &'static [bool; MEASURES],
    onset: f32,
}

/// The states in their order; `None` is sound.
fn states() -> impl Iterator<Item = Option<Sore>> {
    let levels = |(place, ((effect, must_show), onset))| {
        let onset: &'static [f32] = onset;
        let of =
            move |(level, (&points, &onset))| Some(Sore { place, level, points, effect, must_show, onset });
        POINTS.iter().zip(onset).enumerate().map(of)
    };
    let places = EFFECT.iter().zip(&MUST_SHOW).zip(ONSET.iter().map(|of| &of[..])).enumerate();
    core::iter::once(None).chain(places.flat_map(levels))
}

/// Judges a passage.
#[must_use]
pub fn judge(head: &TableHead, row: &CowRow, measures: &Measures) -> Judgement {
    let mut probability = before(row);
    see(head, row, measures, &mut probability);
    let (mut scored, mut severe, mut lame) = (0.0, 0.0, 0.0);
    let mut places = [0.0; PLACES];
    for (p, sore) in probability.iter().zip(states()) {
        let level = sore.map_or(0, |sore| sore.level + 1);
        scored += p * head.scored.get(level).copied().unwrap_or(0.0);
        let Some(sore) = sore else { continue };
        lame += p;
        severe += if sore.level >= SEVERE_LEVEL { *p } else { 0.0 };
        places.iter_mut().skip(sore.place).take(1).for_each(|place| *place += p);
    }
    let [watch, check] = [head.watch, head.check].map(|limits| limits.map(f64::from));
    let flag = ladder(row.flag, (f64::from(scored), f64::from(severe)), watch, check, row.treated);
    let likeliest = Leg::ALL.into_iter().zip(places).find(|(_, place)| *place >= NAMED_FROM * lame);
    let leg = likeliest.map(|(leg, _)| leg).filter(|_| flag != LaneFlag::Clear);
    Judgement { flag, probability: scored, leg }
}

fn own(row: &CowRow, state: usize) -> Option<&OwnState> {
    row.states.iter().find(|own| usize::from(own.state) == state)
}

/// The probability of each state before the passage: what the row leaves over is spread as new cases are.
fn before(row: &CowRow) -> [f32; STATES] {
    let mut probability = [0.0; STATES];
    let known = likely(row.sound) + row.states.iter().map(|own| likely(own.likely)).sum::<f32>();
    let left = (1.0 - known).max(0.0);
    for ((state, p), sore) in probability.iter_mut().enumerate().zip(states()) {
        *p = match (sore, own(row, state)) {
            (None, _) => likely(row.sound),
            (_, Some(own)) => likely(own.likely),
            (Some(sore), None) => left * sore.onset,
        };
    }
    probability
}

/// Weighs the states by the passage. The evidence of a measure is that of a Student-t density, and an effect that need not
/// show costs where it does, as in the score.
#[inline(never)]
fn see(head: &TableHead, row: &CowRow, measures: &Measures, probability: &mut [f32; STATES]) {
    let seen = seen(head, row, measures);
    let mut evidence = [0.0; STATES];
    for ((state, evidence), sore) in evidence.iter_mut().enumerate().zip(states()) {
        *evidence = weigh(&seen, own(row, state), sore);
    }
    let best = evidence.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let mut sum = 0.0;
    #[allow(clippy::cast_possible_truncation, reason = "a small constant")]
    let most = -logf(MOST_ODDS_A_PASSAGE as f32);
    for (p, evidence) in probability.iter_mut().zip(&evidence) {
        *p *= expf((head.weight * (evidence - best)).max(most));
        sum += *p;
    }
    if sum > 0.0 {
        probability.iter_mut().for_each(|p| *p /= sum);
    }
}

/// A measure of this passage beside what is usual.
#[derive(Clone, Copy, Default)]
struct Seen {
    /// NaN where not measured.
    value: f32,
    /// Error variance of the passage.
    error: f32,
    /// If she is sound.
    usual: f32,
    usual_variance: f32,
}

fn seen(head: &TableHead, row: &CowRow, measures: &Measures) -> [Seen; MEASURES] {
    #[allow(clippy::cast_possible_truncation, reason = "a small constant")]
    let wider = if row.unsettled { (UNSETTLED_WIDER * UNSETTLED_WIDER) as f32 } else { 1.0 };
    let variance = head.variance.get(measures.class as usize).unwrap_or(&[f32::NAN; MEASURES]);
    let mut all = [Seen::default(); MEASURES];
    let measured = measures.value.iter().zip(&measures.stated).zip(variance);
    let lane = head.shift.iter().zip(&head.shift_variance);
    let cow = row.usual.iter().zip(&row.usual_sd).zip(&row.noise);
    for ((seen, ((value, stated), variance)), ((shift, unsure), ((usual, sd), noise))) in
        all.iter_mut().zip(measured).zip(lane.zip(cow))
    {
        let sd = f32::from(*sd) / 20.0;
        let error = wider * (f32::from(*noise) / 16.0 * variance + stated + unsure);
        *seen =
            Seen { value: value - shift, error, usual: f32::from(*usual) / 100.0, usual_variance: sd * sd };
    }
    all
}

/// What the passage says of a state, as a logarithm.
#[inline(never)]
fn weigh(seen: &[Seen; MEASURES], own: Option<&OwnState>, sore: Option<Sore>) -> f32 {
    const NONE: [(f32, f32); MEASURES] = [(0.0, 0.0); MEASURES];
    #[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation, reason = "small constants")]
    let (freedom, unsure) = (TAIL_FREEDOM as f32, UNSURE_EFFECT as f32);
    let (effects, shows, points) =
        sore.map_or((&NONE, &[true; MEASURES], 0.0), |sore| (sore.effect, sore.must_show, sore.points));
    let none = OwnState::default();
    let (of, is_own) = own.map_or((&none, false), |own| (own, true));
    // Products, for one logarithm each: six variances and the prices of effects stay far within f32.
    let (mut tails, mut widths) = (1.0_f32, 1.0_f32);
    let each = seen.iter().zip(effects).zip(shows).zip(of.usual.iter().zip(&of.usual_sd));
    for (((seen, (mean, spread)), must_show), (moved, sd)) in
        each.filter(|(((seen, _), _), _)| !seen.value.is_nan())
    {
        let (spread, sd) = (spread * points, f32::from(*sd) / 20.0);
        let known = if is_own { sd * sd } else { seen.usual_variance + spread * spread };
        let variance = known + seen.error;
        let tail = |away: f32| 1.0 + away * away / variance / freedom;
        let off = seen.value - seen.usual - f32::from(*moved) / 4.0;
        let mut here = tail(off - mean * points);
        if !must_show {
            // The two densities without logarithms: a ratio to the power of nine against the price.
            let ratio = tail(off) / here;
            let third = ratio * ratio * ratio;
            if third * third * third < unsure {
                here *= ratio;
            } else {
                widths *= unsure;
            }
        }
        tails *= here;
        widths *= variance;
    }
    -0.5 * (freedom + 1.0) * logf(tails) - 0.5 * logf(widths)
}

const _: () = assert!(TAIL_FREEDOM == 8, "the ninth power above is freedom + 1");
