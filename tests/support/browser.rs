//! A real browser, headless Chromium over WebDriver, and what every page must be in it.

use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// A phone, px.
pub const PHONE: (u32, u32) = (390, 844);
/// A tablet, px.
pub const TABLET: (u32, u32) = (1024, 768);

/// The driver of the browser.
pub struct Driver {
    child: Child,
    port: String,
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Starts the driver.
///
/// # Panics
/// Where it is not installed.
#[must_use]
pub fn driver() -> Driver {
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

/// A browser of this size.
///
/// # Panics
/// Where there is none.
pub async fn browser(driver: &Driver, (width, height): (u32, u32), dark: bool) -> Client {
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

/// Clicks.
///
/// # Panics
/// Where there is nothing to click.
pub async fn click(client: &Client, css: &str) {
    let script = "document.querySelector(arguments[0]).click()";
    client.execute(script, vec![json!(css)]).await.unwrap();
}

/// Waits for an element.
///
/// # Panics
/// Where it never comes.
pub async fn wait_for(client: &Client, css: &str) {
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

/// What the browser wrote to its console since it was last asked.
#[derive(Debug)]
struct Console;

impl WebDriverCompatibleCommand for Console {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/se/log", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(json!({ "type": "browser" }).to_string()))
    }
}

/// Errors on the browser's console since it was last asked.
///
/// # Panics
/// Where the browser does not say.
pub async fn console_errors(client: &Client) -> Vec<String> {
    let said = client.issue_cmd(Console).await.expect("the console");
    let errors = said.as_array().expect("a list").iter().filter(|line| line["level"] == "SEVERE");
    errors.map(|line| line["message"].to_string()).collect()
}

/// Goes to a page and holds it against what every page must be: no wider than the screen, of contrast and size that can be
/// read, with names for all controls, nothing serious for axe-core, and
/// no error on the console.
///
/// # Panics
/// Where it is not so.
pub async fn looks_right(client: &Client, url: &str, what: &str) {
    client.goto(url).await.unwrap();
    let wide =
        number(client, "document.documentElement.scrollWidth - document.documentElement.clientWidth").await;
    assert!(wide <= 0.0, "{what}: {url} is {wide} px too wide");
    let legible = client.execute(&format!("return {LEGIBLE}"), vec![]).await.unwrap();
    let [contrast, size] = [0, 1].map(|i| legible[i].as_f64().unwrap());
    assert!(contrast >= 4.5, "{what}: {url} has text of contrast {contrast:.2}");
    assert!(size >= 16.0, "{what}: {url} has letters of {size} px");
    let unnamed = "[...document.querySelectorAll('input:not([type=hidden]),button,a')].filter((e) => !(e.getAttribute('aria-label') || e.closest('label') || e.textContent.trim())).length";
    assert_eq!(number(client, unnamed).await, 0.0, "{what}: {url} has controls without a name");
    client.execute(&axe(), vec![]).await.unwrap();
    let serious = client.execute_async(SERIOUS, vec![]).await.unwrap();
    assert_eq!(serious.as_str(), Some("[]"), "{what}: {url}");
    assert_eq!(console_errors(client).await, [""; 0], "{what}: {url}");
}
