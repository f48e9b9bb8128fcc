//! Before and after: a treated cow against herself.

use crate::case::before_after::compare::{Comparison, MeasureChange};
use crate::record::case::Course;
use crate::record::finding::Verdict;
use crate::report::farm::Farm;
use crate::report::pages::picture::Picture;
use crate::report::pages::query::query_value;
use crate::report::pages::render::{Page, View};
use crate::report::trim::case_line::summary;
use crate::report::trim::compare::{Window, first_line, of_cow, verdict};
use crate::store::Store;
use jiff::ToSpan;
use serde_json::json;
use shared::plate::Leg;

/// Ends of the axis, % of the usual load, and its width and left edge in the picture.
const AXIS: (f64, f64) = (-60.0, 30.0);
const WIDTH: f64 = 520.0;
const LEFT: f64 = 60.0;

/// Days before the work that the course begins with. Our choice.
const DAYS_BEFORE: i32 = 28;
/// Radius of a foot that carries a quarter of her weight; its area goes with the load.
const QUARTER_RADIUS: f64 = 40.0;

/// Where a value lies in the picture.
fn at(pct: f64) -> f64 {
    LEFT + WIDTH * (pct.clamp(AXIS.0, AXIS.1) - AXIS.0) / (AXIS.1 - AXIS.0)
}

impl View<'_> {
    /// Of the latest case of a cow.
    pub(super) fn change(&self, farm: &Farm, store: &Store, query: &str) -> Page {
        let animal = match self.animal(farm, query_value(query, "id").as_deref(), "/change?id=") {
            Ok(animal) => animal,
            Err(page) => return page,
        };
        if !farm.directory.has(&animal) {
            return self.problem(404, "page-no-animal");
        }
        let (words, names) = (self.words(), &farm.directory.names);
        let found = match of_cow(store, &animal, &Window::LATEST) {
            Ok(found) => found,
            Err(_) => return self.problem(503, "page-busy"),
        };
        let Some(found) = found else {
            return self.page("change.html", json!({ "id": animal.0, "animal": names.long(&animal) }));
        };
        let (of, cases) = (&found.comparison, &found.cases);
        let class = match of.verdict.verdict {
            Verdict::AsExpected => "clear",
            Verdict::CannotTellYet => "watch",
            Verdict::SlowerThanExpected => "check",
            _ => "urgent",
        };
        let bar = |value: crate::arithmetic::statistics::Estimated| {
            json!({
                "at": at(value.value), "from": at(value.low), "to": at(value.high),
                "text": words.say("span-0", json!({ "value": value.value, "low": value.low, "high": value.high })),
            })
        };
        let legs: Vec<_> = of
            .legs
            .iter()
            .map(|leg| {
                json!({
                    "leg": words.letters_of(leg.leg),
                    "treated": Some(leg.leg) == of.leg,
                    "before": bar(leg.before_pct),
                    "now": bar(leg.now_pct),
                    "usual": [at(-leg.normal_range_pct), at(leg.normal_range_pct)],
                    "back": words.percent(leg.back_probability),
                })
            })
            .collect();
        let from = of.at.saturating_sub(DAYS_BEFORE.days());
        let course = farm.card(&animal, Some(from)).and_then(|mut card| {
            card.leg = of.leg;
            let begins = card.first_seen.map_or(from, |seen| seen.max(from)).min(farm.date);
            let mut picture = Picture::new(&card, begins, farm.date, words)?;
            for look in cases.iter().flat_map(|kept| &kept.follow_ups) {
                let healed = look.course == Some(Course::Healed);
                picture.mark(look.date, if healed { "H" } else { "L" });
            }
            Some(picture)
        });
        let scale: Vec<_> = (-6..=3).map(|tens| (at(10.0 * f64::from(tens)), 10 * tens)).collect();
        self.page(
            "change.html",
            json!({
                "id": animal.0,
                "animal": names.long(&animal),
                "title": first_line(of, names, words),
                "cases": cases.iter().map(|kept| summary(kept, names, words)).collect::<Vec<_>>(),
                "verdict": verdict(of, words),
                "class": class,
                "legs": legs,
                "patterns": self.patterns(of),
                "picture": course,
                "scale": scale,
                "zero": at(0.0),
                "height": 40 + 56 * legs.len(),
            }),
        )
    }

    /// The shares of the four legs before and after, side by side; nothing where too few passages were used.
    fn patterns(&self, of: &Comparison) -> Vec<serde_json::Value> {
        let words = self.words();
        let of_leg = |leg: Leg| {
            let name = format!("{}_share_pct", leg.name().to_ascii_lowercase());
            of.measures.iter().find(|measure| measure.measure == name)
        };
        let Some(found) = Leg::ALL.into_iter().map(of_leg).collect::<Option<Vec<_>>>() else {
            return Vec::new();
        };
        let pattern = |label: &str, value: fn(&MeasureChange) -> f64| {
            let foot = |(leg, measure): (Leg, &&MeasureChange)| {
                let share = value(measure);
                json!({
                    "leg": words.leg_letters(leg),
                    "treated": of.leg == Some(leg.name()),
                    "share": words.number(share, 1),
                    "radius": (10.0 * QUARTER_RADIUS * (share.max(0.0) / 25.0).sqrt()).round() / 10.0,
                })
            };
            json!({ "label": words.text(label), "feet": Leg::ALL.into_iter().zip(&found).map(foot).collect::<Vec<_>>() })
        };
        vec![
            pattern("compare-column-before", |measure| measure.before),
            pattern("compare-column-now", |measure| measure.after),
        ]
    }
}
