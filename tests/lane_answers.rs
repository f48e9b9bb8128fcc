//! What a lane says of a cow by one passage, against the list of the same evening: how often they agree, how much of what is
//! urgent is told at the first passage, and what was said in vain.
//!
//! `cargo test --release -p tests --test lane_answers -- --ignored --nocapture` prints the table.

#![allow(clippy::print_stdout, reason = "the table is what it is for")]

use host::record::{AnimalId, Flag, Passage};
use host::score::course::engine::{Inputs, RunState, run};
use host::score::course::flag::flag;
use host::score::course::lane_table::lane_tables;
use host::score::{ScoreRun, ScoreSettings};
use host::store::{PassageFilter, Store};
use jiff::civil::Date;
use shared::identity::AnimalCode;
use shared::lane_score::{LaneFlag, Measures, judge};
use std::collections::{BTreeMap, HashMap};
use tests::hard_world::World;

/// Days before counting starts.
const LEARNING: i32 = 21;

/// What the answers came to.
#[derive(Default)]
struct Counts {
    /// First passages of a day on which the evening has a flag, and those with the same flag.
    first: usize,
    same: usize,
    /// By lane and by evening, `check` or more: both, lane alone, evening alone, neither.
    check: [usize; 4],
    /// New urgent evenings; told as urgent, and as `check` or more, at the first passage.
    urgent: (usize, usize, usize),
    /// Days with a call of `check` or more at any passage, anew, on a cow below that on the evening before and this one.
    vain: usize,
    cow_days: usize,
}

fn passages_of(text: &str) -> Vec<Passage> {
    let store = Store::in_memory().expect("a store");
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("passages.csv");
    std::fs::write(&path, text).expect("written");
    let input = host::import::Input::open(&path).expect("opened");
    let done = host::import::passages::passages(&store, input, "exit").expect("imported");
    assert_eq!(done.bad, 0, "{:?}", done.problems.first());
    store.passages(&PassageFilter::default()).expect("readable")
}

/// The lane's flags of every passage, by the table of the morning.
fn answers(passages: &[Passage]) -> (ScoreRun, HashMap<i64, LaneFlag>) {
    let mut names: Vec<&AnimalId> = passages.iter().filter_map(|passage| passage.animal.as_ref()).collect();
    names.sort();
    names.dedup();
    let tag = |n: usize| AnimalCode::new(999, 1 + n as u64).expect("a code");
    let tags: BTreeMap<AnimalId, AnimalCode> =
        names.into_iter().enumerate().map(|(n, name)| (name.clone(), tag(n))).collect();
    let mut by_day: BTreeMap<Date, Vec<&Passage>> = BTreeMap::new();
    passages.iter().for_each(|passage| by_day.entry(passage.date).or_default().push(passage));
    let settings = ScoreSettings::default();
    let mut said = HashMap::new();
    let inputs = Inputs { passages, herd: &[], scores: &[], work: &[] };
    let scored = run(None, &inputs, &settings, |state: &RunState| {
        let tomorrow = host::arithmetic::dates::date_of_number(state.last() + 1);
        let Some(coming) = by_day.get(&tomorrow) else { return };
        for (lane, table) in lane_tables(state.clone(), &tags, &settings) {
            for passage in coming.iter().filter(|passage| passage.lane == lane) {
                let code = passage.animal.as_ref().map(|animal| tags[animal]);
                let row = code.and_then(|code| {
                    let at = table.rows.binary_search_by_key(&code.bits(), |row| row.code.bits());
                    at.ok().map(|at| &table.rows[at])
                });
                if let Some((row, measures)) = row.zip(Measures::of(&passage.summary)) {
                    said.insert(passage.id, judge(&table.head, row, &measures).flag);
                }
            }
        }
    });
    (scored, said)
}

fn count(passages: &[Passage]) -> Counts {
    let (scored, said) = answers(passages);
    let rows: HashMap<(&AnimalId, Date), Flag> =
        scored.days.iter().map(|row| ((&row.animal, row.date), row.flag)).collect();
    let first = passages.iter().map(|passage| passage.date).min().expect("passages");
    let mut days: BTreeMap<(Date, &AnimalId), Vec<LaneFlag>> = BTreeMap::new();
    for passage in passages {
        if let (Some(animal), Some(flag)) = (&passage.animal, said.get(&passage.id)) {
            days.entry((passage.date, animal)).or_default().push(*flag);
        }
    }
    let mut counts = Counts::default();
    for ((date, animal), lane) in &days {
        let before = date.yesterday().ok().and_then(|day| rows.get(&(*animal, day)).copied());
        let Some(evening) = rows.get(&(*animal, *date)).copied().filter(|flag| *flag >= Flag::Clear) else {
            continue;
        };
        if (*date - first).get_days() < LEARNING {
            continue;
        }
        counts.cow_days += 1;
        counts.first += 1;
        counts.same += usize::from(flag(lane[0]) == evening);
        let (here, there) = (lane[0] >= LaneFlag::Check, evening >= Flag::Check);
        counts.check[2 * usize::from(!here) + usize::from(!there)] += 1;
        if evening == Flag::Urgent && before.is_some_and(|before| before < Flag::Urgent) {
            counts.urgent.0 += 1;
            counts.urgent.1 += usize::from(lane[0] == LaneFlag::Urgent);
            counts.urgent.2 += usize::from(here);
        }
        let called = lane.iter().any(|flag| *flag >= LaneFlag::Check);
        let was = before.is_some_and(|before| before >= Flag::Check);
        counts.vain += usize::from(called && !there && !was);
    }
    counts
}

impl Counts {
    /// Cohen's kappa of `check` or more.
    fn kappa(&self) -> f64 {
        let [both, lane, evening, neither] = self.check.map(|count| count as f64);
        let all = both + lane + evening + neither;
        let chance =
            ((both + lane) * (both + evening) + (evening + neither) * (lane + neither)) / (all * all);
        ((both + neither) / all - chance) / (1.0 - chance)
    }

    fn line(&self, of: &str) {
        println!(
            "| {of} | {:.1} % | {:.2} | {} of {} | {} of {} | {:.2} |",
            100.0 * self.same as f64 / self.first as f64,
            self.kappa(),
            self.urgent.1,
            self.urgent.0,
            self.urgent.2,
            self.urgent.0,
            700.0 * self.vain as f64 / self.cow_days as f64,
        );
    }
}

fn demo(seed: u64, cows: u32, days: u32) -> Vec<Passage> {
    let folder = tempfile::tempdir().expect("a folder");
    let ran = std::process::Command::new(tests::program::path("demo"))
        .args(["herd", "--level", "passages", "--out"])
        .arg(folder.path())
        .args(["--cows", &cows.to_string(), "--days", &days.to_string(), "--seed", &seed.to_string()])
        .output()
        .expect("runs");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    passages_of(&std::fs::read_to_string(folder.path().join("passages.csv")).expect("readable"))
}

#[test]
#[ignore = "prints a table; minutes"]
fn print_the_table() {
    println!(
        "| herd | the evening's flag at the first passage | kappa of check | new urgent told as such | as check | calls in vain, 100 cows a week |"
    );
    for seed in [4411, 4412, 4421] {
        count(&demo(seed, 200, 150)).line(&format!("demo {seed}"));
    }
    for seed in 201..=205 {
        count(&passages_of(&World::new(seed).passages)).line(&format!("hard {seed}"));
    }
}

#[test]
fn the_lane_and_the_evening_mostly_say_the_same() {
    let counts = count(&demo(7, 60, 60));
    counts.line("demo 7");
    assert!(counts.first > 1_000, "{}", counts.first);
    assert!(counts.same as f64 > 0.9 * counts.first as f64);
    assert!(counts.kappa() > 0.6, "{}", counts.kappa());
}
