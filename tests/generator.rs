//! The comparison table of the methods page: this score, a plain limit on LWR, a plain EWMA, on the same herds.
//!
//! `cargo test --release -p tests --test generator -- --ignored --nocapture`

use host::record::{Flag, MobilityScore, Place};
use host::score::evidence::charts::Ewma;
use host::score::{ScoreSettings, run_on};
use jiff::ToSpan;
use shared::plate::Pair;
use std::io::Write;
use tests::simulated_herd::{START, Scenario, SimulatedHerd, herd, name};

/// Days before counting starts: every rule may first learn the cows.
const LEARNING: usize = 21;
/// A plain limit: the mean rear LWR of lame cows (Chapinal 2010).
const LWR_LIMIT: f64 = 0.78;

/// By cow and day: a value that rises with lameness, and whether the rule flags.
type Table = Vec<Vec<Option<(f64, bool)>>>;

fn plain(made: &SimulatedHerd, days: usize, ewma: bool) -> Table {
    let mut table: Table = vec![vec![None; days]; made.truth.len()];
    for (cow, rows) in table.iter_mut().enumerate() {
        let mine: Vec<_> = made.passages.iter().filter(|p| p.animal == Some(name(cow))).collect();
        let mut history: [Vec<f64>; 2] = [Vec::new(), Vec::new()];
        let mut charts = [Ewma::new(0.2, 3.0); 2];
        for (day, cell) in rows.iter_mut().enumerate() {
            let date = START.saturating_add((day as i64).days());
            let (mut worst, mut out) = (None, false);
            for (i, pair) in [Pair::Front, Pair::Rear].into_iter().enumerate() {
                let today: Vec<_> =
                    mine.iter().filter(|p| p.date == date).filter_map(|p| p.summary.standing).collect();
                if today.is_empty() {
                    continue;
                }
                let count = today.len() as f64;
                let value = if ewma {
                    let si = today.iter().filter_map(|s| s.si_pct(pair)).map(f64::from).sum::<f64>() / count;
                    if history[i].len() < 14 {
                        history[i].push(si);
                        continue;
                    }
                    let mean = history[i].iter().sum::<f64>() / 14.0;
                    let sd = (history[i].iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 13.0).sqrt();
                    charts[i].see((si - mean) / sd);
                    out |= charts[i].out();
                    charts[i].value.abs()
                } else {
                    let lwr = today.iter().filter_map(|s| s.lwr(pair)).map(f64::from).sum::<f64>() / count;
                    out |= lwr < LWR_LIMIT;
                    1.0 - lwr
                };
                worst = Some(worst.map_or(value, |w: f64| w.max(value)));
            }
            *cell = worst.map(|value| (value, out));
        }
    }
    table
}

struct Ours {
    table: Table,
    right: usize,
    found: usize,
}

fn ours(made: &SimulatedHerd, days: usize, scored: bool) -> Ours {
    let scores: Vec<MobilityScore> = made
        .truth
        .iter()
        .enumerate()
        .flat_map(|(cow, truth)| truth.iter().map(move |t| (cow, t)))
        .filter(|(_, t)| scored && t.day % 14 == 6)
        .map(|(cow, t)| MobilityScore {
            date: START.saturating_add(t.day.days()),
            animal: name(cow),
            score: t.score,
        })
        .collect();
    let run = run_on(&made.passages, &made.register, &scores, &[], &ScoreSettings::default());
    let mut result = Ours { table: vec![vec![None; days]; made.truth.len()], right: 0, found: 0 };
    for row in &run.days {
        let cow: usize = row.animal.0[4..].parse().expect("a number");
        let day = host::arithmetic::dates::day_number(row.date) - host::arithmetic::dates::day_number(START);
        let truth = made.truth[cow][day as usize];
        result.table[cow][day as usize] = row.probability.map(|p| (p, row.flag >= Flag::Check));
        if row.flag >= Flag::Check && truth.score >= 2 && day as usize >= LEARNING {
            let leg = truth.leg.expect("a lame cow has a leg");
            result.found += 1;
            result.right += usize::from(match row.place {
                Some(Place::One(one)) => !truth.both && one == leg,
                Some(Place::BothFront) => truth.both && leg.pair() == Pair::Front,
                Some(Place::BothRear) => truth.both && leg.pair() == Pair::Rear,
                None => false,
            });
        }
    }
    result
}

fn area(values: &mut [(f64, bool)]) -> f64 {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let lame = values.iter().filter(|v| v.1).count() as f64;
    let ranks: f64 = values.iter().enumerate().filter(|(_, v)| v.1).map(|(i, _)| i as f64 + 1.0).sum();
    (ranks - lame * (lame + 1.0) / 2.0) / (lame * (values.len() as f64 - lame))
}

fn slope(values: &[(f64, bool)]) -> f64 {
    let x: Vec<f64> = values
        .iter()
        .map(|v| {
            let p = v.0.clamp(1e-6, 1.0 - 1e-6);
            (p / (1.0 - p)).ln()
        })
        .collect();
    let seen: Vec<bool> = values.iter().map(|v| v.1).collect();
    host::score::model::observer::fit(&x, &seen, [0.0, 1.0], [1e3, 1e3]).slope
}

fn line(out: &mut impl Write, herd: &str, rule: &str, made: &SimulatedHerd, table: &Table, extra: &str) {
    let mut values = Vec::new();
    let (mut sound_days, mut false_days, mut false_flags) = (0.0, 0.0, 0.0);
    let mut waits = [Vec::new(), Vec::new()];
    for (truth, row) in made.truth.iter().zip(table) {
        let flagged = |day: usize| row[day].is_some_and(|r| r.1);
        for day in LEARNING..truth.len() {
            let lame = truth[day].score >= 2;
            if let Some((value, flag)) = row[day] {
                values.push((value, lame));
                if !lame {
                    sound_days += 1.0;
                    false_days += f64::from(u8::from(flag));
                    false_flags += f64::from(u8::from(flag && !flagged(day - 1)));
                }
            }
            if lame && truth[day - 1].score < 2 {
                let spell = (day..truth.len()).take_while(|&d| truth[d].score >= 2);
                waits[usize::from(truth[day].slow)].push(spell.map(flagged).position(|f| f).unwrap_or(99));
            }
        }
    }
    let median = |w: &mut Vec<usize>| {
        w.sort_unstable();
        w.get(w.len() / 2).map_or_else(String::new, ToString::to_string)
    };
    let [mut sudden, mut slow] = waits;
    let per = 700.0 / sound_days;
    writeln!(
        out,
        "| {herd} | {rule} | {:.3} | {} | {} | {:.2} | {:.2} | {extra} |",
        area(&mut values),
        median(&mut sudden),
        median(&mut slow),
        false_flags * per,
        false_days * per,
    )
    .expect("standard output");
}

#[test]
#[ignore = "prints the table of the methods page; a minute in release"]
fn print_the_table() {
    // A seed that no setting was chosen on.
    let base = Scenario { seed: 20_260_941, ..Scenario::default() };
    let herds = [
        ("100 cows", base.clone()),
        ("noisy, heavy tails", Scenario { split_sd: 7.0, tails: 3.5, ..base.clone() }),
        ("small effects", Scenario { points: [3.0, 7.0, 15.0], split_sd: 3.0, ..base.clone() }),
        ("large effects", Scenario { points: [10.0, 25.0, 50.0], ..base.clone() }),
        ("shares only", Scenario { full: false, walked: 0.0, ..base.clone() }),
        ("shares only, half walk", Scenario { full: false, walked: 0.5, ..base.clone() }),
        ("12 cows, a year", Scenario { cows: 12, days: 365, ..base.clone() }),
        ("once a day, 20 % missed", Scenario { passages_a_day: 1, missed: 0.2, ..base.clone() }),
        ("RR plate -4 % in ten days", Scenario { drift: Some((3, 60, 10, -0.04)), ..base }),
    ];
    let mut out = std::io::stdout().lock();
    writeln!(
        out,
        "| herd | rule | AUC | days, sudden | days, slow | false flags | false cow-days | leg right; slope |"
    )
    .expect("standard output");
    for (what, scenario) in herds {
        let made = herd(&scenario);
        let days = scenario.days as usize;
        for scored in [false, true] {
            let ours = ours(&made, days, scored);
            let values: Vec<(f64, bool)> = ours
                .table
                .iter()
                .zip(&made.truth)
                .flat_map(|(row, truth)| row.iter().zip(truth).skip(LEARNING))
                .filter_map(|(r, t)| r.map(|r| (r.0, t.score >= 2)))
                .collect();
            let extra = format!(
                "{:.1} %; {:.2}",
                100.0 * ours.right as f64 / ours.found.max(1) as f64,
                slope(&values)
            );
            let rule = if scored { "this score, farm scores fortnightly" } else { "this score" };
            line(&mut out, what, rule, &made, &ours.table, &extra);
        }
        line(&mut out, what, "EWMA of SI", &made, &plain(&made, days, true), "");
        line(&mut out, what, "LWR < 0.78", &made, &plain(&made, days, false), "");
    }
}
