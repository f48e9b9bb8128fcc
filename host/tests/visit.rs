//! Runs the program through a day at the crush, and takes what was entered to another farm's computer and back.

use assert_cmd::Command;
use std::path::Path;

struct Farm(tempfile::TempDir);

impl Farm {
    fn new() -> Self {
        let farm = Self(tempfile::tempdir().unwrap());
        let herd =
            "animal_id,number,name\n999000000000412,412,Berta\n999000000000498,498,\n999000000000398,398,\n";
        farm.imports("herd", herd);
        farm
    }

    fn run(&self, words: &[&str], input: &str) -> (i32, String, String) {
        let mut command = Command::cargo_bin("fourplate").unwrap();
        command.arg("--store").arg(self.0.path().join("store.sqlite")).args(words);
        let output = command.write_stdin(input).output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
    }

    fn imports(&self, what: &str, text: &str) {
        let ran = self.run(&["import", what, "-"], text);
        assert_eq!(ran.0, 0, "{ran:?}");
    }

    fn visit(&self, input: &str) -> (i32, String, String) {
        self.run(&["visit", "--date", "2026-03-02", "--who", "anna"], input)
    }

    fn cases(&self) -> String {
        self.run(&["export", "cases"], "").1
    }
}

#[test]
fn a_visit_goes_cow_by_cow_and_ends_with_its_sheet() {
    let farm = Farm::new();
    let (code, out, err) =
        farm.visit("412\nlro wla 3 dbi\n\n498\nrf none\nrr i ip\nundo\nrrb ip w\ncorrect severity=3\nend\n");
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("Case 1: 2026-03-02 412 Berta LR outer: white line abscess zone 3; trim,\n    drained, block inner\n"), "{out}");
    assert!(
        out.contains("Case 3 no longer counts") && out.contains("Corrected: 2026-03-02 498 RR both"),
        "{out}"
    );
    let sheet = farm.run(&["visit", "--sheet", "--date", "2026-03-02"], "").1;
    assert!(out.ends_with(&sheet), "the sheet that ends a visit is the one printed again");
    assert!(sheet.starts_with("\nVisit of Mon 2 Mar 2026, anna\n"), "{sheet}");
    let line = |cow: &str| sheet.lines().find(|line| line.starts_with(cow)).unwrap_or_default().to_owned();
    assert!(line("412 Berta").contains("LR outer") && line("412 Berta").ends_with("7 Mar"), "{sheet}");
    assert!(sheet.contains("498 RR, case 4: call the veterinarian"), "{sheet}");
    assert!(!sheet.contains("case 3"), "{sheet}");
    let json: serde_json::Value = serde_json::from_str(
        &farm.run(&["visit", "--sheet", "--date", "2026-03-02", "--format", "json"], "").1,
    )
    .unwrap();
    assert_eq!(json["rows"][0]["next_look"], "2026-03-07", "{json}");
    assert_eq!((json["rows"].as_array().unwrap().len(), &json["who"][0]), (3, &"anna".into()));
}

#[test]
fn going_back_looking_again_and_slips() {
    let farm = Farm::new();
    let (code, out, err) =
        farm.visit("98\n398\nlro wx\nlr healed\nback\n777\n412\nlro wl bi\n\n398\nback\nlr on 18mm\n");
    assert_eq!(code, 3, "a line that was refused with nobody there to see it is an error");
    assert!(err.contains("98 may be 398 (999000000000398), or 498 (999000000000498); say which"), "{err}");
    assert!(err.contains("\"wx\" is no lesion code") && err.contains("no case at LR is known"), "{err}");
    assert!(err.contains("No cow 777 is known here"), "{err}");
    assert_eq!(out.matches("\n412 Berta").count(), 4, "twice come to, and two lines on the sheet: {out}");
    assert!(out.contains("Case 1: block on, 18 mm left"), "{out}");
    assert_eq!(farm.cases().lines().count(), 2, "{}", farm.cases());
    let (code, out, _) = farm.run(&["visit", "--date", "2026-03-03"], "412\nlr off healed\nundo\n");
    assert_eq!(code, 0);
    assert!(
        out.contains("That look no longer counts") && out.contains("Nothing was entered for that day"),
        "{out}"
    );
    assert!(!farm.run(&["case", "show", "1"], "").1.contains("healed"));
}

#[test]
fn without_a_terminal_a_missing_field_is_an_error() {
    let farm = Farm::new();
    for (line, missing) in
        [(&["412"][..], "which leg"), (&["412", "LR"], "which claw"), (&["412", "LR", "outer"], "the lesion")]
    {
        let (code, _, err) = farm.run(&[&["case", "add"][..], line].concat(), "");
        assert_eq!(code, 3, "{line:?}");
        assert!(err.contains(missing), "{line:?}: {err}");
    }
    assert_eq!(farm.cases().lines().count(), 1, "nothing was kept");
    for line in [&["412", "LR", "none"][..], &["412", "all"], &["498", "LR", "outer", "none"]] {
        assert_eq!(farm.run(&[&["case", "add"][..], line].concat(), "").0, 0, "{line:?}");
    }
    let (code, _, err) = farm.run(&["case", "add", "412", "RR", "outer", "wx"], "");
    assert!(code == 3 && err.contains("is no lesion code"), "{err}");
}

#[test]
fn days_are_taken_in_words() {
    let farm = Farm::new();
    let case = |day: &str| farm.run(&["case", "add", "412", "LR", "outer", "WL", "--date", day, "--yes"], "");
    assert_eq!(case("yesterday").0, 0);
    assert_eq!(case("28.2.2026").0, 0);
    assert!(farm.cases().contains("2026-02-28"));
    let (code, _, err) = farm.run(&["list", "--date", "3/4/2026"], "");
    assert!(code != 0 && err.contains("2026-04-03 or 2026-03-04"), "{err}");
    assert_eq!(farm.run(&["recheck", "--date", "someday"], "").0, 2);
    assert_eq!(farm.run(&["farm", "day_order=day-first"], "").0, 0);
    assert_eq!(farm.run(&["recheck", "--date", "3/4/2026"], "").0, 0);
}

#[test]
fn withdrawn_cases_and_later_looks_survive_export_and_import() {
    let farm = Farm::new();
    farm.visit("412\nlro wl bi\n\n498\nrri su\n");
    farm.run(
        &[
            "case",
            "follow",
            "1",
            "--date",
            "2026-03-09",
            "--block",
            "on",
            "--block-height-mm",
            "15",
            "--note",
            "=a, b",
        ],
        "",
    );
    farm.run(&["case", "correct", "1", "zone=3"], "");
    farm.run(&["case", "withdraw", "2", "--why", "=wrong cow"], "");
    let (cases, looks) = (farm.cases(), farm.run(&["export", "follow-ups"], "").1);
    let other = Farm::new();
    for _ in 0..2 {
        other.imports("trims", &cases);
        other.imports("follow-ups", &looks);
        assert_eq!(other.cases(), cases);
        assert_eq!(other.run(&["export", "follow-ups"], "").1, looks);
    }
    assert_eq!(looks.lines().count(), 2, "{looks}");
    assert!(
        looks.contains("\"'=a, b\"") && cases.contains("'=wrong cow"),
        "for spreadsheets: {looks}{cases}"
    );
    assert!(farm.run(&["export", "follow-ups", "--raw"], "").1.contains("\"=a, b\""));
    farm.imports("trims", &cases);
    assert_eq!(farm.cases(), cases, "a corrected case is not added again as it stands");
    assert_eq!(other.run(&["case", "reinstate", "2", "--why", "it was she"], "").0, 0);
    assert!(!other.cases().contains("wrong cow"));
    let shown = other.run(&["case", "show", "2"], "").1;
    assert!(shown.contains("withdrawn was \"=wrong cow\", now \"no: it was she\""), "{shown}");
    assert!(Path::new(&other.0.path().join("store.sqlite")).exists());
}
