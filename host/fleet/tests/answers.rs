//! Each question on rows made by hand, with answers worked out by hand.

use fleet::questions::{Asked, benchmark, lanes, learn, lists, moved, outcomes};
use fleet::session::{know_dataset, know_results, session};
use fleet::{dataset::Dataset, place::Place};
use host::record::passage_table::Cell;
use host::report::exchange::dataset::parquet::{Column, Kind, file};
use host::report::exchange::dataset::{MARKER, Marker, SCHEMA, passages, tables};
use jiff::civil::{Date, date};
use jiff::{Timestamp, ToSpan};
use std::fs;
use std::path::Path;

const FIRST: Date = date(2026, 1, 1);

fn day(number: i32) -> Date {
    FIRST.checked_add(number.days()).unwrap()
}

/// A row with these cells, the others empty.
fn row(columns: &[Column], cells: &[(&str, Cell)]) -> Vec<Cell> {
    for (name, _) in cells {
        assert!(columns.iter().any(|column| column.name == *name), "{name}");
    }
    let of = |column: &Column| {
        let given = cells.iter().find(|(name, _)| *name == column.name).map(|(_, cell)| cell.clone());
        // Yes or no is never empty.
        given.unwrap_or(if column.kind == Kind::Yes { Cell::Yes(false) } else { Cell::Empty })
    };
    columns.iter().map(of).collect()
}

fn text(text: &str) -> Cell {
    Cell::Text(text.to_owned())
}

fn put(root: &Path, name: &str, table: &str, columns: &[Column], rows: &[Vec<Cell>]) {
    let path = root.join(name);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, file(table, columns, rows, &[]).unwrap()).unwrap();
}

/// A farm: what its cows were like, by animal and day, and what was done.
#[derive(Default)]
struct Farm {
    days: Vec<Vec<Cell>>,
    cases: Vec<Vec<Cell>>,
    work: Vec<Vec<Cell>>,
    passages: Vec<Vec<Cell>>,
    lanes: Vec<Vec<Cell>>,
    observers: Vec<Vec<Cell>>,
}

impl Farm {
    fn day(&mut self, animal: &str, at: i32, flag: &str, probability: f64) {
        self.days.push(row(
            &tables::DAYS,
            &[
                ("animal_id", text(animal)),
                ("date", Cell::Day(day(at))),
                ("flag", text(flag)),
                ("probability", Cell::Exact(probability)),
                ("passages", Cell::Count(2)),
            ],
        ));
    }

    /// A lesion that was treated, with a block or by a trim.
    fn treated(&mut self, animal: &str, at: i32, lesion: &str, block: bool) {
        let number = Cell::Long(i64::try_from(self.cases.len()).unwrap());
        let common = [("row", number), ("animal_id", text(animal)), ("date", Cell::Day(day(at)))];
        let case = [("lesion", text(lesion)), ("block", Cell::Yes(block)), ("trim", Cell::Yes(!block))];
        self.cases.push(row(&tables::CASES, &[&common[..], &case].concat()));
        self.work.push(row(&tables::WORK, &[&common[..], &[("lesion", Cell::Yes(true))]].concat()));
    }

    fn looked(&mut self, animal: &str, at: i32) {
        let cells = [("animal_id", text(animal)), ("date", Cell::Day(day(at))), ("look", Cell::Yes(true))];
        self.work.push(row(&tables::WORK, &cells));
    }

    fn passage(&mut self, animal: Option<&str>, at: i32, quality: &str, weight: f32) {
        let time: Timestamp = format!("{}T06:00:00Z", day(at)).parse().unwrap();
        let mut cells = vec![
            ("lane", text("exit")),
            ("time", Cell::Time(time)),
            ("quality", text(quality)),
            ("body_weight_kg", Cell::Number(weight)),
            ("readings", Cell::Count(98)),
            ("lost_readings", Cell::Count(2)),
        ];
        cells.extend(animal.map(|animal| ("animal_id", text(animal))));
        self.passages.push(row(&passages::columns(), &cells));
    }

    fn keep(&self, root: &Path, code: &str) {
        put(root, &format!("days/farm={code}/days.parquet"), "days", &tables::DAYS, &self.days);
        put(root, &format!("cases/farm={code}/cases.parquet"), "cases", &tables::CASES, &self.cases);
        put(root, &format!("work/farm={code}/work.parquet"), "work", &tables::WORK, &self.work);
        put(
            root,
            &format!("farms/farm={code}/farms.parquet"),
            "farms",
            &tables::FARM,
            &[row(&tables::FARM, &[])],
        );
        put(root, &format!("lanes/farm={code}/lanes.parquet"), "lanes", &tables::LANES, &self.lanes);
        put(
            root,
            &format!("observers/farm={code}/observers.parquet"),
            "o",
            &tables::OBSERVERS,
            &self.observers,
        );
        let month = format!("passages/farm={code}/month=2026-01/passages.parquet");
        put(root, &month, "passages", &passages::columns(), &self.passages);
    }
}

async fn asked(root: &Path, farms: &[(&str, Farm)]) -> Asked {
    farms.iter().for_each(|(code, farm)| farm.keep(root, code));
    let session = session(None).await.unwrap();
    let place = Place::of(root.to_str().unwrap()).unwrap();
    let marker = Marker { schema: SCHEMA, organisation: "A".into() };
    fs::write(root.join(MARKER), serde_json::to_vec(&marker).unwrap()).unwrap();
    let dataset = Dataset { place: place.clone(), marker, farms: Vec::new(), aside: Vec::new() };
    let codes: Vec<&str> = farms.iter().map(|farm| farm.0).collect();
    know_dataset(&session, &dataset, &codes).unwrap();
    know_results(&session, &place, &codes).unwrap();
    Asked { session }
}

#[tokio::test]
async fn the_last_four_weeks_are_held_against_the_four_before() {
    let folder = tempfile::tempdir().unwrap();
    let mut farm = Farm::default();
    for cow in 0..6 {
        // 60 days: the first four count in neither window.
        for at in 0..60 {
            let probability = if at < 4 {
                1.0
            } else if at < 32 {
                0.1
            } else {
                0.3
            };
            farm.day(&format!("{cow}"), at, "clear", probability);
        }
    }
    // A farm that nobody asks about lies beside it.
    Farm::default().keep(folder.path(), "other");
    let found = moved::ask(&asked(folder.path(), &[("a", farm)]).await).await.unwrap();
    assert_eq!((found.len(), found[0].cows), (1, 6));
    assert!((found[0].before_pct - 10.0).abs() < 1e-9 && (found[0].now_pct - 30.0).abs() < 1e-9, "{found:?}");
}

#[tokio::test]
async fn a_foot_is_clear_by_its_last_judged_day_about_five_weeks_on() {
    let folder = tempfile::tempdir().unwrap();
    let (mut a, mut b) = (Farm::default(), Farm::default());
    // Clear at last, though not at first; a day too late changes nothing.
    a.treated("1", 0, "WL", true);
    a.day("1", 29, "check", 0.9);
    a.day("1", 42, "clear", 0.1);
    a.day("1", 43, "check", 0.9);
    // Judged only too early.
    a.treated("2", 0, "WL", true);
    a.day("2", 28, "clear", 0.1);
    // Not judged: no data.
    a.treated("3", 0, "SU", false);
    a.day("3", 35, "no_data", 0.0);
    // Lame again.
    b.treated("1", 10, "WL", true);
    b.day("1", 40, "clear", 0.1);
    b.day("1", 45, "watch", 0.4);
    // Under a block she is not called clear.
    b.treated("2", 10, "WL", false);
    b.day("2", 45, "clear", 0.1);
    let place = tables::DAYS.iter().position(|column| column.name == "block_on").unwrap();
    b.days.last_mut().unwrap()[place] = Cell::Yes(true);
    let asked = asked(folder.path(), &[("a", a), ("b", b)]).await;
    let found = outcomes::ask(&asked, &[outcomes::By::Lesion]).await.unwrap();
    let of = |group: &str| found.iter().find(|found| found.group == group).unwrap();
    assert_eq!((of("WL").farms, of("WL").cases, of("WL").judged), (2, 4, 3));
    assert!((of("WL").clear_pct.unwrap() - 100.0 / 3.0).abs() < 1e-9);
    assert_eq!((of("SU").cases, of("SU").judged, of("SU").clear_pct), (1, 0, None));
    let both = [outcomes::By::Lesion, outcomes::By::Treatment, outcomes::By::Trimmer];
    let found = outcomes::ask(&asked, &both).await.unwrap();
    let groups: Vec<&str> = found.iter().map(|found| found.group.as_str()).collect();
    let wanted = ["WL, block, not written", "SU, trim alone, not written", "WL, trim alone, not written"];
    assert_eq!(groups, wanted);
}

#[tokio::test]
async fn a_lane_is_told_by_its_last_four_weeks() {
    let folder = tempfile::tempdir().unwrap();
    let mut farm = Farm::default();
    farm.day("1", 40, "clear", 0.1);
    // Five weights of 500 and 510 in turn; a passage before the window; one of nobody; one that cannot be used.
    for (at, weight) in [(36, 500.0), (37, 510.0), (38, 500.0), (39, 510.0), (40, 505.0)] {
        farm.passage(Some("1"), at, "good", weight);
    }
    farm.passage(None, 12, "unusable", 900.0);
    farm.passage(None, 40, "good", 900.0);
    farm.passage(Some("1"), 40, "unusable", 900.0);
    for (at, off) in [(38, 9.0), (40, -3.5), (39, 1.0)] {
        let cells = [
            ("lane", text("exit")),
            ("date", Cell::Day(day(at))),
            ("plate", text("RR")),
            ("plate_error_pct", Cell::Exact(off)),
        ];
        farm.lanes.push(row(&tables::LANES, &cells));
    }
    let found = lanes::ask(&asked(folder.path(), &[("a", farm)]).await).await.unwrap();
    assert_eq!(found.len(), 1);
    let lane = &found[0];
    assert_eq!((lane.passages, lane.lost_pct, lane.plate_error_pct), (7.0, 2.0, Some(-3.5)));
    assert!((lane.usable_pct - 600.0 / 7.0).abs() < 1e-9 && (lane.named_pct - 600.0 / 7.0).abs() < 1e-9);
    // Mean 505, squares 4 x 25, by 4: SD 5, .990 %.
    assert!((lane.weight_sd_pct.unwrap() - 100.0 * 5.0 / 505.0).abs() < 1e-4, "{lane:?}");
    assert_eq!(lane.bad, "few named; readings lost; plate off");
}

#[tokio::test]
async fn a_list_is_held_against_what_was_found() {
    let folder = tempfile::tempdir().unwrap();
    let mut farm = Farm::default();
    // Told seven days before; eight days before is too long ago; the day itself is too late.
    for (cow, before) in [("1", 7), ("2", 8), ("3", 0)] {
        farm.treated(cow, 20, "WL", false);
        farm.day(cow, 20 - before, "check", 0.9);
    }
    // One flag of two days, looked at after 14 days from its first, nothing found.
    farm.day("4", 1, "urgent", 0.9);
    farm.day("4", 2, "check", 0.9);
    farm.looked("4", 15);
    // A flag, a day without, a flag again: two flags; the second is looked at too late.
    farm.day("5", 1, "check", 0.9);
    farm.day("5", 2, "clear", 0.1);
    farm.day("5", 3, "check", 0.9);
    farm.looked("5", 18);
    farm.day("6", 1, "watch", 0.4);
    let found =
        lists::ask(&asked(folder.path(), &[("a", farm), ("b", Farm::default())]).await).await.unwrap();
    let of =
        |found: &lists::List| (found.lesions, found.told, found.looked_at, found.found, found.not_looked_at);
    assert_eq!(of(&found[0]), (3, 1, 4, 3, 2));
    assert_eq!((found[1].farm.as_str(), of(&found[1])), ("b", (0, 0, 0, 0, 0)));
}

#[tokio::test]
async fn a_farm_stands_among_ten_of_its_size() {
    let folder = tempfile::tempdir().unwrap();
    let codes: Vec<String> = (0..10).map(|number| format!("f{number}")).collect();
    let farm = |number: usize| {
        let mut farm = Farm::default();
        // Two cows for 100 days; one is flagged on ten days of the last 84, in two spells, and then treated.
        for at in 0..100 {
            let flagged = (30..35).contains(&at) || (40..45).contains(&at);
            farm.day("1", at, if flagged { "check" } else { "clear" }, number as f64 / 100.0);
            farm.day("2", at, "clear", number as f64 / 100.0);
        }
        farm.treated("1", 50, "WL", false);
        farm.passage(Some("1"), 99, "good", 600.0);
        farm.passage(Some("1"), 99, if number == 0 { "unusable" } else { "good" }, 600.0);
        farm
    };
    let farms: Vec<(&str, Farm)> =
        codes.iter().enumerate().map(|(number, code)| (code.as_str(), farm(number))).collect();
    let asked = asked(folder.path(), &farms).await;
    let found = benchmark::ask(&asked, "f0").await.unwrap();
    let own: Vec<f64> = found.iter().map(|found| found.own.unwrap()).collect();
    assert!(own[0].abs() < 1e-9);
    // Two flags on 168 cow-days: 700 x 2 / 168.
    assert!((own[1] - 8.333_333).abs() < 1e-5, "{own:?}");
    assert_eq!((own[2], own[3]), (10.0, 50.0));
    assert!((found[0].q50.unwrap() - 5.0).abs() < 1e-9 && found[3].q10 == Some(100.0));
    // Of a farm that is not there nothing is said.
    assert!(benchmark::ask(&asked, "f10").await.is_err());
}

#[tokio::test]
async fn ten_farms_with_records_teach_and_nine_do_not() {
    let observers = |scores: i64| {
        let mut farm = Farm::default();
        for (number, multiple) in [0.4f64, 0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.2, 3.0].into_iter().enumerate() {
            let likelihood = if number == 6 { 0.0 } else { -40.0 };
            let cells = [
                ("row", Cell::Long(number as i64)),
                ("log_multiple", Cell::Exact(multiple.ln())),
                ("log_likelihood", Cell::Exact(likelihood)),
                ("scores", Cell::Long(scores)),
                ("feet", Cell::Long(10)),
            ];
            farm.observers.push(row(&tables::OBSERVERS, &cells));
        }
        farm
    };
    let codes: Vec<String> = (0..10).map(|number| format!("f{number}")).collect();
    let farms = |last: i64| -> Vec<(&str, Farm)> {
        let scores = |number| if number == 9 { last } else { 40 };
        codes.iter().enumerate().map(|(number, code)| (code.as_str(), observers(scores(number)))).collect()
    };
    let folder = tempfile::tempdir().unwrap();
    assert!(learn::ask(&asked(folder.path(), &farms(39)).await).await.is_err());
    let found = learn::ask(&asked(folder.path(), &farms(40)).await).await.unwrap();
    assert!(found.farms == 10 && found.worth_taking && (found.multiple - 1.6).abs() < 0.2, "{found:?}");
}
