//! Whom the gate is to hold back at the next milking and why, what each gate was told, and what came of it.

use crate::record::AnimalId;
use crate::record::Flag;
use crate::record::day_words::hours;
use crate::record::finding::LookFor;
use crate::record::gate::{GateRecord, Hold, HoldReason, outcome_name};
use crate::record::names::Names;
use crate::report::farm::{Farm, Part};
use crate::report::style::{STRONG, paint};
use crate::report::text::wrap;
use crate::report::words::Words;
use crate::store::{Store, StoreError};
use jiff::{Timestamp, ToSpan, civil::Date, civil::DateTime};
use serde::Serialize;
use serde_json::json;
use shared::identity::AnimalCode;
use shared::limits::MAX_HELD;
use shared::wire::GateOutcome;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

/// A cow to be held back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ToHold {
    /// Which cow.
    pub animal_id: AnimalId,
    /// Why, the most pressing first.
    pub reasons: Vec<HoldReason>,
    /// What somebody said of her; may be empty.
    pub why: String,
    /// Her tag of 15 digits; without one no gate knows her.
    #[serde(serialize_with = "digits")]
    pub tag: Option<AnimalCode>,
}

fn digits<S: serde::Serializer>(tag: &Option<AnimalCode>, to: S) -> Result<S::Ok, S::Error> {
    tag.map(|tag| tag.to_string()).serialize(to)
}

/// When cows are held back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct GateWindow {
    /// From here on.
    pub from: Timestamp,
    /// Up to here.
    pub until: Timestamp,
}

/// What the gates are to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct GateDay {
    /// The farm's day.
    pub date: Date,
    /// When cows are held back; none where the farm has said no hours.
    pub window: Option<GateWindow>,
    /// How many at most.
    pub most: u8,
    /// Whom, the most pressing first.
    pub cows: Vec<ToHold>,
    /// What came of listed cows since the hours began, or on the day.
    #[serde(skip)]
    pub events: Vec<GateRecord>,
}

impl GateDay {
    /// As of now.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn of(store: &Store, now: Timestamp) -> anyhow::Result<Self> {
        let zone = store.time_zone()?;
        let local = zone.to_datetime(now);
        let date = local.date();
        let window = match hours(&store.setting("gate_hours")?.unwrap_or_default()) {
            Some((from, until)) => {
                let (from, until) = window(local, from, until);
                let stamp =
                    |time: DateTime| Ok::<_, jiff::Error>(time.to_zoned_datetime(zone.clone())?.timestamp());
                Some(GateWindow { from: stamp(from)?, until: stamp(until)? })
            }
            None => None,
        };
        let kinds = HoldReason::of_list(&store.setting("gate_for")?.unwrap_or_default()).unwrap_or_default();
        let most = store.setting("gate_most")?.and_then(|most| most.parse().ok()).unwrap_or(0);
        let begin = window.map_or(date.to_zoned_datetime(zone.clone())?.timestamp(), |window| window.from);
        let events = store.gate_events(begin, now + jiff::SignedDuration::from_mins(1))?;
        let farm = Farm::load_part(store, None, Part::List)?;
        let tags = store.tags_worn(date)?;
        let cows = to_hold(farm.as_ref(), &store.holds(date)?, &kinds, &tags, date);
        Ok(Self { date, window, most, cows, events })
    }

    /// Whether cows are held back now.
    #[must_use]
    pub fn is_on(&self, now: Timestamp) -> bool {
        self.window.is_some_and(|window| (window.from..window.until).contains(&now))
    }

    /// The tags to be given to a gate, and how many of them at most: without those who were held in these hours.
    #[must_use]
    pub fn codes(&self) -> (Vec<AnimalCode>, u8) {
        let was_held = |event: &&GateRecord| event.outcome == GateOutcome::Held;
        let gone: BTreeSet<&AnimalId> =
            self.events.iter().filter(was_held).map(|event| &event.animal).collect();
        let (gone, left): (Vec<&ToHold>, Vec<&ToHold>) =
            self.cows.iter().partition(|cow| gone.contains(&cow.animal_id));
        let codes = left.into_iter().filter_map(|cow| cow.tag).take(MAX_HELD).collect();
        (codes, self.most.saturating_sub(u8::try_from(gone.len()).unwrap_or(u8::MAX)))
    }
}

/// The hours that hold now, or that come next.
fn window(now: DateTime, from: jiff::civil::Time, until: jiff::civil::Time) -> (DateTime, DateTime) {
    let over = i64::from(until <= from).days();
    let of = |date: Date| (date.to_datetime(from), date.saturating_add(over).to_datetime(until));
    let days = [now.date().saturating_sub(1.day()), now.date(), now.date().saturating_add(1.day())];
    days.into_iter().map(of).find(|(_, until)| now < *until).unwrap_or_else(|| of(now.date()))
}

/// The cows of these kinds, the most pressing first, in the order of the list.
fn to_hold(
    farm: Option<&Farm>,
    holds: &[Hold],
    kinds: &[HoldReason],
    tags: &BTreeMap<AnimalId, AnimalCode>,
    today: Date,
) -> Vec<ToHold> {
    let mut found: Vec<ToHold> = Vec::new();
    let mut add = |animal: &AnimalId, reason: HoldReason, why: &str| {
        if !kinds.contains(&reason) {
            return;
        }
        match found.iter_mut().find(|cow| cow.animal_id == *animal) {
            Some(cow) if cow.reasons.contains(&reason) => {}
            Some(cow) => cow.reasons.push(reason),
            None => found.push(ToHold {
                animal_id: animal.clone(),
                reasons: vec![reason],
                why: why.to_owned(),
                tag: tags.get(animal).copied(),
            }),
        }
    };
    holds.iter().for_each(|hold| add(&hold.animal, HoldReason::Hand, &hold.why));
    let Some(farm) = farm else { return found };
    let list = farm.morning(None);
    let urgent = list.cows.iter().filter(|cow| cow.flag == Flag::Urgent);
    urgent.for_each(|cow| add(&cow.animal_id, HoldReason::Urgent, ""));
    let due = || farm.rechecks.iter().filter(|one| one.date <= today && !one.faded(today));
    let dressing = |looks: &[LookFor]| looks.contains(&LookFor::DressingOff);
    for one in due().filter(|one| dressing(&one.look_for)) {
        add(&AnimalId(one.animal_id.clone()), HoldReason::Dressing, "");
    }
    for one in due().filter(|one| !dressing(&one.look_for)) {
        add(&AnimalId(one.animal_id.clone()), HoldReason::Recheck, "");
    }
    farm.marks.booked().for_each(|animal| add(animal, HoldReason::Booked, ""));
    found.retain(|cow| !farm.marks.away.contains_key(&cow.animal_id));
    found.sort_by_key(|cow| cow.reasons[0]);
    found
}

/// What a gate was told, as its device last said.
#[derive(Clone, Debug, Serialize)]
pub struct GateState {
    /// The lane.
    pub lane: String,
    /// When its device said so; none where it never did.
    pub heard: Option<Timestamp>,
    /// Whether it drives a gate.
    pub gate: bool,
    /// Cows on the list that it has.
    pub listed: u8,
    /// Whether that list was in force.
    pub in_force: bool,
    /// Whether it has a table of cows.
    pub table: bool,
}

/// Every lane's gate.
///
/// # Errors
/// When the store cannot be read.
pub fn gates(store: &Store) -> Result<Vec<GateState>, StoreError> {
    let of = |device: crate::store::Device| {
        let said = store.orders(device.id)?;
        let orders = said.map(|said| said.1).unwrap_or_default();
        Ok(GateState {
            lane: device.lane(),
            heard: said.and_then(|said| Timestamp::from_millisecond(said.0).ok()),
            gate: orders.gate.is_some(),
            listed: orders.listed,
            in_force: orders.in_force,
            table: orders.table != 0,
        })
    };
    store.devices()?.into_iter().map(of).collect()
}

/// The day of the gates, as printed.
#[must_use]
pub fn render(
    day: &GateDay,
    gates: &[GateState],
    names: &Names,
    zone: &jiff::tz::TimeZone,
    words: &Words,
) -> String {
    let mut out = String::new();
    let hour = |time: Timestamp| zone.to_datetime(time).strftime("%H:%M").to_string();
    let when = |time: Timestamp| {
        let at = zone.to_datetime(time);
        if at.date() == day.date { hour(time) } else { format!("{} {}", at.date(), hour(time)) }
    };
    let title = match day.window {
        Some(window) => words.say(
            "gate-title",
            json!({
                "date": zone.to_datetime(window.from).date(), "from": hour(window.from),
                "until": hour(window.until), "most": day.most,
            }),
        ),
        None => words.text("gate-no-hours"),
    };
    let _ = writeln!(out, "{}", paint(STRONG, wrap(&title, 0)));
    for cow in &day.cows {
        let line = words.say(
            "gate-cow",
            json!({
                "cow": names.long(&cow.animal_id), "reasons": reasons(&cow.reasons, words),
                "why": Some(&cow.why).filter(|why| !why.is_empty()),
                "tag": cow.tag.is_some(),
            }),
        );
        let _ = writeln!(out, "{}", wrap(&line, 2));
    }
    if day.cows.is_empty() {
        let _ = writeln!(out, "{}", words.text("gate-nobody"));
    }
    for gate in gates {
        let state = json!({
            "lane": gate.lane, "gate": gate.gate, "force": gate.in_force, "listed": gate.listed,
            "heard": gate.heard.map(hour), "table": gate.table,
        });
        let _ = writeln!(out, "\n{}", wrap(&words.say("gate-state", state), 2));
    }
    if !day.events.is_empty() {
        let _ = writeln!(out, "\n{}", paint(STRONG, words.text("gate-came")));
        for event in &day.events {
            let line = words.say(
                "gate-event",
                json!({
                    "time": when(event.time), "cow": names.short(&event.animal),
                    "outcome": words.text(&format!("gate-outcome-{}", outcome_name(event.outcome))),
                }),
            );
            let _ = writeln!(out, "{}", wrap(&line, 2));
        }
    }
    let _ = writeln!(out, "\n{}", wrap(&words.text("caution-gate"), 0));
    out
}

fn reasons(reasons: &[HoldReason], words: &Words) -> String {
    let each: Vec<String> =
        reasons.iter().map(|one| words.text(&format!("gate-reason-{}", one.name()))).collect();
    each.join(", ")
}

#[cfg(test)]
mod tests;
