//! Who may ask what: on this machine, and over the network.

use super::*;
use crate::record::HerdEntry;
use crate::record::person::Person;
use crate::report::words::Language;
use crate::serve::sessions::hashed;
use crate::store::desk::StepEnd;
use shared::wire::CalibrationStep;

/// 2026-03-05, noon UTC.
const NOW: Timestamp = Timestamp::constant(1_772_712_000, 0);
const PASSWORD: &str = "correct horse";

struct Farmyard {
    _folder: tempfile::TempDir,
    answers: Answers,
}

fn farmyard(open: bool) -> Farmyard {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("store");
    let store = Store::open(&path).unwrap();
    let entry = HerdEntry { animal: AnimalId("412".into()), parity: None, calving_date: None };
    store.put_herd_entry(&entry).unwrap();
    for (name, role) in [("anna", Role::Record), ("lou", Role::Look), ("max", Role::Administer)] {
        let password = hashed(PASSWORD).unwrap();
        store.put_person(&Person { name: name.into(), role, password }).unwrap();
    }
    Farmyard { _folder: folder, answers: Answers::new(path, Words::new(Language::English), open).unwrap() }
}

impl Farmyard {
    fn ask(&self, asked: &Asked) -> Reply {
        self.answers.answer(asked, NOW)
    }

    fn store(&self) -> Store {
        Store::open(&self.answers.store).unwrap()
    }

    /// The cookie of a person who logs in, and what her forms bring.
    fn log_in(&self, name: &str) -> (String, String) {
        let form = format!("name={name}&password=correct+horse");
        let reply = self.ask(&Asked { form: Some(form), ..post("/log-in") });
        assert_eq!((reply.status, reply.location.as_deref()), (303, Some("/")), "{}", reply.body);
        let set = reply.cookie.unwrap();
        assert!(set.contains("HttpOnly") && set.contains("SameSite=Strict"), "{set}");
        let cookie = set.split(';').next().unwrap().to_owned();
        let session = self.answers.sessions.of(&self.store(), &cookie[COOKIE.len() + 1..], NOW).unwrap();
        (cookie, session.form_token)
    }
}

fn get(url: &str) -> Asked {
    Asked {
        method: "GET".into(),
        url: url.into(),
        host: Some("10.1.1.1:8080".into()),
        from: "10.1.1.9".into(),
        form: Some(String::new()),
        ..Asked::default()
    }
}

fn post(url: &str) -> Asked {
    Asked { method: "POST".into(), ..get(url) }
}

fn here(asked: Asked) -> Asked {
    Asked { host: Some("127.0.0.1:8080".into()), ..asked }
}

const CASE: &str = "id=412&date=2026-03-05&leg=LR&claw=outer&lesion=WL&treatment=trim&block_claw=inner";

#[test]
fn on_this_machine_forms_need_the_token_of_this_run() {
    let yard = farmyard(false);
    let token = yard.answers.local_token.clone().unwrap();
    let taken = |token: &str| {
        let form = Some(format!("{CASE}&token={token}"));
        yard.ask(&Asked { form, ..here(post("/case")) }).status
    };
    assert_eq!((taken(""), taken("0123")), (403, 403));
    assert_eq!(yard.store().cases(None).unwrap().len(), 0);
    assert_eq!((taken(&token), taken(&token)), (303, 303), "sent twice");
    assert_eq!(yard.store().cases(None).unwrap().len(), 1);
    let form = Some(format!("id=412&date=2026-03-05&leg=LR&token={token}"));
    let reply = yard.ask(&Asked { form, ..here(post("/case")) });
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("the lesion"), "{}", reply.body);
    assert_eq!(yard.ask(&Asked { form: None, ..here(post("/case")) }).status, 413, "too long");
    let form = Some(format!("token={token}"));
    assert_eq!(yard.ask(&Asked { form, ..here(post("/nothing")) }).status, 404);
    assert_eq!(yard.ask(&Asked { method: "PUT".into(), ..here(get("/")) }).status, 405);
}

#[test]
fn on_this_machine_other_names_are_not_answered() {
    let yard = farmyard(false);
    let status = |host: Option<&str>, origin: Option<&str>| {
        let asked = Asked { host: host.map(Into::into), origin: origin.map(Into::into), ..get("/") };
        yard.ask(&asked).status
    };
    assert_eq!(status(Some("localhost:8080"), None), 404, "the store has no passage");
    assert_eq!(status(Some("[::1]"), Some("http://127.0.0.1:8080")), 404);
    for (host, origin) in [
        (Some("example.org"), None),
        (Some("127.0.0.1.example.org:80"), None),
        (None, None),
        (Some("localhost"), Some("http://example.org")),
        (Some("localhost"), Some("null")),
    ] {
        assert_eq!(status(host, origin), 403, "{host:?} {origin:?}");
    }
}

#[test]
fn over_the_network_nothing_is_shown_before_the_password() {
    let yard = farmyard(true);
    for url in ["/", "/cow/412", "/crush?id=412", "/people", "/herd"] {
        let reply = yard.ask(&get(url));
        assert_eq!((reply.status, reply.location.as_deref()), (303, Some("/log-in")), "{url}");
    }
    assert_eq!(yard.ask(&get("/log-in")).status, 200);
    assert_eq!(yard.ask(&Asked { form: Some(CASE.into()), ..post("/case") }).status, 403);
    let wrong = Asked { form: Some("name=anna&password=guess".into()), ..post("/log-in") };
    assert_eq!(yard.ask(&wrong).status, 403);
    assert!(yard.ask(&wrong).cookie.is_none());
    let elsewhere = Asked { origin: Some("http://example.org".into()), ..post("/log-in") };
    assert_eq!(yard.ask(&elsewhere).status, 403);
    let (cookie, _) = yard.log_in("anna");
    assert_eq!(yard.ask(&Asked { cookie: Some(cookie), ..get("/") }).status, 404, "in: an empty store");
    assert_eq!(yard.ask(&Asked { cookie: Some("fourplate=0123".into()), ..get("/") }).status, 303);
}

#[test]
fn each_role_does_what_it_may_and_who_did_it_is_known() {
    let yard = farmyard(true);
    let case = |(cookie, token): (String, String)| {
        yard.ask(&Asked {
            cookie: Some(cookie),
            form: Some(format!("{CASE}&token={token}")),
            ..post("/case")
        })
        .status
    };
    assert_eq!(case(yard.log_in("lou")), 403);
    let anna = yard.log_in("anna");
    assert_eq!(case((anna.0.clone(), yard.log_in("max").1)), 403, "another's form");
    assert_eq!(case(anna.clone()), 303);
    assert_eq!(yard.store().cases(None).unwrap()[0].case.who.as_deref(), Some("anna"));
    let deeds = yard.store().deeds(1).unwrap();
    assert_eq!((deeds[0].who.as_str(), deeds[0].what.as_str()), ("anna", "case 1"));
    let out = yard.ask(&Asked { cookie: Some(anna.0.clone()), ..post("/log-out") });
    assert_eq!(out.location.as_deref(), Some("/log-in"));
    assert_eq!(yard.ask(&Asked { cookie: Some(anna.0), ..get("/") }).status, 303);
}

#[test]
fn our_script_is_given_to_everybody_and_no_address_names_a_file() {
    let yard = farmyard(true);
    assert_eq!(yard.ask(&get("/kept.js")).kind, "text/javascript");
    let (cookie, _) = yard.log_in("anna");
    for url in ["/../kept.js", "/%2e%2e/etc/passwd", "//etc/passwd", "/templates/frame.html"] {
        let reply = yard.ask(&Asked { cookie: Some(cookie.clone()), ..get(url) });
        assert_eq!(reply.status, 404, "{url}");
    }
}

/// Every day up to the one asked for is scored: a day in a hundred years would hold everybody up. The farm's day is
/// 2026-03-05.
#[test]
fn a_day_that_is_still_to_come_is_not_scored() {
    let yard = farmyard(false);
    for url in ["/?date=2026-03-07", "/cow/412?date=9999-12-31"] {
        let reply = yard.ask(&here(get(url)));
        assert_eq!((reply.status, reply.body.contains("still to come")), (400, true), "{url}");
    }
    let api = yard.ask(&here(get("/api/list?date=2026-03-07")));
    assert_eq!(
        (api.status, api.kind, api.body.as_str()),
        (400, "application/json", r#"{"error":"to_come"}"#)
    );
    for url in ["/?date=2026-03-06", "/api/list?date=2026-03-06"] {
        // This farm has no passages.
        assert_eq!(yard.ask(&here(get(url))).status, 404, "{url}");
    }
}

#[test]
fn programs_log_in_as_people_do_and_only_read() {
    let yard = farmyard(true);
    let refused = yard.ask(&get("/api/list"));
    assert_eq!((refused.status, refused.body.as_str()), (401, r#"{"error":"log_in"}"#));
    let (cookie, _) = yard.log_in("lou");
    let asked = |asked: Asked| yard.ask(&Asked { cookie: Some(cookie.clone()), ..asked });
    assert_eq!(asked(get("/api/list")).body, r#"{"error":"no_passages"}"#);
    assert_eq!(asked(get("/api/openapi.json")).status, 200);
    assert_eq!(asked(post("/api/list")).body, r#"{"error":"read_only"}"#);
    assert_eq!(
        yard.ask(&Asked {
            host: Some("10.1.1.1:8080".into()),
            origin: Some("http://example.org".into()),
            ..get("/api/list")
        })
        .status,
        403
    );
}

fn hello(device: u64, name: &str) -> shared::wire::DeviceHello {
    shared::wire::DeviceHello {
        schema: 2,
        oldest: 1,
        ..crate::link::fake_device::hello(DeviceId(device), name)
    }
}

#[test]
fn plates_are_those_of_the_lane_that_is_meant() {
    let yard = farmyard(false);
    let page = |url: &str| yard.ask(&here(get(url)));
    let none = page("/plates");
    assert_eq!((none.status, none.body.contains("No lane has been h")), (200, true), "{}", none.body);
    yard.store().meet_device(&hello(7, "East"), 0).unwrap();
    assert!(page("/plates").body.contains("lane East"), "the only one");
    yard.store().meet_device(&hello(8, "West"), 0).unwrap();
    let which = page("/plates").body;
    assert!(which.contains("plates?lane=0000000000000007") && which.contains(">West<"), "{which}");
    assert!(page("/plates?lane=0000000000000008").body.contains("lane West"));
    for wrong in ["9", "x", "-7", ""] {
        assert_eq!(page(&format!("/plates?lane={wrong}")).status, 404, "{wrong}");
    }
    let watched = |url: &str| yard.answers.watched(&here(get(url)), NOW);
    assert_eq!(watched("/plates/events?lane=8"), Some(DeviceId(8)));
    assert_eq!((watched("/plates/events"), watched("/plates/events?lane=9")), (None, None));
    assert_eq!(yard.answers.watched(&get("/plates/events?lane=8"), NOW), None, "meant for another");
}

#[test]
fn only_who_administers_calibrates_and_only_with_a_step_that_can_be() {
    let yard = farmyard(true);
    yard.store().meet_device(&hello(7, "East"), 0).unwrap();
    let desk = || yard.answers.desk().unwrap().steps(DeviceId(7), NOW.as_millisecond()).unwrap();
    let ask = |who: &str, form: &str| {
        let (cookie, token) = yard.log_in(who);
        let form = Some(format!("{form}&token={token}"));
        yard.ask(&Asked { cookie: Some(cookie), form, ..post("/calibrate") }).status
    };
    let page = |who: &str| yard.ask(&Asked { cookie: Some(yard.log_in(who).0), ..get("/calibrate") }).status;
    assert_eq!((page("lou"), page("anna"), page("max")), (403, 403, 200));
    let begin = "lane=7&step=empty_deck&weight=100";
    assert_eq!((ask("lou", begin), ask("anna", begin)), (403, 403));
    assert!(desk().is_empty());
    for wrong in [
        "lane=7&step=empty_deck&weight=much",
        "lane=7&step=empty_deck&weight=NaN",
        "lane=7&step=known_weight&weight=100",
        "lane=7&step=check&plate=XX&weight=100",
        "lane=7&step=jump&weight=100",
    ] {
        assert_eq!(ask("max", wrong), 400, "{wrong}");
    }
    assert_eq!(ask("max", "lane=9&step=empty_deck&weight=100"), 404);
    assert!(desk().is_empty());
    assert_eq!(ask("max", begin), 303);
    assert_eq!(ask("max", "lane=7&step=check&plate=LR&weight=72,5&skip=1"), 303);
    let steps = desk();
    assert_eq!((steps.len(), steps[0].end, steps[1].end), (2, None, Some(StepEnd::Skipped)));
    assert_eq!(
        steps[1].step,
        CalibrationStep::Check { plate: shared::plate::Plate::LR, weight: shared::units::Kilograms(72.5) }
    );
    let deeds = yard.store().deeds(1).unwrap();
    assert_eq!((deeds[0].who.as_str(), deeds[0].what.as_str()), ("max", "calibrate East check"));
}
