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

/// `urgent` when she is severely lame with this probability.
pub const URGENT_ON: f64 = 0.60;
/// `urgent` ends below this.
pub const URGENT_OFF: f64 = 0.40;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::identity::AnimalCode;
    use crate::lane_score::table::TABLE_VERSION;

    /// One measure, with an error variance of 3 about a usual value of 0 with variance 1.
    fn one(value: f32) -> [Seen; MEASURES] {
        let none = Seen { value: f32::NAN, ..Seen::default() };
        let mut all = [none; MEASURES];
        all[1] = Seen { value, error: 3.0, usual: 0.0, usual_variance: 1.0 };
        all
    }

    fn sore(
        effect: &'static [(f32, f32); MEASURES],
        must_show: &'static [bool; MEASURES],
        points: f32,
    ) -> Option<Sore> {
        Some(Sore { place: 2, level: 0, points, effect, must_show, onset: 0.0 })
    }

    fn head() -> TableHead {
        TableHead {
            version: TABLE_VERSION,
            table: 1,
            rows: 1,
            variance: [[9.0; MEASURES]; 3],
            shift: [0.0; MEASURES],
            shift_variance: [0.0; MEASURES],
            scored: [0.0; 6],
            watch: [0.2, 0.1],
            check: [0.6, 0.4],
            weight: 0.5,
        }
    }

    /// A cow who is sound, or in one state, with these likelihoods.
    fn row(sound: u8, state: u8, likely: u8) -> CowRow {
        let own = OwnState { state, likely, ..OwnState::default() };
        CowRow {
            code: AnimalCode::new(999, 1).unwrap(),
            flag: LaneFlag::Clear,
            treated: false,
            unsettled: false,
            usual: [0; MEASURES],
            usual_sd: [20; MEASURES],
            noise: [16; MEASURES],
            sound,
            states: heapless::Vec::from_slice(&[own]).unwrap(),
        }
    }

    fn nothing() -> Measures {
        Measures { value: [f32::NAN; MEASURES], stated: [0.0; MEASURES], class: super::super::Class::Walk }
    }

    /// By hand: variance and tail of the measure, and the price of an effect.
    fn near(found: f32, variance: f32, tail: f32, price: f32) {
        let wanted = -4.5 * logf(tail) - 0.5 * logf(variance * price);
        assert!((found - wanted).abs() < 1e-4, "{found} {wanted}");
    }

    // By hand, 8 degrees of freedom: 4 away with variance 1 + 3 has a tail of 1 + 16 / 4 / 8.
    #[test]
    fn a_measure_away_from_what_is_usual_speaks_against_sound() {
        near(weigh(&one(4.0), None, None), 4.0, 1.5, 1.0);
        near(weigh(&one(-4.0), None, None), 4.0, 1.5, 1.0);
        near(weigh(&one(0.0), None, None), 4.0, 1.0, 1.0);
    }

    // By hand: at 10 points an effect of .5 and a spread of .1 make 5 expected, and 1 more of variance; 4 is 1 below.
    #[test]
    fn an_effect_that_must_show_is_expected_with_its_spread() {
        const EFFECT: [(f32, f32); MEASURES] = [(0.5, 0.1); MEASURES];
        near(weigh(&one(4.0), None, sore(&EFFECT, &[true; MEASURES], 10.0)), 5.0, 1.0 + 1.0 / 5.0 / 8.0, 1.0);
    }

    // By hand: 4 away a tail of 1.5 to the ninth is below 400, and the effect is taken as hidden; 8 away a tail of 3 is
    // not, and the effect that shows costs 400.
    #[test]
    fn an_effect_that_need_not_show_is_hidden_or_costs() {
        const EFFECT: [(f32, f32); MEASURES] = [(1.0, 0.0); MEASURES];
        const NEED_NOT: [bool; MEASURES] = [false; MEASURES];
        near(weigh(&one(4.0), None, sore(&EFFECT, &NEED_NOT, 4.0)), 4.0, 1.5, 1.0);
        near(weigh(&one(8.0), None, sore(&EFFECT, &NEED_NOT, 8.0)), 4.0, 1.0, 400.0);
    }

    // By hand: quarters and twentieths: usual 2 with SD 2 in a state of her own; 4 is 2 away with variance 4 + 3.
    #[test]
    fn a_state_of_her_own_has_her_own_usual_value() {
        let own = OwnState { state: 1, likely: 0, usual: [8; MEASURES], usual_sd: [40; MEASURES] };
        near(weigh(&one(4.0), Some(&own), None), 7.0, 1.0 + 4.0 / 7.0 / 8.0, 1.0);
    }

    // By hand, where nothing was measured: sound e^(-11/16) = .502_836, LF at the second level e^-1 = .367_879; of what is
    // left, .129_285, .225 are at the second level elsewhere, and the .025 of her own state are not given twice:
    // (.367_879 + .029_089) / (1 - .003_232).
    #[test]
    fn what_the_row_leaves_over_is_spread_as_new_cases_are() {
        let head = TableHead { scored: [0.0, 0.0, 1.0, 0.0, 0.0, 0.0], ..head() };
        let judged = judge(&head, &row(11, 2, 16), &nothing());
        assert!((judged.probability - 0.398_255).abs() < 1e-5, "{}", judged.probability);
        assert_eq!((judged.flag, judged.leg), (LaneFlag::Watch, Some(Leg::LF)));
    }

    // By hand: LF at the fourth level e^(-9/16) = .569_783; with .14 of the .233_305 left over, .603_9 are severe: urgent
    // from .6. The leg has .592 of .803 lame: more than half of that, less than what would be half if lame were larger.
    #[test]
    fn severe_states_make_her_urgent_and_half_of_the_lame_ones_name_the_leg() {
        let head = TableHead { scored: [0.0, 1.0, 1.0, 1.0, 1.0, 1.0], ..head() };
        let judged = judge(&head, &row(26, 4, 9), &nothing());
        assert_eq!((judged.flag, judged.leg), (LaneFlag::Urgent, Some(Leg::LF)));
        let judged = judge(&head, &row(26, 4, 10), &nothing());
        assert_eq!((judged.flag, judged.leg), (LaneFlag::Check, Some(Leg::LF)), ".573 are severe");
    }

    // By hand: 1.5 times her 9, 1 stated and 2 of the lane are 16.5; four times that on unsettled days.
    #[test]
    fn what_is_seen_adds_up_the_errors_and_takes_the_lane_out() {
        let head = TableHead { shift: [1.0; MEASURES], shift_variance: [2.0; MEASURES], ..head() };
        let mut row = CowRow {
            usual: [250; MEASURES],
            usual_sd: [30; MEASURES],
            noise: [24; MEASURES],
            ..row(1, 1, 255)
        };
        let measures = Measures { value: [5.0; MEASURES], stated: [1.0; MEASURES], ..nothing() };
        for (unsettled, error) in [(false, 16.5), (true, 66.0)] {
            row.unsettled = unsettled;
            for seen in seen(&head, &row, &measures) {
                assert_eq!((seen.value, seen.error), (4.0, error));
                assert_eq!((seen.usual, seen.usual_variance), (2.5, 2.25));
            }
        }
    }
}
