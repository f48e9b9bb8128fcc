//! What cannot wait, told through a real broker and to an address on the web; and what of an invented herd is worth telling.

use host::record::Flag;
use host::record::message::MessageKind;
use host::report::farm::{Farm, Part};
use host::report::words::{Language, Words};
use host::store::Store;
use jiff::ToSpan;
use std::io::{Read, Write};
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use tests::program::{fourplate, invented_herd};

/// A store with a milk withdrawal that was over yesterday.
fn farm(store: &Path) {
    let yesterday = jiff::tz::TimeZone::UTC.to_datetime(jiff::Timestamp::now()).date().yesterday().unwrap();
    let (day, end) = (yesterday.to_string(), yesterday.to_string());
    std::fs::write(
        store.with_extension("csv"),
        format!("date,animal_id,leg,claw,lesion,treatment,milk_withdrawal_end\n{day},412,RR,outer,WL,drained,{end}\n"),
    )
    .unwrap();
    let file = store.with_extension("csv");
    let ran = fourplate(store, &["import", "trims", file.to_str().unwrap()]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(fourplate(store, &["farm", "tell_quiet=", "name=Hill"]).code, 0);
}

fn tell(store: &Path, by: &str) -> (i32, serde_json::Value) {
    assert_eq!(fourplate(store, &["farm", &format!("tell_by={by}")]).code, 0);
    // The pause after a failure is not waited for.
    let base = rusqlite::Connection::open(store).unwrap();
    base.execute("UPDATE telling SET next_ms = 0", []).unwrap();
    let ran = fourplate(store, &["tell", "--format", "json"]);
    (ran.code, serde_json::from_str(&ran.out).unwrap_or_else(|_| panic!("{}{}", ran.out, ran.err)))
}

struct Killed(Child);

impl Drop for Killed {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

#[test]
fn a_broker_gets_it_once_and_after_it_was_away() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("store.sqlite");
    farm(&store);
    let port = free_port();
    let publish = format!("mosquitto_pub -V mqttv5 -h 127.0.0.1 -p {port} -t hill/lane -q 1 -s");
    let (code, said) = tell(&store, &publish);
    assert_eq!((code, said["waiting"].as_array().unwrap().len()), (1, 1), "no broker yet: {said}");
    let settings = folder.path().join("broker.conf");
    std::fs::write(&settings, format!("listener {port} 127.0.0.1\nallow_anonymous true\n")).unwrap();
    let broker = Command::new("mosquitto").arg("-c").arg(&settings).stderr(Stdio::null()).spawn();
    let _broker = Killed(broker.expect("tests/setup was run"));
    while std::net::TcpStream::connect(("127.0.0.1", port)).is_err() {
        std::thread::yield_now();
    }
    // Retained, so that it is there whenever somebody asks.
    let (code, said) = tell(&store, &format!("{publish} -r"));
    assert_eq!((code, said["told"].as_array().unwrap().len()), (0, 1), "{said}");
    let heard = Command::new("mosquitto_sub")
        .args([
            "-V",
            "mqttv5",
            "-h",
            "127.0.0.1",
            "-p",
            &port.to_string(),
            "-t",
            "hill/lane",
            "-C",
            "1",
            "-W",
            "20",
        ])
        .output()
        .expect("tests/setup was run");
    let heard = String::from_utf8(heard.stdout).unwrap();
    assert!(heard.starts_with("Hill: one thing that cannot wait"), "{heard}");
    assert!(heard.contains("412: last day of milk withdrawal"), "{heard}");
    let (code, said) = tell(&store, &publish);
    assert_eq!((code, said["told"].as_array().unwrap().len()), (0, 0), "once: {said}");
}

/// Answers one request with a status; what came.
fn answer_once(listener: &TcpListener, status: &str) -> String {
    let (mut stream, _) = listener.accept().unwrap();
    let mut came = Vec::new();
    let mut bytes = [0; 4096];
    loop {
        let text = String::from_utf8_lossy(&came).into_owned();
        if let Some((head, body)) = text.split_once("\r\n\r\n") {
            let length = head.lines().find_map(|line| line.strip_prefix("Content-Length: "));
            if body.len() >= length.unwrap().parse::<usize>().unwrap() {
                break;
            }
        }
        let length = stream.read(&mut bytes).unwrap();
        came.extend_from_slice(&bytes[..length]);
    }
    write!(stream, "HTTP/1.1 {status}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n").unwrap();
    String::from_utf8(came).unwrap()
}

#[test]
fn an_address_on_the_web_gets_it_signed_and_again_where_it_failed() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("store.sqlite");
    farm(&store);
    let key = folder.path().join("key");
    std::fs::write(&key, "between the two of us").unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap();
    let sign = format!("openssl dgst -sha256 -hmac \"$(cat {})\" -r | cut -d\" \" -f1", key.display());
    let by = format!(
        "b=$(cat); printf %s \"$b\" | curl -fsS -H \"Signature: $(printf %s \"$b\" | {sign})\" --data-binary @- \
         http://{address}/lane"
    );
    let asked = std::thread::spawn(move || {
        let failed = answer_once(&listener, "503 Later");
        (failed, answer_once(&listener, "200 OK"))
    });
    let (code, said) = tell(&store, &by);
    assert_eq!((code, said["why"]["why"].as_str()), (1, Some("failed")), "{said}");
    let (code, said) = tell(&store, &by);
    assert_eq!((code, said["told"].as_array().unwrap().len()), (0, 1), "{said}");
    let (first, second) = asked.join().unwrap();
    assert_eq!(first, second, "the same text");
    let (head, body) = second.split_once("\r\n\r\n").unwrap();
    let signed = head.lines().find_map(|line| line.strip_prefix("Signature: ")).unwrap();
    let file = folder.path().join("body");
    std::fs::write(&file, body).unwrap();
    let again =
        Command::new("sh").arg("-c").arg(&sign).stdin(std::fs::File::open(&file).unwrap()).output().unwrap();
    let again = String::from_utf8(again.stdout).unwrap();
    assert_eq!(signed, again.trim());
}

#[test]
fn the_urgent_cows_of_the_last_day_are_news_for_two_days() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("store");
    invented_herd(folder.path(), &path, 100);
    let store = Store::open(&path).unwrap();
    let farm = Farm::load_part(&store, None, Part::List).unwrap().unwrap();
    let list = farm.morning(None);
    let mut urgent: Vec<String> = list
        .cows
        .iter()
        .filter(|cow| cow.flag == Flag::Urgent)
        .map(|cow| cow.animal_id.to_string())
        .collect();
    urgent.sort();
    assert!(!urgent.is_empty(), "a herd without one shows nothing");
    let told = |days: i64| {
        let day = farm.date.saturating_add(days.days()).at(12, 0, 0, 0);
        let now = jiff::tz::TimeZone::UTC.to_ambiguous_timestamp(day).compatible().unwrap();
        let all = host::tell::matters(&store, &Words::new(Language::English), now).unwrap();
        let cows = all.into_iter().filter(|matter| matter.kind == MessageKind::Urgent);
        let mut cows: Vec<String> = cows.map(|matter| matter.subject).collect();
        cows.sort();
        cows
    };
    assert_eq!((told(0), told(2)), (urgent.clone(), urgent));
    assert_eq!(told(3), [""; 0]);
}
