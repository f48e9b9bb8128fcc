//! Runs the program as a trimmer does: enter, follow up, correct, withdraw, compare, recheck, count.

use assert_cmd::Command;
use serde_json::Value;
use std::fmt::Write as _;

const DONE: i32 = 0;
const USAGE: i32 = 2;
const BAD_INPUT: i32 = 3;
const NOT_FOUND: i32 = 5;

struct Ran {
    code: i32,
    out: String,
    err: String,
}

struct Farm {
    folder: tempfile::TempDir,
}

impl Farm {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn run(&self, line: &str) -> Ran {
        let mut command = Command::cargo_bin("fourplate").unwrap();
        command.arg("--store").arg(self.folder.path().join("store.sqlite"));
        command.args(words(line));
        let output = command.output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        Ran { code: output.status.code().unwrap(), out: text(output.stdout), err: text(output.stderr) }
    }

    fn done(&self, line: &str) -> String {
        let ran = self.run(line);
        assert_eq!(ran.code, DONE, "{line}: {}{}", ran.out, ran.err);
        assert!(ran.out.lines().all(|l| l.chars().count() <= 80) || line.contains("--format"), "{}", ran.out);
        ran.out
    }

    fn json(&self, line: &str) -> Value {
        serde_json::from_str(&self.done(&format!("{line} --format json"))).unwrap()
    }

    fn refused(&self, line: &str, why: &str) {
        let ran = self.run(line);
        assert_eq!(ran.code, BAD_INPUT, "{line}: {}{}", ran.out, ran.err);
        assert!(ran.err.contains(why), "{line}: {}", ran.err);
    }

    /// Cow 999000000000412, 100 days from 1 January 2026, twice a day: 0.8 of her usual load on RR from day 40, trimmed
    /// on day 60, back by halves of six days after it. A herd mate stands even.
    fn passages(&self) {
        self.passages_back_by(6.0);
    }

    fn passages_back_by(&self, half_time: f64) {
        let mut text = "animal_id,time,duration_s,kind,quality,lf_share_pct,rf_share_pct,lr_share_pct,\
                        rr_share_pct,standing_s,lane\n"
            .to_owned();
        for half_day in 0..200_i32 {
            let day = half_day / 2;
            let left = match day {
                ..40 => 0.0,
                40..60 => 1.0,
                _ => (-f64::from(day - 60) / half_time).exp2(),
            };
            // A wobble that repeats, so that every run is the same.
            let wobble = f64::from((half_day * 7) % 11 - 5) * 0.12;
            let moved = 4.6 * left + wobble;
            let date = jiff::civil::date(2026, 1, 1).checked_add(jiff::ToSpan::days(day)).unwrap();
            let hour = if half_day % 2 == 0 { 6 } else { 16 };
            for (animal, moved) in [("999000000000412", moved), ("999000000000413", wobble)] {
                let minute = i32::from(animal.ends_with('3'));
                let (lr, rr) = (23.0 + moved, 23.0 - moved);
                writeln!(
                    text,
                    "{animal},{date}T{hour:02}:0{minute}:00Z,9.0,stance,good,27.0,27.0,{lr:.2},{rr:.2},6.0,exit"
                )
                .unwrap();
            }
        }
        let path = self.folder.path().join("passages.csv");
        std::fs::write(&path, text).unwrap();
        let out = self.done(&format!("import passages {}", path.display()));
        assert!(out.contains("400 passages added"), "{out}");
    }
}

fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (i, part) in line.split('\'').enumerate() {
        if i % 2 == 1 {
            words.push(part.to_owned());
        } else {
            words.extend(part.split_whitespace().map(str::to_owned));
        }
    }
    words
}

#[test]
fn one_line_enters_a_case_and_what_cannot_be_is_refused() {
    let farm = Farm::new();
    let out = farm.done(
        "case add 412 RR outer SU --zone 4 --block-claw inner --block-height-mm 20 --date 2026-03-02 --severity 3 --yes",
    );
    assert!(
        out.starts_with("Case 1: 2026-03-02 412 RR outer: sole ulcer zone 4; trim, block inner\n"),
        "{out}"
    );
    assert!(out.contains("isocyanates") && out.contains("veterinarian") && out.contains("case correct 1"));
    let again = "case add 412 RR outer SU --zone 4 --block-claw inner --block-height-mm 20 --date 2026-03-02 --severity 3 --yes";
    assert!(
        farm.run(again).err.contains("entered already") || farm.run(again).err.contains("already entered")
    );
    for (line, why) in [
        ("case add 412 RR outer SU --block-claw outer", "sore claw"),
        ("case add 412 RR outer SU --zone 13", "0 to 12"),
        ("case add 412 RH outer SU", "LF, RF, LR or RR"),
        ("case add 412 RR outer SU --date 2026-03-02 --recheck 2026-03-01 --yes", "recheck is not after"),
        ("case add 412 RR outer SU --date 2999-01-01", "future"),
        ("case add 412 RR outer SU --date 2026-02-30", "a date YYYY-MM-DD"),
        ("case add 412 RR outer SU --dd-stage M2", "M stage"),
        ("case add 412 RR outer SU --block-claw inner --block-height-mm 200 --date 2026-03-09", "--yes"),
        ("case add 412 RR outer WL --zone 6 --date 2026-03-09", "unusual"),
    ] {
        farm.refused(line, why);
    }
    assert_eq!(farm.run("case add").code, USAGE);
    assert_eq!(farm.json("case list").as_array().unwrap().len(), 1);
}

#[test]
fn a_cow_is_known_by_her_last_digits_and_a_strange_one_is_asked_about() {
    let farm = Farm::new();
    farm.passages();
    let out = farm.done("case add 412 RR outer SU --date 2026-03-02");
    assert!(out.contains("999000000000412"), "{out}");
    farm.refused("case add 777 RR outer SU --date 2026-03-02", "no cow 777");
    farm.refused("case add 000 RR outer SU --date 2026-03-02", "no cow 000");
    assert_eq!(farm.json("case list --animal 412").as_array().unwrap().len(), 1);
}

#[test]
fn looks_corrections_and_withdrawals_keep_their_history() {
    let farm = Farm::new();
    farm.done("case add 412 RR outer SU --zone 4 --block-claw inner --block-height-mm 20 --date 2026-03-02 --who anna");
    farm.done(
        "case follow 1 --date 2026-03-12 --block on --block-height-mm 14 --course improving --who anna",
    );
    farm.refused("case follow 1 --date 2026-03-14", "nothing was told");
    farm.refused("case follow 1 --date 2026-03-01 --course same", "before the treatment");
    farm.refused("case follow 1 --date 2026-03-14 --block-height-mm 30", "has grown");
    assert_eq!(farm.run("case follow 1 --block-height-mm -2").code, USAGE);
    assert_eq!(farm.run("case follow 9 --course same").code, NOT_FOUND);
    let out = farm.done("case correct 1 leg=LR zone=5 --who ben");
    assert_eq!(out, "leg: \"RR\" -> \"LR\"\nzone: \"4\" -> \"5\"\n");
    farm.refused("case correct 1 zone=13", "0 to 12");
    farm.refused("case correct 1 colour=red", "no field");
    assert_eq!(farm.run("case correct 1 leg").code, USAGE);
    let shown = farm.done("case show 1");
    for part in [
        "Case 1: 2026-03-02 412 LR outer: sole ulcer zone 5; trim, block inner",
        "block height, mm     20",
        "block worn through   2026-04-",
        "2026-03-12 looked at: block on, 14 mm left, improving",
        "ben: leg was \"RR\", now \"LR\"",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let json = farm.json("case show 1");
    assert_eq!(json["leg"], "LR");
    assert_eq!(json["follow_ups"][0]["block_height_mm"], 14.0);
    assert_eq!(json["corrections"].as_array().unwrap().len(), 2);
    farm.done("case withdraw 1 --why 'wrong cow' --who ben");
    assert!(farm.done("case show 1").contains("Withdrawn: wrong cow"));
    let csv = farm.done("case list --format csv");
    assert!(csv.starts_with("case,date,animal_id,leg,claw,lesion,zone,treatment,block_claw,"), "{csv}");
    assert_eq!(csv.lines().count(), 2);
    farm.refused("case follow 1 --course healed", "withdrawn");
}

#[test]
fn the_comparison_speaks_of_the_block_first_and_judges_when_it_can() {
    let farm = Farm::new();
    farm.passages();
    farm.done("case add 412 RR outer SU --date 2026-03-02");
    let early = farm.json("compare 412 --until 2026-03-04");
    assert_eq!(early["verdict"]["verdict"], "cannot_tell_yet");
    assert_eq!(early["verdict"]["ask_again"], "2026-03-06");
    let late = farm.json("compare 412 --until 2026-04-05");
    assert_eq!(
        (late["verdict"]["verdict"].as_str(), late["leg"].as_str()),
        (Some("as_expected"), Some("RR"))
    );
    let rr = late["legs"].as_array().unwrap().iter().find(|leg| leg["leg"] == "RR").unwrap();
    let (low, high) = (rr["before_pct"]["low"].as_f64().unwrap(), rr["before_pct"]["high"].as_f64().unwrap());
    assert!(low < -20.0 && -20.0 < high, "{low} {high}");
    let text = farm.done("compare 412 --until 2026-04-05");
    assert!(text.starts_with("Cow 999000000000412: no block; day 34 after Mon 2 Mar 2026\n"), "{text}");
    assert!(text.contains("as expected: RR carries"), "{text}");
    farm.done("case correct 1 block_claw=inner --yes");
    let blocked = farm.done("compare 412 --until 2026-03-20");
    assert!(
        blocked.starts_with(
            "Cow 999000000000412: block ON at RR, due off 30 Mar; day 18 after Mon 2 Mar 2026\n"
        ),
        "{blocked}"
    );
    let csv = farm.done("compare 412 --until 2026-04-05 --format csv");
    assert!(csv.starts_with("measure,before,after,change_estimate,change_low,change_high,"), "{csv}");
    assert_eq!(farm.run("compare 413").code, NOT_FOUND);
    assert_eq!(farm.run("compare").code, USAGE);
    assert!(farm.done("compare --all").contains("1 case of 1 cow\n  fewer than 5 cows"));
}

#[test]
fn rechecks_come_by_day_and_the_blocks_own_date() {
    let farm = Farm::new();
    farm.done("case add 412 RR outer SU --zone 4 --block-claw inner --block-height-mm 20 --date 2026-03-02");
    let due = farm.json("recheck --date 2026-03-25 --days 14");
    let days: Vec<&str> = due.as_array().unwrap().iter().map(|r| r["date"].as_str().unwrap()).collect();
    assert_eq!(days, ["2026-03-30", "2026-04-06"]);
    let text = farm.done("recheck --date 2026-03-25 --days 14");
    assert!(text.contains("Mon 30 Mar 2026\n[ ] 412 RR, case 1: take the block off (28 days on)"), "{text}");
    assert!(text.contains("outer claw: sole ulcer in zone 4") && text.contains("crush"), "{text}");
    farm.done("case follow 1 --date 2026-03-30 --block off --course healed");
    assert!(farm.done("recheck --date 2026-03-31").contains("Nothing is due."));
    let csv = farm.done("recheck --date 2026-03-25 --format csv");
    assert!(csv.starts_with("date,animal_id,leg,case,look_for,reason,planned\n"), "{csv}");
}

#[test]
fn what_the_lane_saw_brings_a_recheck_forward_in_both_lists() {
    let farm = Farm::new();
    farm.passages_back_by(1e6);
    farm.done("case add 412 RR outer SU --date 2026-03-02");
    let due = &farm.json("recheck --date 2026-03-20")[0];
    assert_eq!((due["date"].as_str(), due["planned"].as_str()), (Some("2026-03-20"), Some("2026-04-06")));
    assert_eq!(due["reason"]["values"]["verdict"], "slower_than_expected", "{due}");
    let list = farm.json("list --date 2026-03-20");
    let sooner = &list["rechecks"][0]["sooner"];
    assert_eq!(sooner["values"]["verdict"], "slower_than_expected", "{sooner}");
    let text = farm.done("list --date 2026-03-20");
    assert!(text.contains("slower than expected: RR carries"), "{text}");
    // On the way it should be, nothing is due before the day planned.
    let farm = Farm::new();
    farm.passages();
    farm.done("case add 412 RR outer SU --date 2026-03-02");
    assert_eq!(farm.json("recheck --date 2026-03-20").as_array().map(Vec::len), Some(0));
}

#[test]
fn with_a_block_on_nothing_counts_as_back_to_normal() {
    let farm = Farm::new();
    farm.passages();
    farm.done("case add 412 RR outer SU --date 2026-03-02");
    let by_35 = |farm: &Farm| farm.json("outcomes")[0]["back"][1]["back"].as_u64().unwrap();
    assert_eq!(by_35(&farm), 1);
    farm.done("case correct 1 block_claw=inner block_due=2026-04-30 --yes");
    assert_eq!(by_35(&farm), 0);
    let text = farm.done("outcomes --by treatment");
    for part in
        ["trim + block: 1 case,", "Thomas 2015", "Thomas 2016", "Sadiq 2022", "not of what a treatment did"]
    {
        assert!(text.contains(part), "{part}: {text}");
    }
    let csv = farm.done("outcomes --format csv");
    assert!(csv.starts_with("by,group,cases,measured,by_day,back,of,"), "{csv}");
}

#[test]
fn a_withdrawal_stands_first_until_it_is_over() {
    let farm = Farm::new();
    farm.passages();
    farm.done("case add 412 RR outer SU --date 2026-03-02 --milk-withdrawal-end 2026-03-25 --meat-withdrawal-end 2026-03-28 --yes");
    let sheet = farm.done("recheck --date 2026-03-25");
    assert!(
        sheet.find("no milk up to and with Wed 25 Mar 2026").unwrap()
            < sheet.find("[ ]").unwrap_or(sheet.len()),
        "{sheet}"
    );
    assert!(!farm.done("recheck --date 2026-03-26").contains("no milk"));
    let list = farm.done("list --date 2026-03-20").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(list.contains("no meat up to and with Sat 28 Mar 2026"), "{list}");
    assert!(!farm.done("recheck --date 2026-03-29").contains("no meat"));
}
