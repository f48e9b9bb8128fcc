//! Both catalogues are whole, say the same, and hold nothing that nobody says.

use crate::record::case::Claw;
use crate::record::finding::*;
use crate::report::words::{Language, Words};
use fluent_syntax::ast::{Entry, Expression, InlineExpression, Pattern, PatternElement};
use jiff::civil::{Date, date};
use serde_json::json;
use shared::plate::{Leg, Pair, Plate};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use strum::IntoEnumIterator;

/// The ids of a catalogue and the variables each uses.
fn messages(language: Language) -> BTreeMap<String, BTreeSet<String>> {
    let resource = fluent_syntax::parser::parse(language.source()).expect("a catalogue parses");
    let mut found = BTreeMap::new();
    for entry in resource.body {
        if let Entry::Message(message) = entry {
            let mut variables = BTreeSet::new();
            let attributes = message.attributes.iter().map(|attribute| &attribute.value);
            for pattern in message.value.iter().chain(attributes) {
                of_pattern(pattern, &mut variables);
            }
            assert!(
                found.insert(message.id.name.to_owned(), variables).is_none(),
                "{} twice",
                message.id.name
            );
        }
    }
    found
}

fn of_pattern(pattern: &Pattern<&str>, variables: &mut BTreeSet<String>) {
    for element in &pattern.elements {
        let PatternElement::Placeable { expression } = element else { continue };
        match expression {
            Expression::Inline(inline) => of_inline(inline, variables),
            Expression::Select { selector, variants } => {
                of_inline(selector, variables);
                variants.iter().for_each(|variant| of_pattern(&variant.value, variables));
            }
        }
    }
}

fn of_inline(inline: &InlineExpression<&str>, variables: &mut BTreeSet<String>) {
    match inline {
        InlineExpression::VariableReference { id } => {
            variables.insert(id.name.to_owned());
        }
        InlineExpression::FunctionReference { arguments, .. } => {
            arguments.positional.iter().for_each(|argument| of_inline(argument, variables));
        }
        _ => {}
    }
}

#[test]
fn the_languages_hold_the_same_messages_with_the_same_values() {
    let english = messages(Language::English);
    for language in Language::iter() {
        let other = messages(language);
        assert_eq!(english.keys().collect::<Vec<_>>(), other.keys().collect::<Vec<_>>(), "{language:?}");
        for (id, variables) in &english {
            assert_eq!(variables, &other[id], "{language:?}: {id}");
        }
    }
}

fn sources(folder: &std::path::Path, text: &mut String) {
    for entry in std::fs::read_dir(folder).unwrap().flatten() {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, text);
        } else if path.extension().is_some_and(|kind| kind == "rs" || kind == "html") {
            text.push_str(&std::fs::read_to_string(path).unwrap());
        }
    }
}

/// Ids put together from a beginning and a name.
const BEGINNINGS: [&str; 34] = [
    "claw-",
    "seen-",
    "reason-",
    "advice-",
    "event-",
    "fault-",
    "lane-",
    "verdict-",
    "course-",
    "recheck-",
    "look_for-",
    "mark-",
    "group-",
    "lesion-",
    "leg-",
    "flag-",
    "confidence-",
    "compare-column-",
    "cow-column-",
    "role-",
    "calendar-",
    "page-pair-",
    "step-",
    "check-column-",
    "check-measure-",
    "quality-",
    "gain-",
    "field-",
    "ask-",
    "entry-",
    "against-",
    "case-column-",
    "gate-outcome-",
    "gate-reason-",
];

#[test]
fn no_message_is_left_that_nobody_says() {
    let mut text = String::new();
    let source = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    ["report", "serve", "tell", "commands"]
        .into_iter()
        .for_each(|folder| sources(&source.join(folder), &mut text));
    for id in messages(Language::English).keys() {
        let made = BEGINNINGS.iter().any(|beginning| id.starts_with(beginning));
        let level = id.starts_with("level-");
        let said = text.contains(&format!("\"{id}\"")) || id == "moment";
        assert!(made || level || said, "{id} is said nowhere");
    }
}

fn has_all<F: Finding>(words: &Words) {
    for code in F::VARIANTS {
        let id = format!("{}-{code}", F::KIND);
        assert!(words.has(&id), "{:?} has no words for {id}", words.language());
    }
}

#[test]
fn every_finding_has_words_in_every_language() {
    for language in Language::iter() {
        let words = Words::new(language);
        has_all::<FlagReason>(&words);
        has_all::<Advice>(&words);
        has_all::<DayEvent>(&words);
        has_all::<LaneRemark>(&words);
        has_all::<LaneFault>(&words);
        has_all::<LaneGain>(&words);
        for reason in shared::analysis::Reason::ALL {
            assert!(words.has(&format!("quality-{}", reason.name())), "{language:?}: {reason:?}");
        }
        has_all::<Verdict>(&words);
        has_all::<CourseReason>(&words);
        has_all::<RecheckReason>(&words);
        has_all::<LookFor>(&words);
        has_all::<GroupFinding>(&words);
        has_all::<Objection>(&words);
        for (code, _) in crate::record::case::lesion::CODES.iter().map(|code| (code.code, code.name)) {
            assert!(words.has(&format!("lesion-{code}")), "{language:?}: {code}");
        }
    }
}

const DAY: Date = date(2026, 11, 22);

/// Findings whose words hold every kind of value; in debug builds a value that a message misses is an error.
#[test]
fn findings_are_said_with_their_values() {
    let words = Words::new(Language::English);
    let low = FlagReason::ShareLow { leg: Leg::LR, now_pct: 17.84, usual_pct: 24.56, sd: 4.1 };
    assert_eq!(words.finding(&low), "takes weight off LR: it carries 17.8 % of her weight, usually 24.6 %");
    assert!(words.with_detail(&low).ends_with("(4.1 SD)"));
    let block = FlagReason::BlockOn { leg: Some(Leg::LR), days: 7 };
    assert_eq!(
        words.finding(&block),
        "LR has had a block for 7 days. A block alone shifts load, so this pair is not judged."
    );
    let peak = FlagReason::PeakLow { leg: Leg::RR, other: Leg::LR, now_pct: -12.4, usual_pct: 3.0, sd: 3.0 };
    assert_eq!(
        words.finding(&peak),
        "treads lighter on RR when walking: compared with LR 12 % less, usually 3 % more"
    );
    let sway = FlagReason::Sway { pair: Pair::Rear, change_pct: -0.4, sd: -2.0 };
    assert_eq!(words.finding(&sway), "sways as much as usual on her hind legs");
    let load = Load { pct: -19.0, low_pct: -23.0, high_pct: 0.2 };
    let course = CourseReason::LessThanBefore { leg: Leg::LF, now: load, before: load };
    assert_eq!(
        words.finding(&course),
        "LF now carries 19 % less than usual (23 % less to the same); before the work 19 % less"
    );
    let lesion = LookFor::Lesion { lesion: "WL".into(), claw: Some(Claw::Outer), zone: Some(3) };
    assert_eq!(words.finding(&lesion), "outer claw: white line disease in zone 3");
    let own = LookFor::Lesion { lesion: "a stone".into(), claw: None, zone: None };
    assert_eq!(words.finding(&own), "a stone");
    let since = Since { date: DAY, time: Some("14:05".into()) };
    let fault = LaneFault::PlateDirty { plate: Plate::LF, empty_kg: 7.25, since };
    assert_eq!(
        words.lane_fault(&fault),
        "plate LF carries 7.2 kg empty (since 14:05): clean on and under it"
    );
}

#[test]
fn german_has_its_own_letters_decimals_and_days() {
    let words = Words::new(Language::German);
    let low = FlagReason::ShareLow { leg: Leg::LR, now_pct: 17.84, usual_pct: 24.56, sd: 4.1 };
    assert_eq!(words.finding(&low), "entlastet HL: trägt 17,8 % ihres Gewichts, sonst 24,6 %");
    assert_eq!(words.day(DAY), "22. Nov.");
    assert_eq!(words.long_day(DAY), "So, 22. Nov. 2026");
    assert_eq!(
        words.say("list-judged", json!({ "judged": 1234, "not_judged": 0 })),
        "Beurteilt: 1.234 Kühe; 0 nicht zu beurteilen."
    );
}

#[test]
fn a_code_its_leg_and_its_values() {
    let low = FlagReason::ShareLow { leg: Leg::LR, now_pct: 17.84, usual_pct: 24.56, sd: 4.123_456 };
    assert_eq!(
        serde_json::to_value(coded(&low)).unwrap(),
        json!({ "code": "share_low", "leg": "LR", "values": { "now_pct": 17.84, "usual_pct": 24.56, "sd": 4.1235 } })
    );
    assert_eq!(coded(&low).to_string(), "share_low(LR, now_pct=17.84, sd=4.1235, usual_pct=24.56)");
    let none = coded(&FlagReason::AsWhenSound);
    assert_eq!((none.code.as_str(), none.leg, none.values.len()), ("as_when_sound", None, 0));
}

#[test]
fn nobody_is_ever_certain_and_nothing_is_minus_zero() {
    let words = Words::new(Language::English);
    assert_eq!(words.percent(0.0), "under 1 %");
    assert_eq!(words.percent(0.996), "over 99 %");
    assert_eq!(words.percent(0.994), "99 %");
    assert_eq!(words.number(-0.04, 1), "0.0");
    assert_eq!(words.number(-0.06, 1), "-0.1");
    assert_eq!(words.number(12_345.6, 0), "12,346");
    assert_eq!(words.say("span-0", json!({ "value": -0.3, "low": -2.0, "high": 0.6 })), "0 (-2 to +1)");
}

#[test]
fn since_when() {
    let words = Words::new(Language::English);
    let today = date(2026, 11, 24);
    let at = |d| date(2026, 11, d);
    assert_eq!(
        words.since(Some((at(20), at(22), at(23))), today),
        "since 22 Nov (between 20 Nov and 23 Nov), 2 days"
    );
    assert_eq!(words.since(Some((at(24), at(24), at(24))), today), "since 24 Nov, today");
    assert_eq!(words.since(None, today), "since when is not clear");
}

#[test]
fn a_withdrawal_says_what_must_not_go_out() {
    let words = Words::new(Language::English);
    let say = |milk, meat| words.say("withdrawal", json!({ "milk": milk, "meat": meat }));
    let both = say(Some(DAY), Some(date(2026, 11, 30)));
    assert_eq!(both, "no milk up to and with Sun 22 Nov 2026; no meat up to and with Mon 30 Nov 2026");
    assert_eq!(say(Some(DAY), None), "no milk up to and with Sun 22 Nov 2026");
    assert_eq!(say(None, Some(DAY)), "no meat up to and with Sun 22 Nov 2026");
}

/// The codes of a kind with the message of each, as a table.
fn codes_of<F: Finding>(title: &str, out: &mut String) {
    let source = Language::English.source();
    let _ = write!(out, "\n## {title}\n\n| code | in English |\n|---|---|\n");
    for code in F::VARIANTS {
        let start = format!("\n{}-{code} = ", F::KIND);
        let message = source.split(&start).nth(1).expect("every finding has words");
        let end = message.match_indices('\n').find(|(at, _)| {
            message[at + 1..]
                .starts_with(|next: char| next.is_ascii_alphabetic() || next == '\n' || next == '#')
        });
        let message =
            message[..end.map_or(message.len(), |(at, _)| at)].split(".detail =").next().unwrap_or_default();
        let words = message.split_whitespace().collect::<Vec<_>>().join(" ").replace('|', "\\|");
        let _ = writeln!(out, "| `{code}` | {words} |");
    }
}

/// `UPDATE_SHOWN=1 cargo test -p host --lib words` writes the list anew.
#[test]
fn the_list_of_codes_in_the_docs_is_whole() {
    let mut out = String::from(
        "# Codes of findings\n\nIn JSON a finding is `{\"code\", \"leg\", \"values\"}`; in a cell of a table \
         `code(leg, name=value, ...)`. A code never\nchanges its meaning; units are in the names of the values. Names after `$` \
         are the values; those of the English words, as in\n`src/report/words/en/`. Made by a test from the program \
         itself.\n",
    );
    codes_of::<FlagReason>("Why a cow has her flag (`reasons`)", &mut out);
    codes_of::<Advice>("What would settle it (`advice`)", &mut out);
    codes_of::<DayEvent>("What happened on a day (`events`)", &mut out);
    codes_of::<LaneRemark>("The lane, as the score sees it (`lane`, `remark`)", &mut out);
    codes_of::<LaneFault>("What is wrong with a lane (`fault`)", &mut out);
    codes_of::<LaneGain>("What would make a lane see more (`gains`)", &mut out);
    codes_of::<Verdict>("How a case is going (`verdict`)", &mut out);
    codes_of::<CourseReason>("Why (`verdict.reason`)", &mut out);
    codes_of::<RecheckReason>("Why a recheck is due (`reason`, `sooner`)", &mut out);
    codes_of::<LookFor>("What to do or look for (`look_for`)", &mut out);
    codes_of::<GroupFinding>("Many cases (`finding`)", &mut out);
    codes_of::<Objection>("What stands against an entry (`odd`, `what` of `problems`)", &mut out);
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/CODES.md");
    if std::env::var_os("UPDATE_SHOWN").is_some() {
        std::fs::write(path, &out).unwrap();
    }
    assert_eq!(std::fs::read_to_string(path).unwrap_or_default(), out);
}
