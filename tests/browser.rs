//! The pages in a real browser, headless Chromium over WebDriver: each screen on a phone and a tablet, light and dark, the
//! list on paper, and a case that is entered while the program is away.

use fantoccini::wd::PrintConfiguration;
use fantoccini::{Client, Locator};
use serde_json::Value;
use tests::browser::{PHONE, TABLET, browser, click, console_errors, driver, looks_right, wait_for};
use tests::program::{fourplate, invented_herd, serve};

/// What a trimmer taps for a case.
async fn five_taps(client: &Client) {
    for tap in [
        "[name=leg][value=LF]",
        "[name=claw][value=outer]",
        "[name=lesion][value=HHE]",
        "[name=treatment][value=trim]",
        "#case .send",
    ] {
        click(client, tap).await;
    }
}

async fn all_look_right(client: &Client, address: &str, cow: &str, what: &str) {
    let cow = format!("id={cow}");
    for url in [
        "/",
        &format!("/cow?{cow}"),
        &format!("/crush?{cow}"),
        &format!("/change?{cow}"),
        "/crush",
        "/visit",
        "/herd",
        "/lane",
        "/live",
        "/plates",
        "/rechecks",
    ] {
        looks_right(client, &format!("http://{address}{url}"), what).await;
    }
}

#[tokio::test]
async fn every_screen_can_be_read_and_the_list_fits_a_sheet() {
    let folder = tempfile::tempdir().unwrap();
    invented_herd(folder.path(), &folder.path().join("store"), 100);
    let store = folder.path().join("store");
    let (_server, address) = serve(&store, "127.0.0.1:0");
    let cases = fourplate(&store, &["export", "cases", "--format", "csv"]).out;
    let cow = cases.lines().nth(1).unwrap().split(',').nth(2).unwrap().to_owned();
    let driver = driver();
    for (size, dark) in [(PHONE, false), (PHONE, true), (TABLET, false), (TABLET, true)] {
        let client = browser(&driver, size, dark).await;
        all_look_right(&client, &address, &cow, &format!("{size:?} dark {dark}")).await;
        if size == PHONE {
            client.goto(&format!("http://{address}/")).await.unwrap();
            let heights = "JSON.stringify([...document.querySelectorAll('section.cow:has(> .top)')].map((e) => e.offsetHeight))";
            let heights = client.execute(&format!("return {heights}"), vec![]).await.unwrap();
            let heights: Vec<f64> = serde_json::from_str(heights.as_str().unwrap()).unwrap();
            assert!(
                heights.len() >= 3 && heights.iter().sum::<f64>() / (heights.len() as f64) < 110.0,
                "{heights:?}"
            );
        }
        client.close().await.unwrap();
    }
    let client = browser(&driver, TABLET, false).await;
    client.goto(&format!("http://{address}/cow?id={cow}")).await.unwrap();
    let title = client.find(Locator::Css("h1")).await.unwrap().text().await.unwrap();
    let number = cow.trim_start_matches("999000000000");
    assert!(title.contains(number), "{title}");
    // What our pages may not do is said on the console, and heard here.
    client.execute("fetch('http://127.0.0.1:9/').catch(() => 0)", vec![]).await.unwrap();
    assert!(!console_errors(&client).await.is_empty());
    client.goto(&format!("http://{address}/")).await.unwrap();
    let pdf = client.print(PrintConfiguration::default()).await.unwrap();
    let pages = String::from_utf8_lossy(&pdf).matches("/Type /Page\n").count();
    assert!((1..=2).contains(&pages), "{pages} pages");
    client.close().await.unwrap();
}

/// The program is away when the case is entered; the tablet keeps it and sends it once.
#[tokio::test]
async fn a_case_entered_while_the_program_is_away_arrives_once() {
    let folder = tempfile::tempdir().unwrap();
    invented_herd(folder.path(), &folder.path().join("store"), 100);
    let store = folder.path().join("store");
    let numbers = || fourplate(&store, &["export", "cases", "--format", "csv"]).out.lines().count() - 1;
    let before = numbers();
    let (server, address) = serve(&store, "127.0.0.1:0");
    let list = fourplate(&store, &["list", "--format", "json"]).out;
    let list: Value = serde_json::from_str(&list).unwrap();
    let cow = list["cows"][0]["animal_id"].as_str().expect("somebody to check").to_owned();
    let driver = driver();
    let client = browser(&driver, TABLET, false).await;
    let page = format!("http://{address}/crush?id={cow}");
    client.goto(&page).await.unwrap();
    drop(server);
    five_taps(&client).await;
    wait_for(&client, "#waiting:not([hidden])").await;
    assert_eq!(numbers(), before);
    let (_server, again) = serve(&store, &address);
    assert_eq!(again, address);
    client.goto(&page).await.unwrap();
    wait_for(&client, "#waiting[hidden]").await;
    assert_eq!(numbers(), before + 1);
    // Entered again as it is: the same case.
    five_taps(&client).await;
    wait_for(&client, "[role=status]").await;
    assert_eq!(numbers(), before + 1);
    // On to the next cow, and the sheet at the end.
    click(&client, "[role=status] + p a").await;
    wait_for(&client, ".waiting").await;
    let waiting = client.find(Locator::Css(".waiting")).await.unwrap().text().await.unwrap();
    assert_eq!(waiting.matches('\u{2713}').count(), 1, "{waiting}");
    client.goto(&format!("http://{address}/visit")).await.unwrap();
    let sheet = client.find(Locator::Css("table")).await.unwrap().text().await.unwrap();
    assert_eq!(sheet.lines().count(), 2, "{sheet}");
    client.close().await.unwrap();
}

/// A browser sends more with a form than a test that writes its own requests: where it comes from, and cookies or none.
#[tokio::test]
async fn a_person_logs_in_over_the_network_and_marks_a_cow() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("store");
    invented_herd(folder.path(), &store, 100);
    let mut add = std::process::Command::new(tests::program::path("fourplate"))
        .arg("--store")
        .arg(&store)
        .args(["person", "add", "anna", "--role", "administer"])
        .stdin(std::process::Stdio::piped())
        .stderr(std::process::Stdio::null())
        .spawn()
        .unwrap();
    std::io::Write::write_all(&mut add.stdin.take().unwrap(), b"correct horse\n").unwrap();
    assert!(add.wait().unwrap().success());
    let (_server, address) = serve(&store, "0.0.0.0:0");
    let page = |at: &str| format!("http://127.0.0.1:{}{at}", address.rsplit(':').next().unwrap());
    let driver = driver();
    let client = browser(&driver, PHONE, false).await;
    looks_right(&client, &page("/"), "log-in").await;
    for (password, then) in [("wrong horse", "[role=alert]"), ("correct horse", ".marks")] {
        client.find(Locator::Css("[name=name]")).await.unwrap().send_keys("anna").await.unwrap();
        client.find(Locator::Css("[name=password]")).await.unwrap().send_keys(password).await.unwrap();
        click(&client, ".send").await;
        wait_for(&client, then).await;
    }
    let id = client.execute("return document.querySelector('.marks [name=id]').value", vec![]).await.unwrap();
    click(&client, ".marks [value=booked]").await;
    wait_for(&client, "h1").await;
    client.goto(&page("/people")).await.unwrap();
    let deeds = client.find(Locator::Css("main")).await.unwrap().text().await.unwrap();
    assert!(deeds.contains(&format!("mark {} booked", id.as_str().unwrap())), "{deeds}");
    click(&client, "nav form[action='/log-out'] button").await;
    wait_for(&client, "[name=password]").await;
    client.goto(&page("/people")).await.unwrap();
    wait_for(&client, "[name=password]").await;
    client.close().await.unwrap();
}
