//! The pages as a pure function of the address and the farm.

use crate::record::AnimalId;
use crate::record::names::{AskedBy, Meant};
use crate::record::person::Role;
use crate::report::farm::Farm;
use crate::report::list::morning::{ListSection, Listed};
use crate::report::list::text::{
    CAUTIONS, due, lame, lane_note, nothing, said_of_groups, since_and_confidence, treatment, why_not_judged,
    withdrawal,
};
use crate::report::pages::backup::backup;
use crate::report::pages::query::query_value;
use crate::report::spark;
use crate::report::words::Words;
use crate::store::Store;
use jiff::civil::Date;
use minijinja::{
    Environment, Value,
    value::{Kwargs, Serde},
};
use percent_encoding::{NON_ALPHANUMERIC, percent_decode_str, utf8_percent_encode};
use serde::Serialize;
use serde_json::json;
use shared::plate::Leg;
use std::collections::BTreeMap;
use std::sync::Arc;

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
    words: Arc<Words>,
}

/// Who looks.
#[derive(Clone, Debug, Default)]
pub struct Viewer {
    /// What a form must bring; without it there are no forms.
    pub token: Option<String>,
    /// Who is logged in.
    pub who: Option<String>,
    /// What she may do.
    pub role: Option<Role>,
    /// The farm's day.
    pub today: Date,
}

/// The pages as one person sees them.
pub struct View<'a> {
    pages: &'a Pages,
    viewer: Viewer,
}

/// A cow of the list in words.
#[derive(Serialize)]
struct Row {
    id: String,
    flag: String,
    class: &'static str,
    place: String,
    leg: String,
    /// Which feet are sore, as on a plan of the deck: LF, RF, LR, RR.
    feet: [bool; 4],
    place_probability: Option<String>,
    lame: Option<String>,
    since: String,
    /// Since when, as short as it goes.
    from: Option<String>,
    spark: Option<(String, String)>,
    reasons: Vec<String>,
    treatment: String,
}

impl Row {
    fn new(cow: &Listed, words: &Words) -> Self {
        let what = if cow.trend.measure == "leg_peak_pct" { "trend-walking" } else { "trend-standing" };
        let sure = cow.leg_probability.filter(|_| cow.row.place.is_some());
        Self {
            id: cow.animal_id.to_string(),
            flag: words.flag(cow.flag),
            class: cow.flag.name(),
            place: words.place(cow.row.place),
            leg: words.place_letters(cow.row.place),
            feet: Leg::ALL.map(|leg| cow.row.place.is_some_and(|place| place.holds(leg))),
            place_probability: sure.map(|p| words.say("page-leg-sure", json!({ "probability": p }))),
            lame: cow.probability.map(|p| lame(Some(p), words)),
            since: since_and_confidence(cow, words),
            from: cow.since.map(|day| words.say("page-from", json!({ "date": day }))),
            spark: cow.trend.ends().map(|(first, last)| {
                let values = json!({ "first": first, "last": last, "what": words.text(what) });
                (spark::line(&cow.trend.values, true), words.say("page-weight-arrow", values))
            }),
            reasons: cow.reasons.iter().map(|reason| words.finding(reason)).collect(),
            treatment: treatment(cow, words),
        }
    }
}

impl Pages {
    /// Reads the templates.
    ///
    /// # Errors
    /// When a template is wrong.
    pub fn new(words: Words) -> anyhow::Result<Self> {
        let mut templates = Environment::new();
        templates
            .add_filter("address", |text: String| utf8_percent_encode(&text, NON_ALPHANUMERIC).to_string());
        for (name, text) in [
            ("frame.html", include_str!("templates/frame.html")),
            ("list.html", include_str!("templates/list.html")),
            ("cow.html", include_str!("templates/cow.html")),
            ("legs.html", include_str!("templates/parts/legs.html")),
            ("rechecks.html", include_str!("templates/rechecks.html")),
            ("lane.html", include_str!("templates/lane/lane.html")),
            ("live.html", include_str!("templates/lane/live.html")),
            ("plates.html", include_str!("templates/lane/plates.html")),
            ("parts/plates.html", include_str!("templates/parts/plates.html")),
            ("calibrate.html", include_str!("templates/lane/calibrate.html")),
            ("which_lane.html", include_str!("templates/lane/which.html")),
            ("problem.html", include_str!("templates/problem.html")),
            ("choices.html", include_str!("templates/choices.html")),
            ("crush.html", include_str!("templates/crush.html")),
            ("visit.html", include_str!("templates/visit.html")),
            ("log_in.html", include_str!("templates/people/log_in.html")),
            ("change.html", include_str!("templates/change.html")),
            ("herd.html", include_str!("templates/herd.html")),
            ("passage.html", include_str!("templates/passage.html")),
            ("people.html", include_str!("templates/people/people.html")),
        ] {
            templates.add_template(name, text)?;
        }
        let words = Arc::new(words);
        let said = Arc::clone(&words);
        templates.add_function("say", move |id: &str, values: Kwargs| {
            let mut fields = serde_json::Map::new();
            for name in values.args() {
                fields.insert(
                    name.to_owned(),
                    serde_json::to_value(values.get::<Value>(name)?).unwrap_or_default(),
                );
            }
            Ok::<_, minijinja::Error>(said.say(id, fields))
        });
        Ok(Self { templates, words })
    }

    /// As one person sees them.
    #[must_use]
    pub const fn view(&self, viewer: Viewer) -> View<'_> {
        View { pages: self, viewer }
    }
}

impl View<'_> {
    /// Who looks.
    #[must_use]
    pub const fn viewer(&self) -> &Viewer {
        &self.viewer
    }

    /// The words of the pages.
    #[must_use]
    pub fn words(&self) -> &Words {
        &self.pages.words
    }

    /// The page of an address. No part of it ever names a file.
    #[must_use]
    pub fn answer(&self, url: &str, farm: Option<&Farm>, store: &Store) -> Page {
        let Some(farm) = farm else { return self.problem(404, "page-empty-store") };
        let (path, query) = url.split_once('?').unwrap_or((url, ""));
        match path {
            "/" => self.list(farm),
            "/rechecks" => self.rechecks(farm),
            "/lane" => self.lane(farm),
            "/herd" => self.herd(farm, store),
            "/people" => self.people(store),
            "/cow" => self.cow(farm, store, query_value(query, "id").as_deref()),
            "/crush" => self.crush(farm, store, query),
            "/passage" => self.passage(farm, store, query),
            "/change" => self.change(farm, store, query),
            _ => match path.strip_prefix("/cow/") {
                Some(id) => self.cow(farm, store, percent_decode_str(id).decode_utf8().ok().as_deref()),
                None => self.problem(404, "page-no-page"),
            },
        }
    }

    /// A page that says what is wrong, by the id of its message.
    #[must_use]
    pub fn problem(&self, status: u16, what: &str) -> Page {
        Page { status, ..self.page("problem.html", json!({ "what": self.words().text(what) })) }
    }

    /// The page that asks for a password; `why`: what was wrong with the last one.
    #[must_use]
    pub fn log_in(&self, why: Option<&str>) -> Page {
        self.page("log_in.html", json!({ "why": why.map(|why| self.words().text(why)) }))
    }

    pub(super) fn page(&self, name: &str, mut values: serde_json::Value) -> Page {
        values["token"] = self.viewer.token.clone().into();
        values["person"] = self.viewer.who.clone().into();
        values["administers"] = (self.viewer.role == Some(Role::Administer)).into();
        values["language"] = self.words().language().tag().into();
        values["cautions"] = CAUTIONS.map(|caution| self.words().text(caution)).to_vec().into();
        match self.pages.templates.get_template(name).and_then(|template| template.render(Serde(values))) {
            Ok(body) => Page { status: 200, body },
            Err(_) => Page { status: 500, body: "The page could not be made.".to_owned() },
        }
    }

    fn list(&self, farm: &Farm) -> Page {
        let (list, words) = (farm.morning(None), self.words());
        let rows = |section| list.section(section).map(|cow| Row::new(cow, words)).collect::<Vec<_>>();
        let not_judged: Vec<_> = list
            .not_judged
            .iter()
            .map(|group| (why_not_judged(group.advice.as_ref(), words), &group.animals))
            .collect();
        let (nothing_title, nothing) = nothing(&list, words);
        self.page(
            "list.html",
            json!({
                "farm": Some(&farm.name).filter(|name| !name.is_empty()),
                "date": list.date,
                "seen": words.say("list-seen", &list.seen),
                "withdrawals": list
                    .withdrawals
                    .iter()
                    .map(|open| (open.animal_id.to_string(), withdrawal(open, words)))
                    .collect::<Vec<_>>(),
                "judged": list.judged,
                "not_judged_count": list.not_judged_count(),
                "not_judged": not_judged,
                "capacity": list.capacity,
                "to_check": rows(ListSection::ToCheck),
                "after": rows(ListSection::AfterCapacity),
                "names": names(farm),
                "long_lame": rows(ListSection::LongLame),
                "said": said_of_groups(&list, words),
                "treated": rows(ListSection::UnderTreatment),
                "watch": rows(ListSection::Watch),
                "nothing_title": nothing_title,
                "nothing": nothing,
                "due": list.rechecks.len(),
                "lane": list.lane.iter().map(|note| lane_note(note, words)).collect::<Vec<_>>(),
                "not_seen": list.not_seen,
                "backup": backup(farm.backup_days, words),
            }),
        )
    }

    fn rechecks(&self, farm: &Farm) -> Page {
        let list = farm.morning(None);
        let due: Vec<_> = list
            .rechecks
            .iter()
            .map(|one| (one.animal_id.to_string(), due(one, list.date, self.words())))
            .collect();
        self.page(
            "rechecks.html",
            json!({ "date": farm.date, "due": due, "faded": list.rechecks_faded, "names": names(farm) }),
        )
    }

    fn lane(&self, farm: &Farm) -> Page {
        let (list, words) = (farm.morning(None), self.words());
        let mut lanes: Vec<_> = farm.lanes.iter().rev().take(28).collect();
        lanes.sort_by_key(|lane| std::cmp::Reverse(lane.date));
        let days: Vec<_> = lanes
            .into_iter()
            .map(|lane| {
                let passages = farm.passages.iter().filter(|p| p.date == lane.date && p.lane == lane.lane);
                let said = lane.remark.as_ref().map(|remark| words.with_detail(remark));
                (format!("{} {}", words.day(lane.date), lane.lane), passages.count(), lane.cows, said)
            })
            .collect();
        self.page(
            "lane.html",
            json!({
                "date": list.date,
                "seen": words.say("list-seen", &list.seen),
                "lane": list.lane.iter().map(|note| lane_note(note, words)).collect::<Vec<_>>(),
                "days": days,
            }),
        )
    }

    /// The animal of a word; where several fit, a page that asks which, and goes on at `at`.
    pub(super) fn animal(&self, farm: &Farm, word: Option<&str>, at: &str) -> Result<AnimalId, Page> {
        let word = word.unwrap_or_default().trim();
        match farm.directory.meant(word, AskedBy::Person) {
            Meant::One(animal) => Ok(animal),
            Meant::Unknown => Ok(AnimalId(word.to_owned())),
            Meant::Several(found) => {
                let choices: Vec<_> =
                    found.iter().map(|animal| (animal, farm.directory.names.long(animal))).collect();
                Err(self.page("choices.html", json!({ "word": word, "at": at, "choices": choices })))
            }
        }
    }
}

/// What people call the animals, by id.
fn names(farm: &Farm) -> BTreeMap<&str, String> {
    farm.directory.names.0.iter().map(|(animal, called)| (animal.0.as_str(), called.short(animal))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented;
    use crate::report::words::Language;
    use jiff::civil::date;

    fn get(url: &str) -> Page {
        let pages = Pages::new(Words::new(Language::English)).unwrap();
        let view = pages.view(Viewer { today: date(2026, 3, 1), ..Viewer::default() });
        view.answer(url, Some(&invented::farm()), &Store::in_memory().unwrap())
    }

    #[test]
    fn every_page_is_made() {
        for url in [
            "/",
            "/?x=1",
            "/rechecks",
            "/lane",
            "/herd",
            "/crush",
            "/cow/1042",
            "/cow?id=1042",
            "/cow?id=+1042+",
        ] {
            let page = get(url);
            assert_eq!(page.status, 200, "{url}: {}", page.body);
            assert!(page.body.starts_with("<!doctype html>"), "{url}");
            assert!(page.body.trim_end().ends_with("</html>"), "{url}");
        }
        assert!(get("/").body.contains("RR, right rear"));
        assert!(get("/cow/1042").body.contains("<polyline"));
        assert!(get("/cow/1042").body.contains("<h1>Cow 1042"), "{}", get("/cow/1042").body);
    }

    #[test]
    fn an_old_backup_is_told_of() {
        let words = Words::new(Language::English);
        assert_eq!((backup(Some(0), &words), backup(Some(7), &words)), (None, None));
        assert!(backup(Some(8), &words).unwrap().contains("8 days"));
        assert!(backup(None, &words).unwrap().contains("fourplate backup"));
        let pages = Pages::new(words).unwrap();
        let page = |backup_days| {
            let farm = Farm { backup_days, ..invented::farm() };
            pages.view(Viewer::default()).answer("/", Some(&farm), &Store::in_memory().unwrap()).body
        };
        assert!(page(None).contains("fourplate backup"));
        assert!(!page(Some(1)).contains("fourplate backup"));
    }

    #[test]
    fn withdrawals_stand_before_the_cows_to_check() {
        let page = get("/").body;
        let place = |text: &str| page.find(text).unwrap_or_else(|| panic!("{text}: {page}"));
        assert!(place("no milk up to and with Thu 26 Nov 2026") < place("To check today"));
        assert!(get("/cow/310").body.contains("no meat up to and with Mon 30 Nov 2026"));
    }

    #[test]
    fn the_same_pages_in_german() {
        let pages = Pages::new(Words::new(Language::German)).unwrap();
        let store = Store::in_memory().unwrap();
        let body = pages.view(Viewer::default()).answer("/", Some(&invented::farm()), &store).body;
        assert!(
            body.contains("<html lang=\"de\">")
                && body.contains("Heute ansehen")
                && body.contains("HR, hinten rechts")
        );
        assert!(!body.contains("To check"), "{body}");
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
    fn an_empty_store_is_said() {
        let pages = Pages::new(Words::new(Language::English)).unwrap();
        let page = pages.view(Viewer::default()).answer("/", None, &Store::in_memory().unwrap());
        assert_eq!(page.status, 404);
        assert!(page.body.contains("nothing can be said about any cow"));
    }
}
