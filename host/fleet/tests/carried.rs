//! A data set carried into another place, and one in a store of objects, which a server of that kind plays.

mod support;

use fleet::carry::{Carried, carry};
use fleet::dataset::Dataset;
use fleet::place::Place;
use host::report::exchange::dataset::MARKER;
use std::fs;
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use support::{export, farm};

fn place(path: &Path) -> Place {
    Place::made(path.to_str().unwrap()).unwrap()
}

async fn whole(path: &Path) -> Vec<String> {
    let dataset = Dataset::open(place(path)).await.unwrap();
    dataset.farms.into_iter().map(|farm| farm.code).collect()
}

#[tokio::test]
async fn farms_are_carried_once_and_again_only_where_they_changed() {
    let folder = tempfile::tempdir().unwrap();
    let (here, there) = (folder.path().join("here"), folder.path().join("there"));
    let stores = [("a", 1), ("b", 2)].map(|(code, seed)| farm(code, seed, 4, 35));
    stores.iter().for_each(|store| export(store, &here));
    let carried = async || carry(&Dataset::open(place(&here)).await.unwrap(), &place(&there)).await;
    // Seven files a farm: two months of passages, four tables and its own row.
    assert_eq!(carried().await.unwrap(), Carried { farms: 2, as_they_were: 0, files: 14 });
    assert_eq!(carried().await.unwrap(), Carried { farms: 0, as_they_were: 2, files: 0 });
    assert_eq!(whole(&there).await, ["a", "b"]);
    stores[0].set_setting("needless_looks", "3").unwrap();
    export(&stores[0], &here);
    assert_eq!(carried().await.unwrap(), Carried { farms: 1, as_they_were: 1, files: 1 });

    // Broken off there: its own row is gone, and comes back last.
    fs::remove_file(there.join("farms/farm=b/farms.parquet")).unwrap();
    fs::remove_file(there.join("scores/farm=b/scores.parquet")).unwrap();
    assert_eq!(whole(&there).await, ["a"]);
    assert_eq!(carried().await.unwrap(), Carried { farms: 1, as_they_were: 1, files: 2 });
    assert_eq!(whole(&there).await, ["a", "b"]);

    // Another store under the same code, and another organisation's data set.
    fs::remove_dir_all(&here).unwrap();
    export(&farm("a", 9, 4, 35), &here);
    assert!(carried().await.unwrap_err().to_string().contains("another store"));
    fs::write(there.join(MARKER), r#"{"schema":1,"organisation":"Others"}"#).unwrap();
    assert!(carried().await.unwrap_err().to_string().contains("Others"));
}

struct Server(Child);

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A store of objects on a free port, with a bucket; from the folder that `tests/setup` makes.
fn server() -> (Server, String) {
    let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let program = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target/oracles/bin/moto_server");
    let mut command = Command::new(program);
    command.args(["-p", &port.to_string()]).stdout(Stdio::null()).stderr(Stdio::null());
    let server = Server(command.spawn().expect("`tests/setup` installs it"));
    let begun = Instant::now();
    let mut stream = loop {
        match TcpStream::connect(("127.0.0.1", port)) {
            Ok(stream) => break stream,
            Err(_) => assert!(begun.elapsed() < Duration::from_secs(60), "the store of objects did not come"),
        }
        std::thread::sleep(Duration::from_millis(20));
    };
    stream
        .write_all(b"PUT /herds HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
        .unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    (server, format!("http://127.0.0.1:{port}"))
}

#[test]
fn a_store_of_objects_serves_as_a_folder_does() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    for (code, seed) in [("a", 1), ("b", 2)] {
        export(&farm(code, seed, 8, 40), &folder.path().join("data"));
    }
    let (_server, address) = server();
    let fleet = |args: &[&str]| {
        let keys = [("AWS_ACCESS_KEY_ID", "x"), ("AWS_SECRET_ACCESS_KEY", "y"), ("AWS_REGION", "eu-west-1")];
        let mut command = Command::new(env!("CARGO_BIN_EXE_fleet"));
        command.args(args).envs(keys).env("AWS_ENDPOINT", &address).env("AWS_ALLOW_HTTP", "true");
        let output = command.output().unwrap();
        assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    assert!(fleet(&["carry", &at("data"), "s3://herds/data"]).contains("farms carried 2, as they were 0"));
    assert!(fleet(&["carry", &at("data"), "s3://herds/data"]).contains("farms carried 0, as they were 2"));
    fleet(&["score", &at("data"), &at("results")]);
    fleet(&["score", "s3://herds/data", "s3://herds/results"]);
    assert!(fleet(&["score", "s3://herds/data", "s3://herds/results"]).contains("scored 0, as they were 2"));
    let here = fleet(&["lists", &at("data"), &at("results"), "--format", "csv"]);
    assert_eq!(fleet(&["lists", "s3://herds/data", "s3://herds/results", "--format", "csv"]), here);
    assert_eq!(here.lines().count(), 3);
}
