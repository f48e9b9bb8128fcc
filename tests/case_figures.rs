//! How good the case's answers are on simulated cases: coverage of the intervals, and how often the verdicts are right.
//!
//! The table: `cargo test --release -p tests --test case_figures print_figures -- --ignored --nocapture`. Constants are
//! set on [`TUNING`] alone; the table is of other seeds.

use host::arithmetic::dates::days_between;
use host::arithmetic::statistics::wilson;
use host::case::before_after::compare::{Question, courses, verdict};
use host::case::before_after::kalman::CasePhase;
use host::case::before_after::lost;
use host::case::before_after::model::{Fit, Prior};
use host::case::before_after::series::{Plan, series};
use host::record::Passage;
use host::record::finding::Verdict;
use jiff::ToSpan;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use shared::plate::{Leg, PerLeg};
use tests::simulated_case::{AT, DAY_SD, Make, SimulatedCase, draws};

/// The seed on which constants are set.
const TUNING: u64 = 1;
/// The seeds that are reported.
const REPORTED: [u64; 3] = [20_261, 77_003, 915_417];
/// Passages within which a lost block should be found.
const SOON: usize = 3;

/// A counted figure.
#[derive(Clone, Copy, Debug)]
struct Count {
    hits: u64,
    of: u64,
}

impl Count {
    fn of(seed: u64, cases: u64, one: impl Fn(&mut ChaCha8Rng) -> bool + Sync) -> Self {
        let hits = (0..cases).into_par_iter().filter(|&case| one(&mut draws(seed, case))).count() as u64;
        Self { hits, of: cases }
    }

    fn part(self) -> f64 {
        self.hits as f64 / self.of as f64
    }
}

impl std::fmt::Display for Count {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let interval = wilson(self.hits, self.of);
        write!(f, "{:.3} ({:.3} to {:.3})", self.part(), interval.lower, interval.upper)
    }
}

/// Mean change that the passages of the two windows truly had.
fn true_change(truth: &SimulatedCase, passages: &[Passage], plan: &Plan) -> f64 {
    let mean = |phase| {
        let days: Vec<i32> = passages
            .iter()
            .filter(|p| plan.phase(p.date) == Some(phase))
            .map(|p| days_between(AT, p.date))
            .collect();
        days.iter().map(|d| truth.deviation(*d)).sum::<f64>() / days.len() as f64
    };
    mean(CasePhase::After) - mean(CasePhase::Before)
}

/// Cases whose interval of the change holds the truth, and the interval's mean width.
fn coverage(seed: u64, cases: u64, make: Make, blocked: bool, standing: bool) -> (Count, f64) {
    coverage_of(seed, cases, |rng| SimulatedCase::draw(rng, make, blocked, standing))
}

/// The same of cases made to order.
fn coverage_of(seed: u64, cases: u64, one: impl Fn(&mut ChaCha8Rng) -> SimulatedCase + Sync) -> (Count, f64) {
    let all: Vec<(bool, f64)> = (0..cases)
        .into_par_iter()
        .map(|case| {
            let mut rng = draws(seed, case);
            let truth = one(&mut rng);
            let (passages, _) = truth.passages(&mut rng, 28);
            let plan = truth.plan(28);
            let s = &series(&passages, &plan)[truth.leg];
            let interval = Fit::new(&s.observations, &Prior::default()).unwrap().change().interval();
            let change = true_change(&truth, &passages, &plan);
            ((interval.low..=interval.high).contains(&change), interval.high - interval.low)
        })
        .collect();
    let held = Count { hits: all.iter().filter(|c| c.0).count() as u64, of: cases };
    (held, all.iter().map(|c| c.1).sum::<f64>() / cases as f64)
}

fn answer(truth: &SimulatedCase, passages: &[Passage], last: i32) -> Verdict {
    let question =
        Question { passages, plan: truth.plan(last), leg: Some(truth.leg), prior: Prior::default() };
    let (legs, all) = courses(&question);
    verdict(&question, &legs, &all).1.verdict
}

fn verdict_at(truth: &SimulatedCase, rng: &mut ChaCha8Rng, last: i32) -> Verdict {
    answer(truth, &truth.passages(rng, last).0, last)
}

/// What is looked at when a block may be lost: passages up to each look.
struct Looks {
    truth: SimulatedCase,
    passages: Vec<Passage>,
    own: PerLeg<f64>,
    /// Number of passages seen at each look.
    seen: Vec<usize>,
}

impl Looks {
    /// A block that is lost on a day of its own choosing: the three passages from then on.
    fn lost(rng: &mut ChaCha8Rng, make: Make, block: f64) -> Self {
        let off = rng.random_range(10..20);
        let drawn = SimulatedCase::draw(rng, make, true, true);
        let truth = SimulatedCase { block: Some(block), block_off: off, per_day: 2, ..drawn };
        let (passages, own) = truth.passages(rng, off + 4);
        let before = passages.iter().filter(|p| days_between(AT, p.date) < off).count();
        Self { truth, passages, own, seen: (before + 1..=before + SOON).collect() }
    }

    /// A block that stays on, looked at once, or every day for three weeks.
    fn kept(rng: &mut ChaCha8Rng, make: Make, every_day: bool) -> Self {
        let truth = SimulatedCase { per_day: 2, ..SimulatedCase::draw(rng, make, true, true) };
        let (passages, own) = truth.passages(rng, 25);
        let one = rng.random_range(12..23);
        let seen = (5..=25)
            .filter(|day| every_day || *day == one)
            .map(|day| passages.iter().filter(|p| days_between(AT, p.date) <= day).count())
            .collect();
        Self { truth, passages, own, seen }
    }

    fn called(&self) -> bool {
        self.seen.iter().any(|&seen| {
            let passages = &self.passages[..seen.min(self.passages.len())];
            let all = series(passages, &self.truth.plan(30));
            lost::sudden_step(&all[self.truth.leg].observations, &all[self.truth.leg.opposite()].observations)
                .is_some()
        })
    }

    /// The largest evidence that an ideal observer has, of all moments of loss and all looks: the logarithm of the
    /// likelihood ratio for one who knows her loads without noise, the size of the block's effect and every error
    /// variance. Where `level` is not known, the load under the block must be learned from the settled passages.
    fn ideal(&self, effect: f64, level: bool) -> f64 {
        let on = SimulatedCase { block: Some(effect), block_off: 60, ..self.truth };
        let held = if self.truth.block_off < 60 { on } else { self.truth };
        let (leg, other) = (self.truth.leg, self.truth.leg.opposite());
        let settled = AT.saturating_add(host::case::before_after::series::UNSETTLED_DAYS.days());
        let first = self.passages.iter().filter(|p| p.date <= settled).count();
        // Residual of the half difference of the pair, its variance, its day.
        let residuals: Vec<(f64, f64, i32)> = self.passages[first..]
            .iter()
            .map(|p| {
                let day = days_between(AT, p.date);
                let (s, expected) = (p.summary.standing.unwrap(), held.expected(&self.own, day));
                let usual = if matches!(leg, Leg::LF | Leg::RF) { 27.0 } else { 23.0 };
                let rest = |leg: Leg| 100.0 * (f64::from(s.share_pct[leg]) / usual - expected[leg]);
                let se = 100.0 * f64::from(s.share_se_pct[leg]) / usual;
                (0.5 * (rest(leg) - rest(other)), 0.5 * se * se, day)
            })
            .collect();
        self.seen
            .iter()
            .map(|seen| seen.saturating_sub(first).min(residuals.len()))
            .flat_map(|to| (to.saturating_sub(14).max(1)..to).map(move |from| (from, to)))
            .map(|(from, to)| {
                let seen = &residuals[..to];
                let stepped: Vec<f64> = (0..to).map(|i| f64::from(i >= from)).collect();
                let rest: Vec<f64> = seen.iter().map(|r| r.0).collect();
                let ones = vec![1.0; to];
                let (mut toward, mut size) =
                    (whitened(seen, &stepped, &rest), whitened(seen, &stepped, &stepped));
                if !level {
                    let (shared, all) = (whitened(seen, &stepped, &ones), whitened(seen, &ones, &ones));
                    toward -= shared * whitened(seen, &ones, &rest) / all;
                    size -= shared * shared / all;
                }
                effect * toward - 0.5 * effect * effect * size
            })
            .fold(f64::NEG_INFINITY, f64::max)
    }
}

/// `a' V^-1 b`, where V holds each residual's variance and what the residuals of a day share.
fn whitened(residuals: &[(f64, f64, i32)], a: &[f64], b: &[f64]) -> f64 {
    let mut total = 0.0;
    let mut from = 0;
    for day in residuals.chunk_by(|a, b| a.2 == b.2) {
        let (mut ab, mut a1, mut b1, mut weight) = (0.0, 0.0, 0.0, 0.0);
        for (i, (_, variance, _)) in (from..).zip(day) {
            ab += a[i] * b[i] / variance;
            a1 += a[i] / variance;
            b1 += b[i] / variance;
            weight += 1.0 / variance;
        }
        from += day.len();
        total += ab - a1 * b1 * DAY_SD * DAY_SD / (1.0 + DAY_SD * DAY_SD * weight);
    }
    total
}

/// Part of losses that the ideal observer finds when 2 % of kept blocks are called lost.
fn ideal_found(seed: u64, cases: u64, effect: f64, every_day: bool, level: bool) -> f64 {
    let evidence = |kept: bool| -> Vec<f64> {
        (0..cases)
            .into_par_iter()
            .map(|case| {
                let mut rng = draws(seed + u64::from(kept), case);
                if kept {
                    Looks::kept(&mut rng, Make::Same, every_day)
                } else {
                    Looks::lost(&mut rng, Make::Same, effect)
                }
                .ideal(effect, level)
            })
            .collect()
    };
    let mut kept = evidence(true);
    kept.sort_by(f64::total_cmp);
    let limit = kept[kept.len() * 98 / 100];
    evidence(false).iter().filter(|e| **e > limit).count() as f64 / cases as f64
}

/// Verdicts of many cases, counted.
fn verdicts(
    seed: u64,
    cases: u64,
    last: i32,
    one: impl Fn(&mut ChaCha8Rng) -> SimulatedCase + Sync,
) -> [(Verdict, Count); 6] {
    let answers: Vec<Verdict> = (0..cases)
        .into_par_iter()
        .map(|case| {
            let mut rng = draws(seed, case);
            let truth = one(&mut rng);
            verdict_at(&truth, &mut rng, last)
        })
        .collect();
    [
        Verdict::AsExpected,
        Verdict::SlowerThanExpected,
        Verdict::Worse,
        Verdict::CannotTellYet,
        Verdict::BlockProbablyLost,
        Verdict::AnotherLegNow,
    ]
    .map(|v| (v, Count { hits: answers.iter().filter(|a| **a == v).count() as u64, of: cases }))
}

fn right(verdicts: &[(Verdict, Count); 6], wanted: Verdict) -> Count {
    verdicts.iter().find(|v| v.0 == wanted).map(|v| v.1).unwrap()
}

fn sound_with_a_block(rng: &mut ChaCha8Rng, make: Make) -> SimulatedCase {
    SimulatedCase { before: 0.0, after: 0.0, ..SimulatedCase::draw(rng, make, true, true) }
}

#[allow(clippy::print_stdout, reason = "figures are read by people")]
fn print_table(seeds: &[u64], make: Make) {
    for &seed in seeds {
        println!("\n== {make:?} make, seed {seed}");
        for (blocked, standing) in [(false, true), (true, true), (false, false), (true, false)] {
            let (held, width) = coverage(seed, 1000, make, blocked, standing);
            let kind = if standing { "standing" } else { "walk-through only" };
            println!("coverage of the change, block {blocked}, {kind}: {held}, width {width:.1} %");
        }
        let (held, width) = coverage_of(seed, 1000, |rng| SimulatedCase {
            walk: 0.6,
            ..SimulatedCase::draw(rng, make, false, true)
        });
        println!("coverage, her usual load walks .6 % a day: {held}, width {width:.1} %");
        for effect in [-5.0, -10.0] {
            let adds = |rng: &mut ChaCha8Rng| SimulatedCase {
                block: Some(effect),
                ..SimulatedCase::draw(rng, make, true, true)
            };
            let (held, width) = coverage_of(seed, 1000, adds);
            println!("coverage, a block that adds {:.0} %: {held}, width {width:.1} %", -effect);
        }
        for block in [6.1, 9.0, 12.0] {
            let found = Count::of(seed, 400, |rng| Looks::lost(rng, make, block).called());
            println!("lost block found within {SOON} passages, effect {block} %: {found}");
            if make == Make::Same {
                for level in [true, false] {
                    let ideal =
                        [false, true].map(|every_day| ideal_found(seed, 2000, block, every_day, level));
                    println!(
                        "  ideal observer, level under the block known {level}, 2 % false: {:.3} at one look, {:.3} at a look a day",
                        ideal[0], ideal[1]
                    );
                }
            }
        }
        for every_day in [false, true] {
            let called = Count::of(seed, 1000, |rng| Looks::kept(rng, make, every_day).called());
            println!("kept block called lost, look every day {every_day}: {called}");
        }
        for blocked in [false, true] {
            let other = verdicts(seed, 400, 24, |rng| SimulatedCase::other_leg(rng, make, blocked));
            println!("another leg, block {blocked}: {}", words(&other));
            let failing = verdicts(seed, 400, 14, |rng| SimulatedCase::failing(rng, make, blocked));
            println!("true failures, day 14, block {blocked}: {}", words(&failing));
            let healing = verdicts(seed, 400, 21, |rng| SimulatedCase::healing(rng, make, blocked));
            println!("true recoveries, day 21, block {blocked}: {}", words(&healing));
        }
        let sound = verdicts(seed, 400, 10, |rng| sound_with_a_block(rng, make));
        println!("sound with a block, day 10: {}", words(&sound));
    }
}

fn words(verdicts: &[(Verdict, Count); 6]) -> String {
    let parts: Vec<String> = verdicts
        .iter()
        .filter(|(_, count)| count.hits > 0)
        .map(|(verdict, count)| format!("{verdict:?} {count}"))
        .collect();
    parts.join("; ")
}

/// Room that chance needs about a part that is truly so, in four standard errors.
fn room(part: f64, cases: u64) -> f64 {
    4.0 * (part * (1.0 - part) / cases as f64).sqrt()
}

fn at_least(count: Count, level: f64, what: &str) {
    assert!(count.part() > level - room(level, count.of), "{what}: {count}, want {level}");
}

fn at_most(count: Count, level: f64, what: &str) {
    assert!(count.part() < level + room(level, count.of), "{what}: {count}, want at most {level}");
}

#[test]
fn intervals_of_the_change_hold_the_truth() {
    for (blocked, standing) in [(false, true), (true, true), (false, false), (true, false)] {
        let (held, _) = coverage(REPORTED[0], 120, Make::Same, blocked, standing);
        let what = format!("block {blocked}, standing {standing}");
        at_least(held, 0.93, &what);
        at_most(held, 0.97, &what);
    }
}

#[test]
fn intervals_hold_where_her_usual_load_swings_or_walks() {
    let (held, _) = coverage(REPORTED[0], 240, Make::Other, false, true);
    at_least(held, 0.94, "slow swings, heavy tails");
    let walks = |rng: &mut ChaCha8Rng| SimulatedCase {
        walk: 0.6,
        ..SimulatedCase::draw(rng, Make::Same, false, true)
    };
    at_least(coverage_of(REPORTED[0], 240, walks).0, 0.91, "walks .6 % a day");
}

#[test]
fn lost_blocks_are_found_and_kept_ones_left_alone() {
    let found = |block| Count::of(REPORTED[0], 60, |rng| Looks::lost(rng, Make::Same, block).called());
    at_least(found(9.0), 0.88, "effect 9 %");
    at_least(found(12.0), 0.97, "effect 12 %");
    let called = Count::of(REPORTED[0], 150, |rng| Looks::kept(rng, Make::Same, false).called());
    at_most(called, 0.02, "kept block called lost");
}

#[test]
fn the_other_leg_going_lame_is_not_recovery() {
    for blocked in [false, true] {
        let seen = verdicts(REPORTED[0], 60, 24, |rng| SimulatedCase::other_leg(rng, Make::Same, blocked));
        at_least(right(&seen, Verdict::AnotherLegNow), 0.9, &format!("block {blocked}"));
        at_most(right(&seen, Verdict::AsExpected), 0.01, &format!("block {blocked}"));
    }
}

#[test]
fn a_true_failure_is_seldom_called_as_expected() {
    for blocked in [false, true] {
        let seen = verdicts(REPORTED[0], 80, 14, |rng| SimulatedCase::failing(rng, Make::Same, blocked));
        at_most(right(&seen, Verdict::AsExpected), 0.05, &format!("block {blocked}"));
    }
}

#[test]
fn a_true_recovery_is_told() {
    let seen = verdicts(REPORTED[0], 60, 21, |rng| SimulatedCase::healing(rng, Make::Same, false));
    at_least(right(&seen, Verdict::AsExpected), 0.95, "no block");
    let seen = verdicts(REPORTED[0], 60, 21, |rng| SimulatedCase::healing(rng, Make::Same, true));
    at_most(right(&seen, Verdict::SlowerThanExpected), 0.02, "block");
}

#[test]
fn a_sound_cow_with_a_fresh_block_does_not_read_worse() {
    for last in [1, 5, 10] {
        let seen = verdicts(REPORTED[0], 40, last, |rng| SimulatedCase {
            block: Some(6.1),
            ..sound_with_a_block(rng, Make::Same)
        });
        assert_eq!(right(&seen, Verdict::Worse).hits, 0, "day {last}");
        at_most(right(&seen, Verdict::AnotherLegNow), 0.02, &format!("day {last}"));
    }
}

#[test]
fn a_failure_under_a_block_of_any_effect_is_seldom_called_as_expected() {
    for effect in [-10.0, -5.0, 0.0, 5.0, 10.0] {
        for last in [14, 21] {
            let seen = verdicts(REPORTED[0], 120, last, |rng| SimulatedCase {
                block: Some(effect),
                ..SimulatedCase::failing(rng, Make::Same, true)
            });
            at_most(right(&seen, Verdict::AsExpected), 0.05, &format!("effect {effect} %, day {last}"));
        }
    }
}

/// A block due off on day 28 that is truly on to day 41, of which nobody has said anything.
fn unreported(truth: SimulatedCase) -> SimulatedCase {
    SimulatedCase { block: Some(12.0), block_due: 28, block_off: 41, ..truth }
}

#[test]
fn a_block_that_nobody_reported_off_does_not_make_her_worse() {
    for last in [24, 28, 34, 40] {
        let seen = verdicts(REPORTED[0], 120, last, |rng| unreported(sound_with_a_block(rng, Make::Same)));
        at_most(right(&seen, Verdict::Worse), 0.02, &format!("day {last}"));
        if last >= 28 {
            assert_eq!(right(&seen, Verdict::AsExpected).hits, 0, "day {last}");
        }
    }
}

#[test]
fn a_relapse_under_a_block_that_nobody_reported_off_is_told() {
    let seen = verdicts(REPORTED[0], 120, 34 + 5, |rng| SimulatedCase {
        relapse: Some((34, 15.0)),
        ..unreported(SimulatedCase {
            before: 15.0,
            after: 12.0,
            half_time: 8.0,
            ..SimulatedCase::draw(rng, Make::Same, true, true)
        })
    });
    let told = [Verdict::Worse, Verdict::BlockProbablyLost].map(|verdict| right(&seen, verdict).hits);
    at_least(Count { hits: told.iter().sum(), of: 120 }, 0.8, "told");
}

#[test]
fn the_first_days_are_not_judged() {
    let mut rng = draws(REPORTED[0], 0);
    let truth = SimulatedCase {
        before: 25.0,
        after: 45.0,
        half_time: 1e6,
        ..SimulatedCase::draw(&mut rng, Make::Same, false, true)
    };
    assert_eq!(verdict_at(&truth, &mut rng, 3), Verdict::CannotTellYet);
    assert_eq!(verdict_at(&truth, &mut rng, 14), Verdict::Worse);
}

#[test]
#[ignore = "prints the figures; minutes"]
fn print_figures() {
    print_table(&REPORTED, Make::Same);
    print_table(&REPORTED[..1], Make::Other);
}

#[test]
#[ignore = "for setting constants"]
fn print_tuning() {
    print_table(&[TUNING], Make::Same);
    print_table(&[TUNING], Make::Other);
}
