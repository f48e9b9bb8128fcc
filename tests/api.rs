//! The addresses for programs: each answer of a real `serve` is as `openapi.json` describes it, and what a fuzzer of such
//! descriptions (PyPI schemathesis) asks is never answered with a failure.

use serde_json::{Value, json};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::Command;
use tests::program::{fourplate, invented_herd, serve};

/// Status, kind and body.
fn get(address: &str, path: &str) -> (u16, String, Value) {
    let mut stream = TcpStream::connect(address).unwrap();
    write!(stream, "GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n").unwrap();
    let mut response = String::new();
    stream.read_to_string(&mut response).unwrap();
    let (head, body) = response.split_once("\r\n\r\n").unwrap();
    let kind = head.lines().find_map(|line| line.strip_prefix("content-type: ")).unwrap().to_owned();
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    (status, kind, serde_json::from_str(body).unwrap_or_else(|_| panic!("{path}: {body}")))
}

/// A herd with a treated cow whose withdrawal is not over.
fn farm(folder: &Path) -> std::path::PathBuf {
    let store = folder.join("store.sqlite");
    invented_herd(folder, &store, 12);
    let case = folder.join("case.csv");
    std::fs::write(
        &case,
        "date,animal_id,leg,claw,lesion,treatment,block_claw,milk_withdrawal_end\n\
         2025-03-01,999000000000103,RR,outer,SU,trim;block,inner,2025-03-20\n",
    )
    .unwrap();
    assert_eq!(fourplate(&store, &["import", "trims", &case.to_string_lossy()]).code, 0);
    store
}

#[test]
fn every_answer_is_as_described() {
    let folder = tempfile::tempdir().unwrap();
    let (_running, at) = serve(&farm(folder.path()), "127.0.0.1:0");
    let (status, kind, document) = get(&at, "/api/openapi.json");
    assert_eq!((status, kind.as_str()), (200, "application/json; charset=utf-8"));
    let held = |reference: &Value, found: &Value, path: &str| {
        let whole = json!({ "allOf": [reference], "components": document["components"] });
        let validator = jsonschema::validator_for(&whole).unwrap();
        let wrong: Vec<_> =
            validator.iter_errors(found).map(|e| format!("{} at {}", e, e.instance_path())).collect();
        assert!(wrong.is_empty(), "{path}: {wrong:?}");
    };
    let schema = |path: &str, status: &str| {
        document["paths"][path]["get"]["responses"][status]["content"]["application/json"]["schema"].clone()
    };
    let (_, _, list) = get(&at, "/api/list");
    let cow = list["names"].as_object().unwrap().keys().next().unwrap().clone();
    let number = list["names"][&cow]["number"].as_str().unwrap().to_owned();
    for (address, path) in [
        ("/api/list".to_owned(), "/api/list"),
        ("/api/list?date=2025-02-10".to_owned(), "/api/list"),
        ("/api/rechecks".to_owned(), "/api/rechecks"),
        ("/api/lanes".to_owned(), "/api/lanes"),
        (format!("/api/cow/{cow}"), "/api/cow/{cow}"),
        (format!("/api/cow/{number}?from=2025-01-10"), "/api/cow/{cow}"),
        ("/api/cow/999000000000103".to_owned(), "/api/cow/{cow}"),
    ] {
        let (status, kind, body) = get(&at, &address);
        assert_eq!((status, kind.as_str()), (200, "application/json; charset=utf-8"), "{address}: {body}");
        held(&schema(path, "200"), &body, &address);
    }
    for (address, path, expected) in [
        ("/api/list?date=soon", "/api/list", 400),
        ("/api/cow/nobody", "/api/cow/{cow}", 404),
        ("/api/cow/0", "/api/cow/{cow}", 404),
    ] {
        let (status, _, body) = get(&at, address);
        assert_eq!(status, expected, "{address}: {body}");
        held(&schema(path, &expected.to_string()), &body, address);
    }
    // What the program prints for programs is the same.
    let store = folder.path().join("store.sqlite");
    let printed = fourplate(&store, &["--format", "json", "list"]);
    assert_eq!(serde_json::from_str::<Value>(&printed.out).unwrap(), list);
}

#[test]
fn whatever_a_fuzzer_asks_is_answered_as_described() {
    let folder = tempfile::tempdir().unwrap();
    let (_running, at) = serve(&farm(folder.path()), "127.0.0.1:0");
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let ran = Command::new(root.join("target/oracles/bin/schemathesis"))
        .args(["run", &format!("http://{at}/api/openapi.json")])
        .args(["--phases", "examples,coverage,fuzzing", "--max-examples", "40"])
        .args(["--generation-deterministic", "--no-color"])
        .args(["--checks", "not_a_server_error,response_schema_conformance,content_type_conformance"])
        .current_dir(folder.path())
        .output()
        .expect("tests/setup installs it");
    let said = [ran.stdout, ran.stderr].map(|said| String::from_utf8_lossy(&said).into_owned()).join("\n");
    assert!(ran.status.success(), "{said}");
}
