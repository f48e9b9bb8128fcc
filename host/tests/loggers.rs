//! Runs the program on the recorded readings as other loggers would have written them.

use assert_cmd::Command;
use std::path::{Path, PathBuf};

struct Farm(tempfile::TempDir);

impl Farm {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    /// Exit code, what was printed, what was said beside it.
    fn run(&self, words: &[&str]) -> (i32, String, String) {
        let mut command = Command::cargo_bin("fourplate").unwrap();
        let output =
            command.arg("--store").arg(self.0.path().join("store.sqlite")).args(words).output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
    }

    fn import(&self, bytes: impl AsRef<[u8]>, said: &[&str]) -> (i32, String, String) {
        let path: PathBuf = self.0.path().join("readings.csv");
        std::fs::write(&path, bytes).unwrap();
        self.run(&[&["import", "readings"][..], said, &[&path.display().to_string()]].concat())
    }

    /// The passages as a table.
    fn passages(&self) -> String {
        self.run(&["export", "passages"]).1
    }
}

/// The first passages of the recorded readings.
fn recorded() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/recorded/readings.csv");
    let text = std::fs::read_to_string(path).unwrap();
    text.lines().take(6000).map(|line| format!("{line}\n")).collect()
}

/// The same with every load changed.
fn with_loads(of: impl Fn([f64; 4]) -> [f64; 4]) -> String {
    let mut lines = recorded().lines().map(str::to_owned).collect::<Vec<_>>();
    for line in &mut lines[1..] {
        let fields: Vec<&str> = line.split(',').collect();
        let loads = [1, 2, 3, 4].map(|place| fields[place].parse::<f64>().unwrap());
        let loads = of(loads).map(|load| load.to_string()).join(",");
        *line = format!("{},{loads}", fields[0]);
    }
    lines.iter().map(|line| format!("{line}\n")).collect()
}

/// Passages stored, and those that cannot be used.
fn counts(farm: &Farm) -> (usize, usize) {
    let table = farm.passages();
    (table.lines().count() - 1, table.lines().filter(|line| line.contains(",unusable,")).count())
}

#[test]
fn other_forms_of_the_same_readings_give_the_same_passages() {
    let plain = Farm::new();
    assert_eq!(plain.import(recorded(), &[]).0, 0);
    let wanted = plain.passages();
    assert!(wanted.lines().count() > 15);
    let semicolons = format!("# exit lane\n{}", recorded().replace(',', ";").replace('.', ","));
    let wide: Vec<u8> =
        [0xff, 0xfe].into_iter().chain(recorded().encode_utf16().flat_map(u16::to_le_bytes)).collect();
    let renamed = recorded().replacen("lf,rf,lr,rr", "A,B,C,D", 1);
    let swapped = recorded().replacen("lf,rf,lr,rr", "lr,rr,lf,rf", 1);
    for (bytes, said) in [
        (semicolons.into_bytes(), &[][..]),
        (wide, &[]),
        (renamed.into_bytes(), &["--columns", "lf=A,rf=B,lr=C,rr=D"]),
        (swapped.into_bytes(), &["--swap", "front-rear"]),
    ] {
        let farm = Farm::new();
        let (code, _, notes) = farm.import(bytes, said);
        assert_eq!(code, 0, "{said:?}: {notes}");
        assert_eq!(farm.passages(), wanted, "{said:?}");
    }
}

#[test]
fn a_file_that_is_wrong_as_a_whole_says_what_it_looks_like_and_comes_in_put_right() {
    let right = Farm::new();
    assert_eq!(right.import(recorded(), &[]).0, 0);
    let (passages, unusable) = counts(&right);
    for (of, words, said) in [
        (2.204_622_6, "pounds? Say --unit lb", &["--unit", "lb"][..]),
        (1000.0, "grams? Say --unit g", &["--unit", "g"]),
        (9.806_65, "newtons? Say --unit n", &["--unit", "n"]),
    ] {
        let farm = Farm::new();
        let file = with_loads(|loads| loads.map(|load| load * of));
        let (code, _, notes) = farm.import(&file, &[]);
        assert!(code == 3 && notes.contains(words), "{words}: {notes}");
        assert_eq!(counts(&farm).0, 0, "nothing of it is kept");
        assert_eq!(farm.import(&file, said).0, 0);
        assert_eq!(counts(&farm), (passages, unusable), "{words}");
    }
    for (file, words) in [
        (with_loads(|loads| loads.map(|load| -load)), "sign"),
        (with_loads(|loads| loads.map(|load| load * 20_000.0)), "raw counts"),
        (with_loads(|[lf, rf, _, rr]| [lf, rf, 2.0, rr]), "plate LR never moves"),
        (with_loads(|[lf, rf, lr, rr]| [lr, rr, lf, rf]), "--swap front-rear"),
    ] {
        let farm = Farm::new();
        let (code, _, notes) = farm.import(file, &[]);
        assert!(code == 3 && notes.contains(words), "{words}: {code} {notes}");
    }
}
