//! The words for people: every sentence of the list, the cow, the case and the lane comes out of one catalogue a
//! language (`en/`, `de/`, in the syntax of Project Fluent), for text and page alike.

mod catalogue;
mod finding;
mod functions;
#[cfg(test)]
mod tests;

pub use catalogue::{Language, Words};

use crate::arithmetic::dates::days_between;
use crate::record::finding::Confidence;
use crate::record::{Flag, Place};
use jiff::civil::Date;
use serde_json::json;
use shared::plate::Leg;

impl Words {
    /// A flag.
    #[must_use]
    pub fn flag(&self, flag: Flag) -> String {
        self.text(&format!("flag-{}", flag.name()))
    }

    /// A leg by its full name.
    #[must_use]
    pub fn leg(&self, leg: Leg) -> String {
        self.text(&format!("leg-{}-name", leg.name()))
    }

    /// A leg by its letters.
    #[must_use]
    pub fn leg_letters(&self, leg: Leg) -> String {
        self.text(&format!("leg-{}", leg.name()))
    }

    /// A place in full: "RR, right rear".
    #[must_use]
    pub fn place(&self, place: Option<Place>) -> String {
        match place {
            Some(Place::One(one)) => format!("{}, {}", self.leg_letters(one), self.leg(one)),
            Some(Place::BothFront) => self.text("place-both_front"),
            Some(Place::BothRear) => self.text("place-both_rear"),
            None => self.text("place-unclear"),
        }
    }

    /// A place in few letters; empty where it is not clear.
    #[must_use]
    pub fn place_letters(&self, place: Option<Place>) -> String {
        match place {
            Some(Place::One(one)) => self.leg_letters(one),
            None => String::new(),
            both => self.place(both),
        }
    }

    /// The letters of a leg by its name in tables; empty for none.
    #[must_use]
    pub fn letters_of(&self, leg: &str) -> String {
        if leg.is_empty() { String::new() } else { self.text(&format!("leg-{leg}")) }
    }

    /// How far an answer can be leaned on.
    #[must_use]
    pub fn confidence(&self, confidence: Confidence) -> String {
        self.text(&format!("confidence-{}", confidence.name()))
    }

    /// A probability as a whole percentage; never 0 or 100 %, which nobody can know.
    #[must_use]
    pub fn percent(&self, probability: f64) -> String {
        self.say("percent", json!({ "probability": probability }))
    }

    /// A number with so many decimals, 0 to 2.
    #[must_use]
    pub fn number(&self, value: f64, digits: usize) -> String {
        self.say(["number-0", "number-1", "number-2"][digits.min(2)], json!({ "value": value }))
    }

    /// A day such as `22 Nov`.
    #[must_use]
    pub fn day(&self, date: Date) -> String {
        self.say("day", json!({ "date": date }))
    }

    /// A day such as `Sun 22 Nov 2026`.
    #[must_use]
    pub fn long_day(&self, date: Date) -> String {
        self.say("long-day", json!({ "date": date }))
    }

    /// Since when: `since 22 Nov (20 to 23 Nov), 3 days`.
    #[must_use]
    pub fn since(&self, since: Option<(Date, Date, Date)>, today: Date) -> String {
        let Some((earliest, likeliest, latest)) = since else { return self.text("since-unclear") };
        let days = days_between(likeliest, today);
        let values = json!({ "day": likeliest, "earliest": earliest, "latest": latest, "days": days });
        self.say(if earliest == latest { "since" } else { "since-between" }, values)
    }
}
