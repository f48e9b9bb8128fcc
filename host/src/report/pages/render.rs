//! The pages as a pure function of the address and the farm.

use crate::record::AnimalId;
use crate::report::cow::{Card, card};
use crate::report::farm::Farm;
use crate::report::list::morning::{CAUTIONS, Listed, Section};
use crate::report::pages::picture::Picture;
use crate::report::{spark, words};
use jiff::civil::Date;
use minijinja::{Environment, value::Serde};
use percent_encoding::{NON_ALPHANUMERIC, percent_decode_str, utf8_percent_encode};
use serde::Serialize;
use serde_json::json;

/// What is sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// HTTP status.
    pub status: u16,
    /// HTML.
    pub body: String,
}

/// The templates.
pub struct Pages {
    templates: Environment<'static>,
}

/// A cow of the list in words.
#[derive(Serialize)]
struct Row {
    id: String,
    flag: &'static str,
    class: &'static str,
    place: String,
    leg: &'static str,
    place_probability: Option<String>,
    lame: Option<String>,
    since: String,
    confidence: &'static str,
    spark: Option<(String, String)>,
    reasons: Vec<String>,
    treatment: String,
}

impl Row {
    fn new(cow: &Listed) -> Self {
        let treatment = match (cow.block_on, cow.days_since_trim) {
            (true, Some(days)) => {
                format!("block on; treated {} ago", words::count(days as usize, "day", "days"))
            }
            (true, None) => "block on".to_owned(),
            (false, Some(days)) => format!("treated {} ago", words::count(days as usize, "day", "days")),
            (false, None) => String::new(),
        };
        Self {
            id: cow.animal_id.to_string(),
            flag: words::flag(cow.flag),
            class: words::flag_name(cow.flag),
            place: words::place(cow.row.place),
            leg: cow.leg.unwrap_or_default(),
            place_probability: cow.leg_probability.filter(|_| cow.row.place.is_some()).map(words::percent),
            lame: cow.probability.map(words::percent),
            since: words::since(cow.row.since, cow.date),
            confidence: cow.confidence,
            spark: cow.trend.ends().map(|(first, last)| {
                (spark::line(&cow.trend.values, true), format!("{first:.1} → {last:.1} % of body weight"))
            }),
            reasons: cow.reasons.clone(),
            treatment,
        }
    }
}

impl Pages {
    /// Reads the templates.
    ///
    /// # Errors
    /// When a template is wrong.
    pub fn new() -> anyhow::Result<Self> {
        let mut templates = Environment::new();
        templates
            .add_filter("address", |text: String| utf8_percent_encode(&text, NON_ALPHANUMERIC).to_string());
        for (name, text) in [
            ("frame.html", include_str!("frame.html")),
            ("list.html", include_str!("list.html")),
            ("cow.html", include_str!("cow.html")),
            ("rechecks.html", include_str!("rechecks.html")),
            ("lane.html", include_str!("lane.html")),
            ("problem.html", include_str!("problem.html")),
        ] {
            templates.add_template(name, text)?;
        }
        Ok(Self { templates })
    }

    /// The page of an address. No part of it ever names a file.
    #[must_use]
    pub fn answer(&self, method: &str, url: &str, farm: Option<&Farm>) -> Page {
        if !matches!(method, "GET" | "HEAD") {
            return self.problem(405, "This page can only be read.");
        }
        let Some(farm) = farm else {
            return self.problem(404, "The store has no passage yet: nothing can be said about any cow.");
        };
        let (path, query) = url.split_once('?').unwrap_or((url, ""));
        match path {
            "/" => self.list(farm),
            "/rechecks" => self.rechecks(farm),
            "/lane" => self.lane(farm),
            "/cow" => self.cow(farm, query_value(query, "id").as_deref()),
            _ => match path.strip_prefix("/cow/") {
                Some(id) => self.cow(farm, percent_decode_str(id).decode_utf8().ok().as_deref()),
                None => self.problem(404, "There is no such page."),
            },
        }
    }

    /// A page that says what is wrong.
    #[must_use]
    pub fn problem(&self, status: u16, what: &str) -> Page {
        Page { status, ..self.page("problem.html", json!({ "what": what })) }
    }

    fn page(&self, name: &str, values: serde_json::Value) -> Page {
        match self.templates.get_template(name).and_then(|template| template.render(Serde(values))) {
            Ok(body) => Page { status: 200, body },
            Err(_) => Page { status: 500, body: "The page could not be made.".to_owned() },
        }
    }

    fn list(&self, farm: &Farm) -> Page {
        let list = farm.morning(None);
        let rows = |section| list.section(section).map(Row::new).collect::<Vec<_>>();
        let names: Vec<_> =
            list.not_judged.iter().map(|group| (group.would_settle.clone(), group.animals.clone())).collect();
        self.page(
            "list.html",
            json!({
                "farm": farm.name,
                "day": words::long_day(list.date),
                "seen": list.seen,
                "judged": list.judged,
                "not_judged_count": list.not_judged_count(),
                "not_judged": names,
                "capacity": list.capacity,
                "to_check": rows(Section::ToCheck),
                "after": rows(Section::AfterCapacity),
                "treated": rows(Section::UnderTreatment),
                "watch": rows(Section::Watch),
                "due": list.rechecks.len(),
                "lane": list.lane,
                "not_seen": list.not_seen,
                "cautions": list.cautions,
            }),
        )
    }

    fn rechecks(&self, farm: &Farm) -> Page {
        let due: Vec<_> = farm
            .morning(None)
            .rechecks
            .into_iter()
            .map(|due| (due.animal_id.to_string(), words::long_day(due.due), due.what))
            .collect();
        self.page(
            "rechecks.html",
            json!({ "farm": farm.name, "day": words::long_day(farm.date), "due": due, "cautions": CAUTIONS }),
        )
    }

    fn lane(&self, farm: &Farm) -> Page {
        let list = farm.morning(None);
        let days: Vec<(String, usize, u32, String)> = {
            let mut lanes: Vec<_> = farm.lanes.iter().rev().take(28).collect();
            lanes.sort_by_key(|lane| std::cmp::Reverse(lane.date));
            lanes
                .into_iter()
                .map(|lane| {
                    let passages =
                        farm.passages.iter().filter(|p| p.date == lane.date && p.lane == lane.lane);
                    (
                        format!("{} {}", words::day(lane.date), lane.lane),
                        passages.count(),
                        lane.cows,
                        lane.words.clone(),
                    )
                })
                .collect()
        };
        self.page(
            "lane.html",
            json!({
                "farm": farm.name,
                "day": words::long_day(list.date),
                "seen": list.seen,
                "lane": list.lane,
                "days": days,
            }),
        )
    }

    fn cow(&self, farm: &Farm, id: Option<&str>) -> Page {
        let card = id.and_then(|id| farm.card(&AnimalId(id.trim().to_owned()), None));
        let Some(card) = card else {
            return self.problem(404, "Nothing is known of such an animal.");
        };
        let from = farm.card_from(None);
        self.page("cow.html", cow_values(&farm.name, &card, from, farm.date))
    }
}

fn cow_values(farm: &str, card: &Card, from: Date, to: Date) -> serde_json::Value {
    let share = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |value| format!("{value:.1}"));
    let day_row = |day: &card::CardDay| {
        let flag = day.flag.map_or("", words::flag);
        let class = day.flag.map_or("", words::flag_name);
        let shares = [day.lf_share_pct, day.rf_share_pct, day.lr_share_pct, day.rr_share_pct].map(share);
        let mut marks = day.marks.clone();
        if day.block_on && marks.is_empty() {
            marks.push("block on".to_owned());
        }
        json!({
            "date": words::day(day.date),
            "flag": flag,
            "class": class,
            "leg": day.leg.filter(|_| class != "clear"),
            "lame": day.probability.map(words::percent),
            "shares": shares,
            "kg": day.body_weight_kg.map(|kg| format!("{kg:.0}")),
            "marks": marks,
        })
    };
    let status = card.latest.as_ref().map(|row| {
        json!({
            "day": words::long_day(row.date),
            "flag": words::flag(row.flag),
            "class": words::flag_name(row.flag),
            "place": words::place(row.place),
            "since": words::since(row.since, row.date),
            "lame": row.probability.map(words::percent),
            "confidence": row.confidence,
            "reasons": row.reasons,
            "would_settle": row.would_settle,
            "block_on": row.block_on,
            "days_since_trim": row.days_since_trim,
            "flagged": row.flag >= crate::record::Flag::Watch,
        })
    });
    json!({
        "farm": farm,
        "day": words::long_day(to),
        "id": card.animal_id.to_string(),
        "parity": card.parity,
        "days_in_milk": card.days_in_milk,
        "passages": card.passages,
        "trusted": card.trusted,
        "last_seen": card.last_seen.map(words::long_day),
        "usual": card.usual_share_pct,
        "status": status,
        "picture": Picture::new(card, from, to),
        "days": card.days.iter().rev().map(day_row).collect::<Vec<_>>(),
        "cautions": CAUTIONS,
    })
}

/// A value of a query, decoded.
fn query_value(query: &str, name: &str) -> Option<String> {
    query.split('&').find_map(|pair| {
        let (key, value) = pair.split_once('=')?;
        let value = value.replace('+', " ");
        (key == name).then(|| percent_decode_str(&value).decode_utf8_lossy().into_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::invented;

    fn get(url: &str) -> Page {
        Pages::new().unwrap().answer("GET", url, Some(&invented::farm()))
    }

    #[test]
    fn every_page_is_made() {
        for url in ["/", "/?x=1", "/rechecks", "/lane", "/cow/1042", "/cow?id=1042", "/cow?id=+1042+"] {
            let page = get(url);
            assert_eq!(page.status, 200, "{url}: {}", page.body);
            assert!(page.body.starts_with("<!doctype html>"), "{url}");
            assert!(page.body.trim_end().ends_with("</html>"), "{url}");
        }
        assert!(get("/").body.contains("RR, right rear"));
        assert!(get("/cow/1042").body.contains("<polyline"));
    }

    #[test]
    fn nothing_comes_from_outside() {
        for url in ["/", "/rechecks", "/lane", "/cow/1042"] {
            let body = get(url).body;
            for outside in ["http:", "https:", "<script", "@import", "src="] {
                assert!(!body.contains(outside), "{url} has {outside}");
            }
        }
    }

    #[test]
    fn what_the_farm_wrote_is_escaped() {
        let page = get("/");
        assert!(page.body.contains("&lt;script&gt;alert(1)&lt;"), "{}", page.body);
        assert!(!page.body.contains("<script>"));
        let cow = get("/cow/%3Cscript%3Ealert%281%29%3C%2Fscript%3E");
        assert_eq!(cow.status, 200);
        assert!(!cow.body.contains("<script>"));
        assert!(!get("/cow/%3Cb%3Enone").body.contains("<b>"));
    }

    #[test]
    fn no_address_reaches_a_file() {
        for url in [
            "/../Cargo.toml",
            "/cow/../../etc/passwd",
            "/cow/..%2F..%2Fetc%2Fpasswd",
            "/%2e%2e/%2e%2e/etc/passwd",
            "//etc/passwd",
            "/list.html",
            "/cow/%ff%fe",
            "/cow",
        ] {
            let page = get(url);
            assert_eq!(page.status, 404, "{url}");
            assert!(!page.body.contains("root:"), "{url}");
        }
    }

    #[test]
    fn nothing_can_be_written() {
        for method in ["POST", "PUT", "DELETE", "PATCH", "OPTIONS"] {
            assert_eq!(Pages::new().unwrap().answer(method, "/", None).status, 405);
        }
    }

    #[test]
    fn an_empty_store_is_said() {
        let page = Pages::new().unwrap().answer("GET", "/", None);
        assert_eq!(page.status, 404);
        assert!(page.body.contains("nothing can be said about any cow"));
    }
}
