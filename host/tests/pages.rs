//! `serve` as people start it: the pages over a socket, log-in, idle connections.

use assert_cmd::cargo::CommandCargoExt;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};

struct Served {
    child: Child,
    address: String,
    said: String,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn program(folder: &tempfile::TempDir) -> Command {
    let mut command = Command::cargo_bin("fourplate").unwrap();
    command.arg("--store").arg(folder.path().join("store.sqlite"));
    command
}

/// A farm with one cow that has a passage.
fn farm() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let passages = folder.path().join("passages.csv");
    std::fs::write(&passages, "time,animal_id,kind,body_weight_kg,lf_share_pct,rf_share_pct,lr_share_pct,rr_share_pct\n2026-03-02T06:00:00Z,999000000000412,stance,600,27,27,23,23\n").unwrap();
    let done = program(&folder).args(["import", "passages"]).arg(&passages).output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    folder
}

fn serve(folder: &tempfile::TempDir, address: &str) -> Served {
    let mut child =
        program(folder).args(["serve", "--addr", address]).stderr(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
    let first = lines.next().unwrap().unwrap();
    let said = format!("{first}\n{}", lines.next().unwrap().unwrap());
    std::thread::spawn(move || lines.for_each(drop));
    let port = first.split("http://").nth(1).unwrap().split('/').next().unwrap().rsplit(':').next().unwrap();
    let address = format!("127.0.0.1:{port}");
    Served { child, address, said }
}

impl Served {
    fn connect(&self) -> TcpStream {
        TcpStream::connect(&self.address).unwrap()
    }

    /// The whole response.
    fn ask(&self, request: &str, headers: &str, body: &str) -> String {
        let mut stream = self.connect();
        let length = body.len();
        write!(
            stream,
            "{request} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Length: {length}\r\n{headers}\r\n{body}",
            self.address
        )
        .unwrap();
        let mut response = String::new();
        stream.read_to_string(&mut response).unwrap();
        response
    }
}

#[test]
fn pages_come_with_their_headers_beside_200_connections_that_say_nothing() {
    let folder = farm();
    let served = serve(&folder, "127.0.0.1:0");
    assert!(served.said.contains("only this machine"), "{}", served.said);
    let idle: Vec<TcpStream> = (0..200)
        .map(|i| {
            let mut stream = served.connect();
            if i % 2 == 0 {
                stream.write_all(b"GET / HTTP/1.1\r\nHost: 127").unwrap();
            }
            stream
        })
        .collect();
    for url in [
        "/",
        "/crush?id=412",
        "/change?id=412",
        "/herd",
        "/lane",
        "/live",
        "/rechecks",
        "/people",
        "/cow/412",
    ] {
        let response = served.ask(&format!("GET {url}"), "", "");
        assert!(response.starts_with("HTTP/1.1 200"), "{url}: {response}");
        assert!(response.contains("content-security-policy: default-src 'none'"), "{url}");
        assert!(response.len() < 100_000, "{url}: {}", response.len());
    }
    assert!(served.ask("GET /", "Origin: http://example.org\r\n", "").starts_with("HTTP/1.1 403"));
    let large = "x".repeat(100_000);
    assert!(served.ask("POST /case", "", &large).starts_with("HTTP/1.1 413"));
    drop(idle);
}

#[test]
fn the_page_of_cows_as_they_leave_is_told_of_each_new_passage() {
    let folder = farm();
    let served = serve(&folder, "127.0.0.1:0");
    assert!(served.ask("GET /live", "", "").contains("06:00:00"));
    let mut events = served.connect();
    write!(events, "GET /live/events HTTP/1.1\r\nHost: {}\r\n\r\n", served.address).unwrap();
    let mut lines = BufReader::new(events.try_clone().unwrap()).lines().map(Result::unwrap);
    assert_eq!(lines.next().unwrap(), "HTTP/1.1 200 OK");
    assert!(lines.any(|line| line == "content-type: text/event-stream"));
    let more = folder.path().join("more.csv");
    std::fs::write(
        &more,
        "time,animal_id,kind,body_weight_kg\n2026-03-02T17:00:00Z,999000000000412,stance,600\n",
    )
    .unwrap();
    assert!(program(&folder).args(["import", "passages"]).arg(&more).output().unwrap().status.success());
    assert!(lines.any(|line| line == "data: changed"));
    assert!(served.ask("GET /live", "", "").contains("17:00:00"));
    let elsewhere = served.ask("GET /live/events", "Origin: http://example.org\r\n", "");
    assert!(elsewhere.starts_with("HTTP/1.1 403"), "{elsewhere}");
}

#[test]
fn another_address_needs_somebody_with_a_password() {
    let folder = farm();
    let refused = program(&folder).args(["serve", "--addr", "0.0.0.0:0"]).output().unwrap();
    assert!(!refused.status.success());
    assert!(String::from_utf8_lossy(&refused.stderr).contains("fourplate person add"));
    let add = |password: &str| {
        let mut child = program(&folder)
            .args(["person", "add", "anna", "--role", "record"])
            .stdin(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        child.stdin.take().unwrap().write_all(password.as_bytes()).unwrap();
        child.wait().unwrap().success()
    };
    assert!(!add("short\n"));
    assert!(add("correct horse\n"));
    let served = serve(&folder, "0.0.0.0:0");
    assert!(served.said.contains("not encrypted"), "{}", served.said);
    assert!(served.ask("GET /", "", "").contains("location: /log-in"));
    assert!(served.ask("GET /live/events", "", "").starts_with("HTTP/1.1 403"));
    let response = served.ask("POST /log-in", "", "name=anna&password=correct+horse");
    let cookie = response.lines().find_map(|line| line.strip_prefix("set-cookie: ")).unwrap();
    let cookie = cookie.split(';').next().unwrap();
    let page = served.ask("GET /crush?id=412", &format!("Cookie: {cookie}\r\n"), "");
    assert!(page.starts_with("HTTP/1.1 200"), "{page}");
    let token = page.split("name=\"token\" value=\"").nth(1).unwrap().split('"').next().unwrap();
    let case = format!("id=412&date=2026-03-02&leg=LR&claw=outer&lesion=WL&treatment=trim&token={token}");
    let cookie = format!("Cookie: {cookie}\r\n");
    for _ in 0..2 {
        assert!(served.ask("POST /case", &cookie, &case).contains("location: /crush?id="));
    }
    let cases = program(&folder).args(["export", "cases", "--format", "csv"]).output().unwrap();
    let cases = String::from_utf8(cases.stdout).unwrap();
    assert_eq!(cases.lines().count(), 2, "{cases}");
    assert!(cases.contains(",anna,"), "{cases}");
    let removed = program(&folder).args(["person", "remove", "anna"]).output().unwrap();
    assert!(removed.status.success());
    assert!(served.ask("GET /", &cookie, "").contains("location: /log-in"), "at once");
}

/// By hand: 20 days of 27, 27, 24, 22 before the trim and 15 of 27, 27, 22, 24 after it, twice a day.
#[test]
fn before_and_after_shows_the_load_of_each_foot_and_the_course() {
    let folder = tempfile::tempdir().unwrap();
    let mut table =
        "time,animal_id,kind,body_weight_kg,lf_share_pct,rf_share_pct,lr_share_pct,rr_share_pct\n".to_owned();
    let first = jiff::civil::date(2026, 2, 1);
    for day in (0..36).filter(|day| *day != 20) {
        let date = first + jiff::Span::new().days(day);
        let shares = if day < 20 { "27,27,24,22" } else { "27,27,22,24" };
        for hour in ["06", "17"] {
            table += &format!("{date}T{hour}:00:00Z,999000000000412,stance,600,{shares}\n");
        }
    }
    let import = |kind: &str, text: &str| {
        let file = folder.path().join(format!("{kind}.csv"));
        std::fs::write(&file, text).unwrap();
        let done = program(&folder).args(["import", kind]).arg(&file).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    };
    import("passages", &table);
    import(
        "trims",
        "date,animal_id,leg,claw,lesion,treatment\n2026-02-21,999000000000412,RR,outer,WL,trim\n",
    );
    import(
        "follow-ups",
        "case_date,animal_id,leg,claw,lesion,date,course\n\
         2026-02-21,999000000000412,RR,outer,WL,2026-02-26,improving\n\
         2026-02-21,999000000000412,RR,outer,WL,2026-03-03,healed\n",
    );
    let served = serve(&folder, "127.0.0.1:0");
    let page = served.ask("GET /change?id=412", "", "");
    // From 1 February to 8 March there are 35 days on 622 units from 52: days 20, 25 and 30.
    let marks: Vec<&str> = page.split("y=\"330.0\"").skip(1).collect();
    let marks: Vec<&str> = marks.iter().map(|mark| &mark[mark.find('>').unwrap() + 1..][..1]).collect();
    assert!(marks.ends_with(&["T", "L", "H"]), "{marks:?}");
    for place in ["407.4", "496.3", "585.1"] {
        assert!(page.contains(&format!("<text x=\"{place}\" y=\"330.0\"")), "{place}");
    }
    let feet: Vec<&str> = page.split("font-weight=\"bold\">").skip(1).collect();
    let shares: Vec<&str> = feet.iter().take(8).map(|foot| foot.split('<').next().unwrap()).collect();
    assert_eq!(shares, ["27.0", "27.0", "24.0", "22.0", "27.0", "27.0", "22.0", "24.0"], "{page}");
    // 40 sqrt(24 / 25) and 40 sqrt(22 / 25).
    assert!(page.contains("r=\"39.2\"") && page.contains("r=\"37.5\""), "{page}");
    assert_eq!(page.matches("stroke-width=\"5\"/><text").count(), 2, "the treated foot, twice");
    assert!(page.contains("The treated leg since four weeks before") && page.contains("<polyline"), "{page}");
    // Where she was never treated there is nothing to compare.
    assert!(!served.ask("GET /change?id=413", "", "").contains("class=\"patterns\""));
}
