//! The list, a cow, the rechecks and the lanes for programs: JSON over HTTP, read only. `openapi.json` describes every
//! address and field; a test holds each answer against it.

use crate::record::AnimalId;
use crate::record::names::{AskedBy, Meant};
use crate::report::farm::Farm;
use crate::report::pages::query_value;
use jiff::civil::Date;
use percent_encoding::percent_decode_str;
use serde::Serialize;
use serde_json::json;

/// Where the addresses of programs begin.
pub const UNDER: &str = "/api/";
/// What describes them.
const DESCRIPTION: &str = include_str!("openapi.json");

/// What is sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ApiReply {
    /// HTTP status.
    pub status: u16,
    /// JSON.
    pub body: String,
}

impl ApiReply {
    fn found(answer: &impl Serialize) -> Self {
        serde_json::to_string(answer)
            .map_or_else(|_| Self::problem(500, "failed"), |body| Self { status: 200, body })
    }

    /// An answer that says what is wrong, by a code that does not change.
    #[must_use]
    pub fn problem(status: u16, code: &str) -> Self {
        Self { status, body: json!({ "error": code }).to_string() }
    }
}

/// The day that an address asks for, or none where it asks for the last one.
///
/// # Errors
/// The answer to a day that is none, or after `last`.
pub fn day(url: &str, last: Date) -> Result<Option<Date>, ApiReply> {
    let day = value(url, "date")?;
    if day.is_some_and(|day| day > last) { Err(ApiReply::problem(400, "to_come")) } else { Ok(day) }
}

fn value(url: &str, name: &str) -> Result<Option<Date>, ApiReply> {
    let given = url.split_once('?').and_then(|(_, query)| query_value(query, name));
    given.map(|given| given.parse().map_err(|_| ApiReply::problem(400, "date"))).transpose()
}

/// The answer to an address.
#[must_use]
pub fn answer(url: &str, farm: Option<&Farm>) -> ApiReply {
    let path = url.split_once('?').map_or(url, |(path, _)| path);
    let asked = path.strip_prefix(UNDER).unwrap_or_default();
    let cow = asked.strip_prefix("cow/");
    if asked == "openapi.json" {
        return ApiReply { status: 200, body: DESCRIPTION.to_owned() };
    }
    if cow.is_none() && !["list", "rechecks", "lanes"].contains(&asked) {
        return ApiReply::problem(404, "address");
    }
    let Some(farm) = farm else { return ApiReply::problem(404, "no_passages") };
    match asked {
        "list" => ApiReply::found(&farm.morning(None)),
        "rechecks" => ApiReply::found(&farm.morning(None).rechecks),
        "lanes" => ApiReply::found(&farm.morning(None).lane),
        _ => {
            value(url, "from").map_or_else(|wrong| wrong, |from| one_cow(farm, cow.unwrap_or_default(), from))
        }
    }
}

fn one_cow(farm: &Farm, word: &str, from: Option<Date>) -> ApiReply {
    let Ok(word) = percent_decode_str(word).decode_utf8() else { return ApiReply::problem(404, "cow") };
    let animal = match farm.directory.meant(word.trim(), AskedBy::File) {
        Meant::One(animal) => animal,
        Meant::Unknown => AnimalId(word.trim().to_owned()),
        Meant::Several(_) => return ApiReply::problem(409, "several_cows"),
    };
    farm.card(&animal, from).map_or_else(|| ApiReply::problem(404, "cow"), |card| ApiReply::found(&card))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented;

    fn get(url: &str) -> ApiReply {
        answer(url, Some(&invented::farm()))
    }

    #[test]
    fn programs_get_what_the_commands_print_as_json() {
        let list = invented::farm().morning(None);
        assert_eq!(get("/api/list?x=1").body, serde_json::to_string(&list).unwrap());
        assert_eq!(get("/api/rechecks").body, serde_json::to_string(&list.rechecks).unwrap());
        assert_eq!(get("/api/lanes").body, serde_json::to_string(&list.lane).unwrap());
        let cow: serde_json::Value = serde_json::from_str(&get("/api/cow/1042").body).unwrap();
        assert_eq!(cow["animal_id"], "1042");
        let days = |url: &str| {
            let card: serde_json::Value = serde_json::from_str(&get(url).body).unwrap();
            card["days"].as_array().unwrap().len()
        };
        let last = invented::farm().date;
        assert_eq!(days(&format!("/api/cow/1042?from={last}")), 1);
        assert!(days("/api/cow/1042") > 1);
    }

    #[test]
    fn what_is_not_there_or_not_asked_rightly_is_said_by_a_code() {
        let wrong = |url: &str| {
            let reply = get(url);
            let body: serde_json::Value = serde_json::from_str(&reply.body).unwrap();
            (reply.status, body["error"].as_str().unwrap().to_owned())
        };
        let said = |status: u16, code: &str| (status, code.to_owned());
        assert_eq!(wrong("/api/cow/7777"), said(404, "cow"));
        assert_eq!(wrong("/api/cow/%ff"), said(404, "cow"));
        assert_eq!(wrong("/api/cow/"), said(404, "cow"));
        assert_eq!(wrong("/api/"), said(404, "address"));
        assert_eq!(wrong("/api/list/"), said(404, "address"));
        assert_eq!(wrong("/api/cow/1042?from=soon"), said(400, "date"));
        assert_eq!(answer("/api/list", None), ApiReply::problem(404, "no_passages"));
        assert_eq!(answer("/api/openapi.json", None).status, 200);
        let last = jiff::civil::date(2026, 3, 1);
        assert_eq!(day("/api/list", last), Ok(None));
        assert_eq!(day("/api/list?date=2026-03-01", last), Ok(Some(last)));
        assert_eq!(day("/api/list?date=2026-03-02", last), Err(ApiReply::problem(400, "to_come")));
        assert_eq!(day("/api/list?date=2026-02-30", last), Err(ApiReply::problem(400, "date")));
    }
}
