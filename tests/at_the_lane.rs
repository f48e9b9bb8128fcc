//! The commands that talk to a device, run against the device's own program over real lines: `listen`, and a person's
//! calibration, settings and raw readings.

use host::{
    commands::device::lane::calibrate::guide,
    commands::device::lane::person::{AtThePlates, StepAnswer},
    link::{Line, StoreKeeper, connect, connect::Port, operator::Operator},
    report::words::{Language, Words},
    store::{PassageFilter, Store},
};
use shared::plate::Plate;
use std::{
    fs,
    path::PathBuf,
    process::Command,
    sync::{Mutex, atomic::AtomicBool},
};
use tests::{
    program::{Running, fourplate},
    served::Served,
};

struct Farm(tempfile::TempDir);

impl Farm {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn store(&self) -> PathBuf {
        self.0.path().join("store.sqlite")
    }

    fn passages(&self) -> usize {
        let store = Store::open(&self.store()).expect("opens");
        store.passages(&PassageFilter::default()).expect("readable").len()
    }
}

#[test]
fn a_device_that_calls_is_served_once() {
    let farm = Farm::new();
    let mut host =
        Running::start(&farm.store(), &["listen", "--serve", "127.0.0.1:0", "--once", "--until-idle", "2"]);
    let line = host.says("listening at");
    let address = line.trim().rsplit(' ').next().expect("an address").parse().expect("an address");
    let _device = Served::calling(20, true, address);
    let said = host.says("nothing more to deliver");
    assert!(said.contains(" 1 passages"), "{said}");
    assert!(host.child.wait().expect("ends").success());
    assert_eq!(farm.passages(), 1);
}

#[test]
fn a_cow_is_shown_as_she_leaves() {
    let farm = Farm::new();
    let mut child = Command::new(tests::program::path("fourplate"))
        .arg("--store")
        .arg(farm.store())
        .args(["listen", "--serve", "127.0.0.1:0", "--once", "--until-idle", "2", "--show"])
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .expect("starts");
    let mut said = std::io::BufRead::lines(std::io::BufReader::new(child.stderr.take().expect("piped")));
    let line = said.find_map(|line| line.ok().filter(|line| line.contains("listening at"))).expect("listens");
    let address = line.trim().rsplit(' ').next().expect("an address").parse().expect("an address");
    let _device = Served::calling(20, true, address);
    said.for_each(drop);
    let shown = child.wait_with_output().expect("ends").stdout;
    let shown = String::from_utf8(shown).expect("text");
    let lines: Vec<&str> = shown.lines().collect();
    assert!(!lines.is_empty() && lines.len() <= 2, "{shown}");
    assert!(lines[0].split_once(' ').is_some_and(|(time, _)| time.len() == 8), "{shown}");
}

#[test]
fn a_device_on_a_serial_line_is_heard() {
    let farm = Farm::new();
    let (ours, theirs) = serialport::TTYPort::pair().expect("a terminal pair");
    let path = serialport::SerialPort::name(&theirs).expect("a name");
    let line = Mutex::new(Some(ours));
    let _device = Served::start(20, true, move || {
        let mut line = line.lock().expect("not poisoned").take()?;
        serialport::SerialPort::set_timeout(&mut line, std::time::Duration::from_millis(1)).expect("set");
        Some(line)
    });
    let ran = fourplate(&farm.store(), &["listen", "--serial", &path, "--once", "--until-idle", "2"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(farm.passages(), 1, "{}", ran.err);
    drop(theirs);
}

#[test]
fn an_interrupt_ends_listening_cleanly() {
    let farm = Farm::new();
    let (_device, address) = Served::listening(20, true);
    let mut host = Running::start(&farm.store(), &["listen", "--tcp", &address.to_string()]);
    let _ = host.says("items waiting");
    let pid = host.child.id().to_string();
    assert!(Command::new("kill").args(["-INT", &pid]).status().expect("runs").success());
    let _ = host.says("stopped");
    assert!(host.child.wait().expect("ends").success());
}

#[test]
fn a_calibration_step_by_step_changes_the_settings() {
    let farm = Farm::new();
    let (device, address) = Served::listening(20, false);
    let address = address.to_string();
    let step = |words: &[&str]| {
        let all = [&["lane", "calibrate", "--tcp", &address, "--step"], words].concat();
        fourplate(&farm.store(), &all)
    };
    let ran = step(&["known-weight", "--plate", "LF", "--weight", "200"]);
    assert_eq!(ran.code, 3, "no empty deck yet: {}{}", ran.out, ran.err);
    assert!(ran.err.contains("Close the lane at both ends"), "{}", ran.err);
    assert_eq!(step(&["known-weight", "--plate", "LF"]).code, 1, "no weight");
    assert_eq!(step(&["empty-deck"]).code, 0);
    // The plates weigh 5 % more than the factory settings say.
    for (n, plate) in ["LF", "RF", "LR", "RR"].iter().enumerate() {
        let mut loads = [0.0; 4];
        loads[n] = 210.0;
        device.load(loads);
        let ran = step(&["known-weight", "--plate", plate, "--weight", "200"]);
        assert_eq!(ran.code, 0, "{plate}: {}{}", ran.out, ran.err);
    }
    let ran = step(&["check", "--plate", "RR", "--weight", "200"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.starts_with("Right: "), "{}", ran.out);
    device.load([0.0; 4]);
    assert_eq!(step(&["finish"]).code, 0);

    let settings = ["lane", "settings", "--tcp", &address, "--format", "json"];
    let ran = fourplate(&farm.store(), &settings);
    let held: serde_json::Value = serde_json::from_str(&ran.out).expect("JSON");
    let factory = f64::from(firmware::settings::NOMINAL_KG_PER_COUNT);
    let gain = held["kg_per_count"][2][2].as_f64().expect("a number") / factory * 1.05;
    assert!((gain - 1.0).abs() < 1e-3, "{gain}");
    // A name, and then the kept settings back.
    let kept = farm.0.path().join("kept.json");
    fs::write(&kept, &ran.out).expect("written");
    let ran = fourplate(&farm.store(), &[&settings[..], &["--name", "East"]].concat());
    assert!(ran.out.contains("\"East\""), "{}{}", ran.out, ran.err);
    let ran = fourplate(&farm.store(), &[&settings[..], &["--from", kept.to_str().expect("text")]].concat());
    assert_eq!(serde_json::from_str::<serde_json::Value>(&ran.out).expect("JSON"), held);
    let ran = fourplate(&farm.store(), &[&settings[..], &["--rate", "7"]].concat());
    assert_eq!(ran.code, 1);
    assert!(ran.err.contains("out of range"), "{}", ran.err);
    assert_eq!(fourplate(&farm.store(), &["lane"]).code, 0);
}

#[test]
fn a_device_is_paired_by_its_cable_read_with_the_key_alone_and_let_go_again() {
    let (farm, other) = (Farm::new(), Farm::new());
    let (_device, address) = Served::listening(20, true);
    let address = address.to_string();
    let pair = ["lane", "pair", "--tcp", &address];
    let ran = fourplate(&farm.store(), &pair);
    assert_eq!((ran.code, ran.out.contains("Paired: device")), (0, true), "{}{}", ran.out, ran.err);
    assert_eq!(fourplate(&farm.store(), &pair).code, 0, "it is so already");
    let listen = ["listen", "--tcp", &address, "--once", "--until-idle", "2"];
    let ran = fourplate(&other.store(), &["lane", "settings", "--tcp", &address]);
    assert_eq!((ran.code, ran.err.contains("paired with another store")), (1, true), "{}", ran.err);
    // What is recorded on the way needs no key to be read.
    let record = farm.0.path().join("heard.capture");
    let record = record.to_str().expect("text");
    let ran = fourplate(&farm.store(), &[&listen[..], &["--record", record]].concat());
    assert_eq!((ran.code, farm.passages()), (0, 1), "{}", ran.err);
    let ran = fourplate(&other.store(), &["import", "capture", record]);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    let lanes = fourplate(&other.store(), &["lane", "--format", "json"]).out;
    assert!(lanes.contains("\"boot\": 1"), "its hello was in it: {lanes}");
    let ran = fourplate(&farm.store(), &[&pair[..], &["--remove", "--format", "json"]].concat());
    assert_eq!((ran.code, ran.out.contains("\"paired\": false")), (0, true), "{}{}", ran.out, ran.err);
    assert_eq!(fourplate(&other.store(), &["lane", "settings", "--tcp", &address]).code, 0);
    let ran = fourplate(&farm.store(), &["lane", "pair", "--tcp", "192.0.2.1:7000"]);
    assert_eq!((ran.code, ran.err.contains("by its cable only")), (1, true), "{}", ran.err);
}

#[test]
fn a_gate_is_set_by_its_own_store_and_told_whom_to_hold() {
    let farm = Farm::new();
    let (_device, address) = Served::listening(20, true);
    let address = address.to_string();
    let run = |words: &[&str]| fourplate(&farm.store(), words);
    let set = ["gate", "set", "--tcp", &address, "--moves", "high"];
    let ran = run(&set);
    assert_eq!((ran.code, ran.err.contains("not paired")), (1, true), "{}", ran.err);
    assert_eq!(run(&["lane", "pair", "--tcp", &address]).code, 0);
    let ran = run(&[&set[..], &["--pulse-ms", "20"]].concat());
    assert_eq!((ran.code, ran.err.contains("cannot be driven so")), (1, true), "{}", ran.err);
    let ran = run(&set);
    assert_eq!((ran.code, ran.out.contains("drives a gate")), (0, true), "{}{}", ran.out, ran.err);
    assert!(ran.err.contains("A gate that moves hurts"), "{}", ran.err);

    let herd = farm.0.path().join("herd.csv");
    fs::write(&herd, "animal_id,number,tag\nmay,41,999000000000041\njune,42,\n").expect("written");
    let ran = run(&["import", "herd", herd.to_str().expect("text")]);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    let ran = run(&["gate", "hold", "nobody"]);
    assert_eq!((ran.code, ran.err.contains("nobody here is called")), (5, true), "{}", ran.err);
    let ran = run(&["gate", "hold", "42"]);
    assert_eq!((ran.code, ran.err.contains("no tag of 15 digits")), (3, true), "{}", ran.err);
    let ran = run(&["gate", "hold", "41", "--until", "2020-01-01"]);
    assert_eq!((ran.code, ran.err.contains("is over")), (3, true), "{}", ran.err);
    let ran = run(&["gate", "hold", "41", "--why", "stiff"]);
    assert_eq!((ran.code, ran.out.contains("no gate moves yet")), (0, true), "{}{}", ran.out, ran.err);
    assert_eq!(run(&["farm", "gate_for=limping"]).code, 2, "no such reason");
    assert_eq!(run(&["farm", "gate_hours=00:00-23:59"]).code, 0);

    let mut host = Running::start(&farm.store(), &["listen", "--tcp", &address]);
    let said = host.says("a list of 1 cows to hold back is in force");
    assert!(said.contains("at its gate"), "{said}");
    let ran = run(&["gate"]);
    assert!(ran.out.contains("by hand, stiff") && ran.out.contains("list of 1 in force"), "{}", ran.out);
    let told: serde_json::Value =
        serde_json::from_str(&run(&["gate", "--format", "json"]).out).expect("JSON");
    assert_eq!(told["gates"][0]["in_force"], true, "{told}");
    assert_eq!(told["day"]["cows"][0]["tag"], "999000000000041");
    let ran = run(&["gate", "--since", "2020-01-01", "--format", "csv"]);
    assert_eq!((ran.code, ran.out.lines().count() <= 1), (0, true), "nobody came: {}{}", ran.out, ran.err);
    drop(host);
    assert!(run(&["gate", "release", "41"]).out.contains("no longer held back"));
    assert!(run(&["gate", "release", "41"]).out.contains("was not held back"));
    let ran = run(&["gate", "set", "--tcp", &address, "--none"]);
    assert_eq!((ran.code, ran.out.contains("drives no gate")), (0, true), "{}{}", ran.out, ran.err);
}

/// Somebody who does as asked, with mistakes.
struct Script<'d> {
    device: &'d Served,
    asked: Vec<String>,
    told: Vec<String>,
    stop_at: usize,
}

impl AtThePlates for Script<'_> {
    fn please(&mut self, what: &str) -> anyhow::Result<StepAnswer> {
        self.asked.push(what.to_owned());
        if self.asked.len() == self.stop_at {
            return Ok(StepAnswer::Stop);
        }
        let mut loads = [0.0; 4];
        if let Some(plate) = Plate::ALL.iter().find(|plate| what.contains(&format!("plate {}", plate.name())))
        {
            // At first the weight lies on the wrong plate.
            let first = self.asked.iter().filter(|asked| *asked == what).count() == 1;
            let wrong = first && *plate == Plate::RF && what.starts_with("Put");
            loads[if wrong { 0 } else { *plate as usize }] = 300.0;
        }
        self.device.load(loads);
        Ok(if what.contains("plate LR") && what.starts_with("Check") {
            StepAnswer::Skip
        } else {
            StepAnswer::Done
        })
    }

    fn tell(&mut self, what: &str) {
        self.told.push(what.to_owned());
    }
}

#[test]
fn the_guide_leads_through_a_calibration_and_back_out_of_one() {
    let (device, address) = Served::listening(20, false);
    let store = Store::in_memory().expect("memory");
    let source = store.begin_source("link", "test", jiff::Timestamp::UNIX_EPOCH).expect("stored");
    let stop = AtomicBool::new(false);
    let line = || Box::new(connect::open_tcp(&address.to_string()).expect("connects")) as Box<dyn Port>;
    let meet =
        || Operator::meet(line(), Line::Cable, StoreKeeper::new(&store, source), &stop).expect("meets");

    let mut operator = meet();
    let mut person = Script { device: &device, asked: Vec::new(), told: Vec::new(), stop_at: 4 };
    assert!(!guide(&mut operator, &mut person, 300.0, &Words::new(Language::English)).expect("answers"));
    assert!(person.told.last().expect("told").contains("old calibration stays"), "{:?}", person.told);
    operator.end().expect("kept");

    let mut operator = meet();
    let mut person = Script { device: &device, asked: Vec::new(), told: Vec::new(), stop_at: 0 };
    assert!(
        guide(&mut operator, &mut person, 300.0, &Words::new(Language::English)).expect("answers"),
        "{:?}",
        person.told
    );
    operator.end().expect("kept");
    // A weight that was left on the plates may cost a try.
    person.asked.dedup();
    assert_eq!(person.asked.len(), 1 + 4 + 4 + 1, "{:?}", person.asked);
    assert!(person.told.iter().any(|told| told.starts_with("Another load than said")), "{:?}", person.told);
    assert_eq!(person.told.iter().filter(|told| told.starts_with("Right: ")).count(), 3);
}

#[test]
fn raw_readings_are_shown_and_recorded_as_an_import_takes_them() {
    let farm = Farm::new();
    let (device, address) = Served::listening(1, false);
    device.load([10.0, 20.0, 30.0, 40.0]);
    let file = farm.0.path().join("readings.csv");
    let words = [
        "lane",
        "raw",
        "--tcp",
        &address.to_string(),
        "--seconds",
        "2",
        "--format",
        "csv",
        "--record",
        file.to_str().expect("text"),
    ];
    let ran = fourplate(&farm.store(), &words);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let text = fs::read_to_string(&file).expect("written");
    let mut lines = text.lines();
    assert_eq!(lines.next(), Some("time,lf,rf,lr,rr"));
    let rows: Vec<Vec<&str>> = lines.map(|line| line.split(',').collect()).collect();
    assert!((100..=400).contains(&rows.len()), "{} readings", rows.len());
    let zero =
        [1_000.0, -2_000.0, 500.0, 0.0].map(|counts| counts * firmware::settings::NOMINAL_KG_PER_COUNT);
    for row in &rows {
        assert!(row[0].parse::<jiff::Timestamp>().is_ok(), "{row:?}");
        for (n, load) in [10.0, 20.0, 30.0, 40.0].into_iter().enumerate() {
            let shown: f32 = row[n + 1].parse().expect("a number");
            assert!((shown - load - zero[n]).abs() < 0.15, "{row:?}");
        }
    }
    assert!(ran.out.starts_with("time,readings,lf_kg"), "{}", ran.out);
    let ran = fourplate(&farm.store(), &["import", "readings", file.to_str().expect("text")]);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
}

#[test]
fn a_line_where_nobody_is_ends_in_words() {
    let farm = Farm::new();
    let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = listener.local_addr().expect("an address").to_string();
    drop(listener);
    let ran = fourplate(&farm.store(), &["lane", "settings", "--tcp", &address]);
    assert_eq!(ran.code, 1);
    assert!(ran.err.contains(&address), "{}", ran.err);
    let ran = fourplate(&farm.store(), &["lane", "settings"]);
    assert_eq!(ran.code, 2, "no port named: {}", ran.err);
}
