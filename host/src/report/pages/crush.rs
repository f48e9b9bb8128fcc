//! At the crush: which leg first and why, what was done last, and a case in a few taps.

use crate::record::case::lesion::CODES;
use crate::record::case::withdrawal::Withdrawal;
use crate::record::case::zone::Zone;
use crate::record::finding::Objection;
use crate::record::{AnimalId, Flag};
use crate::report::cow::Card;
use crate::report::farm::Farm;
use crate::report::list::morning::ListSection;
use crate::report::list::text::{due, withdrawal};
use crate::report::pages::query::{pairs, query_value};
use crate::report::pages::render::{Page, View};
use crate::report::trim::case_line::summary;
use crate::report::trim::visit_sheet::{COLUMNS, Sheet};
use crate::report::words::Words;
use crate::store::Store;
use jiff::civil::Date;
use serde_json::json;
use shared::plate::Leg;
use std::collections::BTreeSet;

/// The lesions with a button of their own; the others are in a list. Our choice: those with a source, commonest first.
const BUTTONS: [&str; 8] = ["WL", "SU", "DD", "SH", "IP", "HHE", "IH", "TU"];
/// Where in a foot.
const CLAWS: [&str; 3] = ["outer", "inner", "both"];
/// What may be done with a tap.
const DONE: [&str; 4] = ["trim", "horn_removed", "drained", "dressing"];

impl View<'_> {
    /// Without a number, a page that asks for one.
    pub(super) fn crush(&self, farm: &Farm, store: &Store, query: &str) -> Page {
        let Some(word) = query_value(query, "id").filter(|word| !word.trim().is_empty()) else {
            return self.page("crush.html", json!({ "asks": true, "waiting": self.waiting(farm, store) }));
        };
        let animal = match self.animal(farm, Some(&word), "/crush?id=") {
            Ok(animal) => animal,
            Err(page) => return page,
        };
        if !farm.directory.has(&animal) {
            return self.problem(404, "page-no-animal");
        }
        let words = self.words();
        let cases = store.cases(Some(&animal)).unwrap_or_default();
        let last = cases.iter().rev().find(|kept| kept.withdrawn.is_none());
        let names = &farm.directory.names;
        let code = |code: &str| (code.to_owned(), words.text(&format!("lesion-{code}")));
        let others = CODES.iter().map(|known| known.code).filter(|known| !BUTTONS.contains(known));
        let zones: Vec<_> =
            (0..=Zone::LAST).filter_map(Zone::new).map(|zone| (zone.number(), zone.place())).collect();
        let today = self.viewer().today.max(farm.date);
        self.page(
            "crush.html",
            json!({
                "id": animal.0,
                "animal": names.long(&animal),
                "first": farm.card(&animal, None).as_ref().map(|card| first(card, words)),
                "last": last.map(|kept| summary(kept, names, words)),
                "kept": query_value(query, "kept").is_some(),
                "legs": Leg::ALL.map(|leg| (leg.name(), words.leg_letters(leg))),
                "claws": CLAWS.map(|claw| (claw, words.text(&format!("claw-{claw}")))),
                "lesions": BUTTONS.map(code),
                "other_lesions": others.map(code).collect::<Vec<_>>(),
                "done": DONE.map(|done| (done, words.text(&format!("case-{done}")))),
                "zones": zones,
                "today": today,
            }),
        )
    }

    /// The cows that wait for the crush, in the order of the list, and whether each has been entered today.
    fn waiting(&self, farm: &Farm, store: &Store) -> Vec<serde_json::Value> {
        let (list, words) = (farm.morning(None), self.words());
        let today = self.viewer().today.max(farm.date);
        let cases = store.cases(None).unwrap_or_default();
        let entered: BTreeSet<&AnimalId> = cases
            .iter()
            .filter(|kept| kept.withdrawn.is_none())
            .filter(|kept| kept.case.date == today || kept.follow_ups.iter().any(|look| look.date == today))
            .map(|kept| &kept.case.animal)
            .collect();
        let to_check = [ListSection::ToCheck, ListSection::AfterCapacity, ListSection::LongLame]
            .into_iter()
            .flat_map(|section| list.section(section))
            .map(|cow| {
                (&cow.animal_id, format!("{} {}", words.flag(cow.flag), words.place_letters(cow.row.place)))
            });
        let booked = farm.marks.booked().map(|animal| (animal, words.text("mark-booked")));
        let due = list.rechecks.iter().map(|one| (&one.animal_id, due(one, list.date, words)));
        let mut waiting: Vec<(&AnimalId, String)> = Vec::new();
        for (animal, why) in to_check.chain(booked).chain(due) {
            match waiting.iter_mut().find(|(known, _)| *known == animal) {
                Some((_, said)) => *said = format!("{said}; {why}"),
                None => waiting.push((animal, why)),
            }
        }
        let names = &farm.directory.names;
        let shown = |(animal, why): (&AnimalId, String)| json!({ "id": animal.0, "cow": names.short(animal), "why": why, "entered": entered.contains(animal) });
        waiting.into_iter().map(shown).collect()
    }

    /// The sheet of a visit: what was entered of a day.
    #[must_use]
    pub fn visit(&self, store: &Store, date: Option<Date>) -> Page {
        let words = self.words();
        let Ok(sheet) = Sheet::of(store, date.unwrap_or(self.viewer().today)) else {
            return self.problem(503, "page-busy");
        };
        let names = store.names().unwrap_or_default();
        let named = |open: &Withdrawal| (names.short(&open.animal_id), withdrawal(open, words));
        let withdrawals: Vec<_> = sheet.withdrawals.iter().map(named).collect();
        self.page(
            "visit.html",
            json!({
                "date": sheet.date, "title": sheet.title(words), "columns": COLUMNS.map(|id| words.text(id)),
                "lines": sheet.lines(words).collect::<Vec<_>>(), "withdrawals": withdrawals,
                "veterinarian": sheet.for_the_veterinarian(words), "caution": words.text("caution-crush"),
            }),
        )
    }

    /// What stands against a case that was sent, with the form to send it again where it may be so.
    #[must_use]
    pub fn against(&self, animal: &AnimalId, what: &[Objection], may_be_so: bool, form: &str) -> Page {
        let fields: Vec<_> = pairs(form).filter(|(name, _)| !matches!(*name, "token" | "sure")).collect();
        let values = json!({
            "title": self.words().text("page-against"),
            "id": animal.0,
            "against": what.iter().map(|one| self.words().finding(one)).collect::<Vec<_>>(),
            "may_be_so": may_be_so,
            "fields": fields,
        });
        Page { status: 422, ..self.page("problem.html", values) }
    }
}

/// The leg to begin with, and why.
fn first(card: &Card, words: &Words) -> serde_json::Value {
    let row = card.latest.as_ref().filter(|row| row.flag >= Flag::Watch);
    json!({
        "leg": row.map(|row| words.place(row.place)),
        "class": row.map_or("clear", |row| row.flag.name()),
        "flag": card.latest.as_ref().map(|row| words.flag(row.flag)),
        "why": row.map_or_else(Vec::new, |row| row.reasons.iter().map(|reason| words.finding(reason)).collect()),
    })
}
