//! The plates now, and a calibration on a page: a device on a real line, `listen` at it, the pages of `serve`, and a real
//! browser.

use fantoccini::{Client, Locator};
use serde_json::json;
use std::time::Duration;
use tests::browser::{TABLET, browser, click, driver, looks_right, wait_for};
use tests::program::{Running, fourplate, serve};
use tests::served::Served;

/// Waits until the text of an element holds some words; all of it.
async fn wait_until(client: &Client, css: &str, words: &str) -> String {
    let script = "return [...document.querySelectorAll(arguments[0])].map((e) => e.textContent).join(' | ')";
    let mut said = String::new();
    for _ in 0..300 {
        // A page that is just being left has no answer.
        if let Ok(text) = client.execute(script, vec![json!(css)]).await {
            said = text.as_str().unwrap_or_default().to_owned();
            if said.contains(words) {
                return said;
            }
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    panic!("{css} never said {words:?} but {said:?}");
}

#[tokio::test]
async fn a_lane_is_watched_and_calibrated_on_a_page() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("store");
    let (device, lane) = Served::listening(2, false);
    let mut host = Running::start(&store, &["listen", "--tcp", &lane.to_string()]);
    let _ = host.says("items waiting");
    let (_server, address) = serve(&store, "127.0.0.1:0");
    let driver = driver();
    let client = browser(&driver, TABLET, false).await;
    let page = |at: &str| format!("http://{address}{at}");
    client.goto(&page("/plates")).await.unwrap();
    device.load([200.4, 0.0, 20.1, 0.0]);
    // Factory settings: the load cells of this device weigh what they are told.
    wait_until(&client, "[data-now=kg]", "200.").await;
    wait_until(&client, "[data-now=total]", "220.").await;
    let full: f64 = client
        .execute("return Number(document.querySelector('.load').getAttribute('width'))", vec![])
        .await
        .unwrap()
        .as_f64()
        .unwrap();
    assert!((49.0..=51.0).contains(&full), "half of 400 kg: {full}");
    looks_right(&client, &page("/plates"), "plates").await;
    device.load([0.0; 4]);

    client.goto(&page("/calibrate")).await.unwrap();
    looks_right(&client, &page("/calibrate"), "calibrate").await;
    client.find(Locator::Css("[name=weight]")).await.unwrap().send_keys("200").await.unwrap();
    click(&client, "input.tick").await;
    click(&client, ".send").await;

    wait_until(&client, "section.cow p", "2 / 10").await;
    looks_right(&client, &page("/calibrate"), "a step").await;
    // The weight lies on the wrong plate: asked for again, in words.
    device.load([0.0, 210.0, 0.0, 0.0]);
    click(&client, ".send").await;
    wait_until(&client, "section.cow", "the weight lies on another plate").await;
    // The plates weigh 5 % more than the factory settings say.
    for plate in 0..4 {
        let mut loads = [0.0; 4];
        loads[plate] = 210.0;
        device.load(loads);
        click(&client, ".send").await;
        wait_until(&client, "section.cow p", &format!("{} / 10", plate + 3)).await;
    }
    // The weight is still on the last plate.
    for (n, next) in ["7", "8", "9"].iter().enumerate() {
        click(&client, "[name=skip]").await;
        wait_until(&client, "section.cow p", &format!("{next} / 10")).await;
        assert!(n < 3);
    }
    click(&client, ".send").await;
    wait_until(&client, "section.cow p", "10 / 10").await;
    let said = wait_until(&client, "ol", "Right: ").await;
    let shown = said.split_once("Right: ").and_then(|(_, rest)| rest.split_once(" kg")).expect("a weight").0;
    // To the noise of the readings that are averaged.
    assert!((shown.parse::<f64>().expect("a number") - 200.0).abs() < 0.1, "{shown}");
    device.load([0.0; 4]);
    click(&client, ".send").await;
    wait_for(&client, "p.clear[role=status]").await;
    client.close().await.unwrap();
    drop(host);

    let ran = fourplate(&store, &["lane", "settings", "--tcp", &lane.to_string(), "--format", "json"]);
    let held: serde_json::Value = serde_json::from_str(&ran.out).expect("JSON");
    let factory = f64::from(firmware::settings::NOMINAL_KG_PER_COUNT);
    let gain = held["kg_per_count"][2][2].as_f64().expect("a number") / factory * 1.05;
    assert!((gain - 1.0).abs() < 1e-3, "{gain}");
}
