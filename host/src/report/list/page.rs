//! The list on one sheet of paper: a line a cow to check, and each other group in a line.

use crate::record::AnimalId;
use crate::report::list::morning::{ListSection, Listed, Morning};
use crate::report::list::text::{
    head, heading, lane_note, nothing, said_of_groups, short, some, withdrawals,
};
use crate::report::text::wrapped;
use crate::report::words::Words;
use serde_json::json;
use std::collections::BTreeSet;
use std::fmt::Write;

/// The sheet. A cow stands on it once, where it matters most; a box to tick stands before what is to be done.
#[must_use]
pub fn render(list: &Morning, farm: &str, words: &Words) -> String {
    let mut out = String::new();
    head(&mut out, list, farm, words);
    withdrawals(&mut out, &list.withdrawals, &list.names, words);
    let mut said: BTreeSet<AnimalId> = BTreeSet::new();
    let today: Vec<&Listed> = list.section(ListSection::ToCheck).collect();
    if today.is_empty() {
        let (title, why) = nothing(list, words);
        heading(&mut out, &title);
        wrapped(&mut out, "  ", &why);
    } else {
        let all = today.len() + list.section(ListSection::AfterCapacity).count();
        let all = (all > today.len()).then_some(all);
        heading(&mut out, &words.say("list-check-title", json!({ "now": today.len(), "all": all })));
    }
    for cow in today {
        said.insert(cow.animal_id.clone());
        let why = cow.reasons.first().map_or_else(String::new, |reason| words.finding(reason));
        let since =
            words.since(cow.row.since.map(|(_, likeliest, _)| (likeliest, likeliest, likeliest)), cow.date);
        // A reason may be sentences; the line goes on after it.
        let line = format!("{}; {}; {since}", words.flag(cow.flag), why.trim_end_matches('.'));
        wrapped(&mut out, &format!("[ ] {:<16} ", short(cow, &list.names, words)), &line);
    }
    let _ = writeln!(out);
    let mut group = |out: &mut String, title: &str, cows: Vec<(&AnimalId, String)>| {
        let names: Vec<String> = cows
            .into_iter()
            .filter(|(animal, _)| said.insert((*animal).clone()))
            .map(|(_, name)| name)
            .collect();
        if !names.is_empty() {
            wrapped(out, "", &format!("{title}: {}", some(&names, words)));
        }
    };
    let due = list.rechecks.iter().map(|due| {
        let place = format!("{} {}", list.names.short(&due.animal_id), words.letters_of(due.leg));
        (&due.animal_id, place.trim_end().to_owned())
    });
    group(&mut out, &words.text("list-rechecks-title"), due.collect());
    let mut section = |out: &mut String, section, title: &str| {
        let cows = list.section(section).map(|cow| (&cow.animal_id, short(cow, &list.names, words)));
        group(out, &words.text(title), cows.collect());
    };
    section(&mut out, ListSection::AfterCapacity, "list-page-after");
    section(&mut out, ListSection::LongLame, "list-long-title");
    section(&mut out, ListSection::UnderTreatment, "list-treated-title");
    section(&mut out, ListSection::Watch, "list-watch-title");
    said_of_groups(list, words).iter().for_each(|said| wrapped(&mut out, "", said));
    let away = list.not_seen.iter().map(|cow| (&cow.animal_id, list.names.short(&cow.animal_id)));
    group(&mut out, &words.text("list-not-seen-title"), away.collect());
    let unsure = list.not_judged.iter().flat_map(|group| &group.animals);
    let unsure: Vec<String> =
        unsure.filter(|animal| !said.contains(*animal)).map(|animal| list.names.short(animal)).collect();
    if !unsure.is_empty() {
        let title = words.say("list-not-judged-title", json!({ "count": unsure.len() }));
        wrapped(&mut out, "", &format!("{title}: {}", some(&unsure, words)));
    }
    list.lane.iter().for_each(|note| wrapped(&mut out, "", &lane_note(note, words)));
    let _ = writeln!(out);
    wrapped(&mut out, "", &words.text("caution-vet"));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Flag;
    use crate::report::invented::{cow_day, morning_input};
    use crate::report::list::MorningInput;
    use crate::report::words::Language;
    use jiff::civil::date;

    /// Lines of 10 points on a sheet of A4 with usual margins.
    const SHEET: usize = 60;

    #[test]
    fn a_herd_of_a_hundred_fits_one_sheet_and_nobody_stands_on_it_twice() {
        let today = date(2026, 3, 20);
        let flags = [Flag::Check, Flag::Urgent, Flag::Watch, Flag::CannotTell, Flag::NoData];
        let mut days = Vec::new();
        for cow in 0..100 {
            let mut day = cow_day(&format!("{}", 100 + cow), today, flags[cow % 5]);
            day.block_on = cow % 7 == 0;
            days.push(day);
        }
        let list = Morning::new(&MorningInput { days: &days, capacity: 10, ..morning_input(today) });
        let sheet = anstream::adapter::strip_str(&render(&list, "Hill End", &Words::new(Language::English)))
            .to_string();
        assert!(
            sheet.lines().count() <= SHEET && sheet.lines().all(|line| line.chars().count() <= 80),
            "{sheet}"
        );
        for cow in 100..200 {
            let name = cow.to_string();
            let words = sheet.split(|c: char| !c.is_ascii_digit()).filter(|word| *word == name).count();
            assert!(words <= 1, "{name} {words} times: {sheet}");
        }
        assert!(sheet.contains("[ ] 101"), "{sheet}");
        assert!(!sheet.contains(".;"), "{sheet}");
    }
}
