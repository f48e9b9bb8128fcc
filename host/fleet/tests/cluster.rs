//! A scheduler and two executors as processes of their own: the same bytes as in one process, also when one executor is
//! killed in the middle.

mod support;

use std::collections::BTreeMap;
use std::fs;
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};
use support::{bare, export, farm};

/// Longest that anything is waited for.
const PATIENCE: Duration = Duration::from_secs(120);

struct Process(Child);

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn fleet(args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_fleet"));
    command.args(args).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn free_port() -> String {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port().to_string()
}

fn wait_for(what: &str, mut ready: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !ready() {
        assert!(begun.elapsed() < PATIENCE, "{what} did not come");
        sleep(Duration::from_millis(5));
    }
}

/// A scheduler and two executors that work on one thing at a time.
struct Cluster {
    port: String,
    executors: Vec<Process>,
    _scheduler: Process,
}

impl Cluster {
    fn start(folder: &Path) -> Self {
        let port = free_port();
        let spawn =
            |args: &[&str]| Process(fleet(args).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap());
        let scheduler = spawn(&["scheduler", "--port", &port]);
        wait_for("the scheduler", || TcpStream::connect(format!("127.0.0.1:{port}")).is_ok());
        let executors = ["one", "two"].map(|name| {
            let work = folder.join(name);
            fs::create_dir_all(&work).unwrap();
            let (data, orders) = (free_port(), free_port());
            let executor = spawn(&[
                "executor",
                "--scheduler-port",
                &port,
                "--port",
                &data,
                "--order-port",
                &orders,
                "--at-a-time",
                "1",
                "--work",
                work.to_str().unwrap(),
            ]);
            wait_for("an executor", || TcpStream::connect(format!("127.0.0.1:{data}")).is_ok());
            executor
        });
        Self { port, executors: executors.into(), _scheduler: scheduler }
    }

    fn score(&self, data: &Path, results: &Path) -> Child {
        let address = format!("http://127.0.0.1:{}", self.port);
        fleet(&["--cluster", &address, "score", data.to_str().unwrap(), results.to_str().unwrap()])
            .spawn()
            .unwrap()
    }
}

fn done(child: Child) {
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

/// Every file below a folder, by name.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fn walk(folder: &Path, root: &Path, found: &mut BTreeMap<String, Vec<u8>>) {
        for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                walk(&path, root, found);
            } else if let Ok(bytes) = fs::read(&path) {
                // What a process takes away while it is looked at is not there.
                found.insert(path.strip_prefix(root).unwrap().display().to_string(), bytes);
            }
        }
    }
    let mut found = BTreeMap::new();
    walk(folder, folder, &mut found);
    found
}

#[test]
fn a_cluster_gives_the_same_bytes_also_when_an_executor_is_killed() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    for seed in 0..8 {
        export(&farm(&format!("farm-{seed}"), seed, 25, 60), &at("data"));
    }
    done(fleet(&["score", at("data").to_str().unwrap(), at("local").to_str().unwrap()]).spawn().unwrap());
    let local = files(&at("local"));
    assert_eq!(local.len(), 24);

    let mut cluster = Cluster::start(folder.path());
    done(cluster.score(&at("data"), &at("two executors")));
    assert!(files(&at("two executors")) == local);

    // The second executor has handed something on, and the answer is not there yet: then it is killed.
    let (work, results) = (at("two"), at("one left"));
    let before = files(&work).len();
    let running = cluster.score(&at("data"), &results);
    wait_for("work of the second executor", || files(&work).len() > before);
    let mut killed = cluster.executors.pop().unwrap();
    killed.0.kill().unwrap();
    killed.0.wait().unwrap();
    assert!(files(&results).is_empty(), "the run was over before the kill");
    done(running);
    assert!(files(&results) == local);

    // Farms where nobody wrote anything down.
    export(&bare("bare", 9, 10, 40), &at("nothing entered"));
    let results = [at("bare here"), at("bare there")];
    done(
        fleet(&["score", at("nothing entered").to_str().unwrap(), results[0].to_str().unwrap()])
            .spawn()
            .unwrap(),
    );
    done(cluster.score(&at("nothing entered"), &results[1]));
    assert!(files(&results[0]).len() == 3 && files(&results[0]) == files(&results[1]));

    // Questions go the same way.
    let ask = |more: &[&str]| {
        let (data, results) = (at("data"), at("local"));
        let mut args = more.to_vec();
        args.extend([
            "outcomes",
            data.to_str().unwrap(),
            results.to_str().unwrap(),
            "--by",
            "lesion,treatment",
        ]);
        let output = fleet(&args).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let here = ask(&["--format", "csv"]);
    assert_eq!(ask(&["--format", "csv", "--cluster", &format!("http://127.0.0.1:{}", cluster.port)]), here);
    assert!(here.lines().count() > 2, "{here}");
}
