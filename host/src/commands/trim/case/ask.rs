//! Questions at the crush: typed, a letter or two each, so that no arrow key is needed with dirty gloves.

use crate::record::case::lesion::{CODES, Lesion, LesionCode};
use crate::record::case::{BlockSeen, Case, Claw, Course, FollowUp, height_left};
use crate::report;
use crate::report::words::Words;
use dialoguer::Input;
use std::io::Write;

fn typed(prompt: String) -> anyhow::Result<String> {
    Ok(Input::<String>::new().with_prompt(prompt).allow_empty(true).interact_text()?.trim().to_owned())
}

/// Asks until `take` takes the answer.
fn until<T>(prompt: String, mut take: impl FnMut(&str) -> Result<T, String>) -> anyhow::Result<T> {
    loop {
        match take(&typed(prompt.clone())?) {
            Ok(answer) => return Ok(answer),
            Err(why) => writeln!(report::notes(), "{why}")?,
        }
    }
}

/// The word of a list that begins with the answer.
fn beginning(answer: &str, words: &[&'static str]) -> Result<Option<&'static str>, String> {
    if answer.is_empty() {
        return Ok(None);
    }
    let mut found = words.iter().filter(|word| word.starts_with(&answer.to_ascii_lowercase()));
    match (found.next(), found.next()) {
        (Some(word), None) => Ok(Some(word)),
        _ => Err(format!("one of: {}", words.join(", "))),
    }
}

fn set(case: &mut Case, name: &str, value: &str) -> Result<(), String> {
    case.set_field(name, value).map_err(|error| error.to_string())
}

/// What the command line gave already and is not asked for.
#[derive(Clone, Copy, Debug, Default)]
#[allow(clippy::struct_excessive_bools, reason = "one for each question")]
pub struct Given {
    pub leg: bool,
    pub lesion: bool,
    pub claw: bool,
    pub zone: bool,
    pub block: bool,
    pub done: bool,
    pub pain_relief: bool,
}

/// Asks for what the line did not say.
pub fn case(case: &mut Case, given: Given, words: &Words) -> anyhow::Result<()> {
    let ask = |id: &str| words.text(&format!("ask-{id}"));
    if !given.leg {
        until(ask("leg"), |answer| set(case, "leg", answer))?;
    }
    if case.leg.is_none() {
        return Ok(());
    }
    if !given.lesion {
        until(ask("lesion"), |answer| lesion(case, answer, words))?;
    }
    if case.lesion.is_none() {
        return Ok(());
    }
    if !given.claw {
        until(ask("claw"), |answer| {
            let word = beginning(answer, &["outer", "inner", "both"])?;
            set(case, "claw", word.unwrap_or_default())
        })?;
    }
    if !given.zone {
        until(ask("zone"), |answer| set(case, "zone", answer))?;
    }
    if case.lesion.as_ref().is_some_and(|l| l.as_str() == "DD") && case.stage.is_none() {
        until(ask("stage"), |answer| set(case, "dd_stage", answer))?;
    }
    if !given.done {
        until(ask("done"), |answer| done(case, answer))?;
    }
    if let Some(beside) = case.claw.and_then(Claw::beside).filter(|_| !given.block) {
        let prompt = words.say("ask-block", serde_json::json!({ "claw": beside.name() }));
        until(prompt, |answer| block(case, beside, answer))?;
    }
    if !given.pain_relief {
        pain_relief(case, words)?;
    }
    Ok(())
}

fn lesion(case: &mut Case, answer: &str, words: &Words) -> Result<(), String> {
    let lesion = Lesion::from_text(answer);
    if answer == "?" || lesion.as_ref().is_some_and(|lesion| lesion.slip() == Some(None)) {
        return Err(codes(words));
    }
    case.lesion = lesion;
    Ok(())
}

/// The codes, one a line.
pub fn codes(words: &Words) -> String {
    let line =
        |code: &LesionCode| format!("{:<4} {}\n", code.code, words.text(&format!("lesion-{}", code.code)));
    CODES.iter().map(line).collect::<String>() + &words.text("ask-codes-else")
}

fn done(case: &mut Case, answer: &str) -> Result<(), String> {
    let t = &mut case.treatment;
    (t.horn_removed, t.drained, t.dressing) = (false, false, false);
    for letter in answer.chars().filter(|c| c.is_alphanumeric()) {
        match letter.to_ascii_lowercase() {
            'h' => t.horn_removed = true,
            'd' => t.drained = true,
            'w' => t.dressing = true,
            _ => return Err(format!("{letter:?} is none of h, d, w")),
        }
    }
    Ok(())
}

fn block(case: &mut Case, under: Claw, answer: &str) -> Result<(), String> {
    if answer.is_empty() {
        return Ok(());
    }
    set(case, "block_claw", under.name())?;
    if answer == "0" { Ok(()) } else { set(case, "block_height_mm", answer) }
}

fn pain_relief(case: &mut Case, words: &Words) -> anyhow::Result<()> {
    let who = typed(words.text("ask-pain_relief"))?;
    if who.is_empty() {
        return Ok(());
    }
    case.medicine.pain_relief = Some(true);
    case.medicine.prescribed_by = Some(who);
    for field in ["milk_withdrawal_end", "meat_withdrawal_end"] {
        until(words.text(&format!("ask-{field}")), |answer| set(case, field, answer))?;
    }
    Ok(())
}

/// Asks for what was seen at a second look.
pub fn follow_up(look: &mut FollowUp, blocked: bool, words: &Words) -> anyhow::Result<()> {
    if blocked && look.block.is_none() {
        look.block = until(words.text("ask-seen-block"), |answer| {
            Ok(beginning(answer, &["on", "lost", "off"])?.and_then(BlockSeen::from_name))
        })?;
    }
    if look.block == Some(BlockSeen::On) && look.height_mm.is_none() {
        look.height_mm = until(words.text("ask-seen-height"), |answer| match answer {
            "" => Ok(None),
            _ => height(answer).map(Some),
        })?;
    }
    if look.course.is_none() {
        look.course = until(words.text("ask-seen-course"), |answer| {
            Ok(beginning(answer, &Course::ALL.map(Course::name))?.and_then(Course::from_name))
        })?;
    }
    Ok(())
}

/// A height left, mm.
pub fn height(text: &str) -> Result<f64, String> {
    height_left(text).ok_or_else(|| format!("{text:?} is not a height in mm"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::AnimalId;
    use jiff::civil::date;

    fn fresh() -> Case {
        Case::new(AnimalId("412".into()), date(2026, 3, 2))
    }

    #[test]
    fn a_letter_is_enough_and_a_wrong_one_is_not_taken() {
        assert_eq!(beginning("O", &["outer", "inner", "both"]), Ok(Some("outer")));
        assert_eq!(beginning("", &["outer"]), Ok(None));
        assert!(beginning("o", &["on", "lost", "off"]).is_err());
        assert!(beginning("x", &["on"]).is_err());
    }

    #[test]
    fn a_slip_in_a_code_is_no_lesion() {
        let words = Words::new(crate::report::words::Language::English);
        let mut case = fresh();
        assert!(lesion(&mut case, "su", &words).is_ok());
        assert_eq!(case.lesion.as_ref().map(Lesion::as_str), Some("SU"));
        assert!(lesion(&mut case, "us", &words).unwrap_err().contains("sole ulcer"));
        assert!(lesion(&mut case, "stone in the cleft", &words).is_ok());
        assert!(lesion(&mut case, "", &words).is_ok() && case.lesion.is_none());
    }

    #[test]
    fn a_block_needs_no_height_and_no_wrong_one_is_taken() {
        let mut case = fresh();
        assert!(block(&mut case, Claw::Inner, "").is_ok() && case.treatment.block.is_none());
        assert!(block(&mut case, Claw::Inner, "0").is_ok() && case.treatment.block.is_some());
        assert!(block(&mut case, Claw::Inner, "twenty").is_err());
        assert!(block(&mut case, Claw::Inner, "20").is_ok());
        assert_eq!(case.field("block_height_mm"), "20");
    }

    #[test]
    fn what_else_was_done_is_a_letter_each() {
        let mut case = fresh();
        assert!(done(&mut case, "hw").is_ok());
        assert!(case.treatment.horn_removed && case.treatment.dressing && !case.treatment.drained);
        assert!(done(&mut case, "q").is_err());
    }
}
