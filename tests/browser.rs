//! The pages in a real browser, headless Chromium over WebDriver: each screen on a phone and a tablet, light and dark, the
//! list on paper, and a case that is entered while the program is away.

use fantoccini::wd::PrintConfiguration;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use tests::program::{fourplate, invented_herd, serve};

const PHONE: (u32, u32) = (390, 844);
const TABLET: (u32, u32) = (1024, 768);

/// The driver of the browser.
struct Driver {
    child: Child,
    port: String,
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn driver() -> Driver {
    let mut child = Command::new("chromedriver")
        .arg("--port=0")
        .stdout(Stdio::piped())
        .spawn()
        .expect("tests/setup installs it");
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
    let said = lines.find(|line| line.contains("started successfully on port")).expect("it says where");
    std::thread::spawn(move || lines.for_each(drop));
    let port = said.rsplit(' ').next().unwrap().trim_end_matches('.').to_owned();
    Driver { child, port }
}

async fn browser(driver: &Driver, (width, height): (u32, u32), dark: bool) -> Client {
    let mut options = vec!["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"];
    if dark {
        options.push("--blink-settings=preferredColorScheme=0");
    }
    let mobile = json!({ "deviceMetrics": { "width": width, "height": height, "pixelRatio": 1.0 } });
    let capabilities = json!({
        "goog:chromeOptions": { "args": options, "mobileEmulation": mobile },
        "goog:loggingPrefs": { "browser": "ALL" },
    });
    let Value::Object(capabilities) = capabilities else { unreachable!("as written") };
    ClientBuilder::new(HttpConnector::new())
        .capabilities(capabilities)
        .connect(&format!("http://127.0.0.1:{}", driver.port))
        .await
        .expect("a browser")
}

/// A figure of the page.
async fn number(client: &Client, script: &str) -> f64 {
    let value = client.execute(&format!("return {script}"), vec![]).await.unwrap();
    value.as_f64().unwrap_or_else(|| panic!("{script}: {value}"))
}

async fn click(client: &Client, css: &str) {
    let script = "document.querySelector(arguments[0]).click()";
    client.execute(script, vec![json!(css)]).await.unwrap();
}

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

async fn wait_for(client: &Client, css: &str) {
    let waits = client.wait().at_most(std::time::Duration::from_secs(30));
    if waits.for_element(Locator::Css(css)).await.is_err() {
        panic!("{css} never came: {}", client.source().await.unwrap());
    }
}

/// Contrast of the text with what lies behind it, at the least, by the formula of WCAG 2; and the least size of letters, px.
const LEGIBLE: &str = r"(() => {
  const light = (c) => { const [r, g, b] = c.map((v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const colour = (text) => text.match(/[\d.]+/g).map(Number);
  const behind = (e) => { for (; e; e = e.parentElement) { const c = colour(getComputedStyle(e).backgroundColor); if (c.length < 4 || c[3] > 0) return c.slice(0, 3); } return [255, 255, 255]; };
  let least = 21, size = 99;
  for (const e of document.querySelectorAll('body *:not(svg *):not(option)')) {
    const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (!own || !e.getClientRects().length || e.closest('script,style')) continue;
    const style = getComputedStyle(e), [a, b] = [light(colour(style.color).slice(0, 3)), light(behind(e))];
    least = Math.min(least, (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05));
    size = Math.min(size, parseFloat(style.fontSize));
  }
  return [least, size];
})()";

/// axe-core, out of the Python package that carries it (`tests/setup`).
fn axe() -> String {
    let packages = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/oracles/lib");
    let python = std::fs::read_dir(packages).expect("tests/setup").flatten().map(|entry| entry.path());
    let file = python.map(|python| python.join("site-packages/axe_core_python/axe.min.js"));
    std::fs::read_to_string(file.into_iter().find(|file| file.exists()).expect("tests/setup")).expect("read")
}

/// What axe-core finds serious or worse, as text.
const SERIOUS: &str = "const done = arguments[arguments.length - 1];
axe.run(document, { resultTypes: ['violations'] }).then((found) => done(JSON.stringify(found.violations
  .filter((one) => one.impact === 'serious' || one.impact === 'critical')
  .map((one) => one.id + ': ' + one.help + ' ' + one.nodes.map((node) => node.html).slice(0, 2).join(' ')))),
  (error) => done(String(error)));";

async fn looks_right(client: &Client, axe: &str, address: &str, cow: &str, what: &str) {
    let cow = format!("id={cow}");
    for url in [
        "/",
        &format!("/cow?{cow}"),
        &format!("/crush?{cow}"),
        &format!("/change?{cow}"),
        "/herd",
        "/lane",
        "/live",
        "/rechecks",
    ] {
        client.goto(&format!("http://{address}{url}")).await.unwrap();
        let wide =
            number(client, "document.documentElement.scrollWidth - document.documentElement.clientWidth")
                .await;
        assert!(wide <= 0.0, "{what}: {url} is {wide} px too wide");
        let legible = client.execute(&format!("return {LEGIBLE}"), vec![]).await.unwrap();
        let [contrast, size] = [0, 1].map(|i| legible[i].as_f64().unwrap());
        assert!(contrast >= 4.5, "{what}: {url} has text of contrast {contrast:.2}");
        assert!(size >= 16.0, "{what}: {url} has letters of {size} px");
        let unnamed = "[...document.querySelectorAll('input:not([type=hidden]),button,a')].filter((e) => !(e.getAttribute('aria-label') || e.closest('label') || e.textContent.trim())).length";
        assert_eq!(number(client, unnamed).await, 0.0, "{what}: {url} has controls without a name");
        client.execute(axe, vec![]).await.unwrap();
        let serious = client.execute_async(SERIOUS, vec![]).await.unwrap();
        assert_eq!(serious.as_str(), Some("[]"), "{what}: {url}");
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
    let (driver, axe) = (driver(), axe());
    for (size, dark) in [(PHONE, false), (PHONE, true), (TABLET, false), (TABLET, true)] {
        let client = browser(&driver, size, dark).await;
        looks_right(&client, &axe, &address, &cow, &format!("{size:?} dark {dark}")).await;
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
    client.close().await.unwrap();
}
