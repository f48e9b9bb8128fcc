//! One line of a visit: a foot, a later look, or a word to the program.
//!
//! The order is that of `case add`: leg, claw, lesion, then what was done. `lro wla dbi` is a white line abscess of the
//! left rear's outer claw, drained, with a block under the inner one.

use crate::commands::trim::case::fields::written;
use crate::record::case::lesion::Lesion;
use crate::record::case::{BlockSeen, Case, Claw, Course, FollowUp, height_left};
use crate::record::day_words::DayOrder;
use shared::plate::Leg;

/// What a line says.
#[derive(Clone, Debug, PartialEq)]
pub enum Line {
    /// What was found and done on a foot, or on all feet.
    Work(Box<Case>),
    /// A later look at a treated foot.
    Look(Leg, FollowUp),
    /// The next cow, with or without an entry for this one.
    Next,
    /// The cow before this one.
    Back,
    /// The last entry goes again.
    Undo,
    /// Fields of the last entry, and what they should be.
    Correct(Vec<(String, String)>),
    /// The visit so far.
    Sheet,
    /// The lesion codes.
    Codes,
    /// What can be written.
    Help,
    /// The visit is over.
    End,
}

/// Most words of a lesion's name.
const NAME_WORDS: usize = 4;

/// Reads a line about a cow.
///
/// # Errors
/// What is not understood, in words.
pub fn read(text: &str, fresh: &Case, order: Option<DayOrder>) -> Result<Line, String> {
    let words = split(text)?;
    let Some((first, rest)) = words.split_first() else { return Ok(Line::Next) };
    if first.quoted {
        return Err("begin with the leg: lf, rf, lr, rr, or all".to_owned());
    }
    match first.text.to_lowercase().as_str() {
        "skip" | "next" => return Ok(Line::Next),
        "back" => return Ok(Line::Back),
        "undo" => return Ok(Line::Undo),
        "sheet" => return Ok(Line::Sheet),
        "codes" => return Ok(Line::Codes),
        "?" | "help" => return Ok(Line::Help),
        "end" | "quit" | "exit" => return Ok(Line::End),
        "correct" => {
            let pair = |word: &Word| {
                let (name, value) = word.text.split_once('=').ok_or("write correct FIELD=VALUE")?;
                Ok::<_, String>((name.to_owned(), written(name, value, fresh.date, order)))
            };
            let pairs: Vec<_> = rest.iter().map(pair).collect::<Result<_, _>>()?;
            return if pairs.is_empty() {
                Err("write correct FIELD=VALUE".to_owned())
            } else {
                Ok(Line::Correct(pairs))
            };
        }
        _ => {}
    }
    let mut case = fresh.clone();
    if first.text.eq_ignore_ascii_case("all") {
        done(&mut case, rest, order)?;
        return Ok(Line::Work(Box::new(case)));
    }
    let (leg, claw) = leg_and_claw(&first.text)?;
    case.leg = Some(leg);
    let (claw, rest) = match (claw, rest.split_first()) {
        (None, Some((word, after))) if !word.quoted => match claw_of(&word.text) {
            Some(claw) => (Some(claw), after),
            None => (None, rest),
        },
        _ => (claw, rest),
    };
    if let Some(look) = look(rest, fresh)? {
        return Ok(Line::Look(leg, look));
    }
    let rest = lesion(&mut case, rest)?;
    case.claw = claw;
    if case.lesion.is_some() && claw.is_none() {
        return Err(format!("which claw of {}: o outer, i inner, b both", leg.name()));
    }
    done(&mut case, rest, order)?;
    Ok(Line::Work(Box::new(case)))
}

/// A word, or what stood between quotes.
struct Word {
    text: String,
    quoted: bool,
}

fn split(text: &str) -> Result<Vec<Word>, String> {
    let mut words = Vec::new();
    for (place, part) in text.split('\'').enumerate() {
        if place % 2 == 1 {
            words.push(Word { text: part.trim().to_owned(), quoted: true });
        } else {
            let plain = part.split([' ', '\t', ',', ';']).filter(|word| !word.is_empty());
            words.extend(plain.map(|word| Word { text: word.to_owned(), quoted: false }));
        }
    }
    if text.matches('\'').count() % 2 == 1 { Err("a quote has no end".to_owned()) } else { Ok(words) }
}

fn leg_and_claw(text: &str) -> Result<(Leg, Option<Claw>), String> {
    let no_leg = || format!("{text:?} is no leg: lf, rf, lr, rr, or all");
    let (leg, claw) = text.split_at_checked(2).ok_or_else(no_leg)?;
    let leg = Leg::from_name(&leg.to_uppercase()).ok_or_else(no_leg)?;
    match claw {
        "" => Ok((leg, None)),
        claw => Ok((leg, Some(claw_of(claw).ok_or_else(no_leg)?))),
    }
}

fn claw_of(text: &str) -> Option<Claw> {
    match text.to_lowercase().as_str() {
        "o" => Some(Claw::Outer),
        "i" => Some(Claw::Inner),
        "b" => Some(Claw::Both),
        word => Claw::from_name(word),
    }
}

/// A later look: only words of a look, the block's or the foot's, and a height.
fn look(words: &[Word], fresh: &Case) -> Result<Option<FollowUp>, String> {
    let mut look = FollowUp {
        date: fresh.date,
        block: None,
        height_mm: None,
        course: None,
        note: None,
        who: fresh.who.clone(),
    };
    let course = |text: &str| {
        let mut fits =
            Course::ALL.into_iter().filter(|course| text.len() >= 3 && course.name().starts_with(text));
        fits.next()
    };
    for word in words {
        let text = word.text.to_lowercase();
        if word.quoted {
            look.note = Some(word.text.clone());
        } else if let Some(block) = BlockSeen::from_name(&text) {
            look.block = Some(block);
        } else if let Some(course) = course(&text) {
            look.course = Some(course);
        } else if let Some(height) = text.strip_suffix("mm").and_then(height_left) {
            look.height_mm = Some(height);
        } else if look.block.is_some() || look.course.is_some() {
            return Err(format!("{:?} is not understood in a later look", word.text));
        } else {
            return Ok(None);
        }
    }
    Ok((look.block.is_some() || look.course.is_some()).then_some(look))
}

/// The lesion: a code, its name in as many words as it has, `none`, or own words in quotes.
fn lesion<'w>(case: &mut Case, words: &'w [Word]) -> Result<&'w [Word], String> {
    let Some(first) = words.first() else {
        return Err("say the lesion, or none: ? shows how, codes the codes".to_owned());
    };
    if first.quoted {
        case.lesion = Lesion::from_text(&first.text);
        return Ok(&words[1..]);
    }
    for length in (1..=words.len().min(NAME_WORDS)).rev() {
        let name: Vec<&str> = words[..length].iter().map(|word| word.text.as_str()).collect();
        match Lesion::from_text(&name.join(" ")) {
            None => return Ok(&words[length..]),
            Some(found) if found.code().is_some() => {
                case.lesion = Some(found);
                return Ok(&words[length..]);
            }
            Some(_) => {}
        }
    }
    let near = Lesion::from_text(&first.text).and_then(|lesion| lesion.slip().flatten());
    let near = near.map_or_else(String::new, |code| format!(" ({} is {})", code.code, code.name));
    Err(format!("{:?} is no lesion code{near}; codes shows them, own words go in 'quotes'", first.text))
}

/// What was done, and the finer points of what was found.
fn done(case: &mut Case, words: &[Word], order: Option<DayOrder>) -> Result<(), String> {
    let set =
        |case: &mut Case, name: &str, value: &str| case.set_field(name, value).map_err(|no| no.to_string());
    case.treatment.trim = true;
    let mut height = None;
    let mut words = words.iter().peekable();
    while let Some(word) = words.next() {
        let text = word.text.to_lowercase();
        if word.quoted {
            case.note = Some(word.text.clone());
            continue;
        }
        if let Some((name, value)) = word.text.split_once('=') {
            set(case, name, &written(name, value, case.date, order))?;
            continue;
        }
        match text.as_str() {
            "trim" | "trimmed" => {}
            "notrim" => case.treatment.trim = false,
            "horn" => case.treatment.horn_removed = true,
            "drained" => case.treatment.drained = true,
            "dressing" => case.treatment.dressing = true,
            "block" => {
                let claw = words.next_if(|next| claw_of(&next.text).is_some());
                block(case, claw.and_then(|claw| claw_of(&claw.text)))?;
            }
            _ if text.starts_with('m') && text.len() > 1 && text.as_bytes()[1].is_ascii_digit() => {
                set(case, "dd_stage", &text)?;
            }
            _ if text.ends_with("mm") => height = Some(text.trim_end_matches("mm").to_owned()),
            _ if text.bytes().all(|byte| byte.is_ascii_digit()) => set(case, "zone", &text)?,
            _ if text.strip_prefix('s').is_some_and(|number| matches!(number, "1" | "2" | "3")) => {
                set(case, "severity", &text[1..])?;
            }
            _ => letters(case, &text)?,
        }
    }
    height.map_or(Ok(()), |height| set(case, "block_height_mm", &height))
}

/// `dbi`: a letter for each thing done, in any order; a block may say its claw.
fn letters(case: &mut Case, text: &str) -> Result<(), String> {
    let before = case.clone();
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            'h' => case.treatment.horn_removed = true,
            'd' => case.treatment.drained = true,
            'w' => case.treatment.dressing = true,
            'b' => {
                let claw = letters.next_if(|next| matches!(next, 'i' | 'o'));
                block(case, claw.and_then(|claw| claw_of(&claw.to_string())))?;
            }
            _ => {
                *case = before;
                return Err(format!("{text:?} is not understood; ? shows what can be written"));
            }
        }
    }
    Ok(())
}

/// A block under the claw named, or beside the sore one.
fn block(case: &mut Case, claw: Option<Claw>) -> Result<(), String> {
    let claw = claw.or_else(|| case.claw.and_then(Claw::beside));
    let claw = claw.ok_or("under which claw is the block: bo outer, bi inner")?;
    case.set_field("block_claw", claw.name()).map_err(|no| no.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::AnimalId;
    use crate::record::case::field::NAMES;
    use jiff::civil::date;

    fn fresh() -> Case {
        Case::new(AnimalId("412".into()), date(2026, 3, 5))
    }

    fn work(text: &str) -> Case {
        match read(text, &fresh(), None) {
            Ok(Line::Work(case)) => *case,
            other => panic!("{text}: {other:?}"),
        }
    }

    /// The fields that were said, day and cow left out.
    fn said(text: &str) -> String {
        let case = work(text);
        let filled = NAMES[2..].iter().filter(|name| !case.field(name).is_empty());
        filled.map(|name| format!("{name}={}", case.field(name))).collect::<Vec<_>>().join(" ")
    }

    fn refused(text: &str) -> String {
        read(text, &fresh(), None).expect_err(text)
    }

    #[test]
    fn twelve_keys_are_a_whole_case() {
        let short = "lro wla dbi";
        assert!(short.len() < 12, "the last key is Enter");
        let whole = "leg=LR claw=outer lesion=WLA treatment=trim;drained;block block_claw=inner";
        assert_eq!(said(short), whole);
        assert_eq!(said("LR outer white line abscess, drained, block inner"), whole);
        assert_eq!(said("lr o wla d b"), whole, "a block is under the sound claw unless said otherwise");
    }

    #[test]
    fn finer_points_follow_in_any_order() {
        assert_eq!(
            said("rr i su 4 bo 20mm s2 h 'stood well' recheck=monday"),
            "leg=RR claw=inner lesion=SU zone=4 treatment=trim;horn_removed;block block_claw=outer note=stood well \
             severity=2 block_height_mm=20 recheck=2026-03-09"
        );
        assert_eq!(said("lfb dd m4.1 w"), "leg=LF claw=both lesion=DD treatment=trim;dressing dd_stage=M4.1");
        assert_eq!(said("rf none"), "leg=RF treatment=trim");
        assert_eq!(said("rf none notrim"), "leg=RF");
        assert_eq!(said("all"), "treatment=trim");
        assert_eq!(
            said("lro 'stone in the wall'"),
            "leg=LR claw=outer lesion=stone in the wall treatment=trim"
        );
    }

    #[test]
    fn a_slip_is_refused_and_never_a_lesion() {
        assert!(refused("lro wx").contains("no lesion code"));
        assert!(refused("lro stone").contains("quotes"));
        assert!(refused("lro").contains("say the lesion"));
        assert!(refused("lr wl").contains("which claw"));
        assert!(refused("lrx wl").contains("no leg"));
        assert!(refused("xx wl").contains("no leg"));
        assert!(refused("lro wl dq").contains("not understood"));
        assert!(refused("lrb dd b").contains("under which claw"));
        assert!(refused("lro wl 13").contains("zone"));
        assert!(refused("lro wl 20mm").contains("block"), "a height without a block");
        assert!(refused("lro 'stone").contains("quote"));
        assert!(refused("'lro' wl").contains("begin with the leg"));
        assert!(
            refused("lr on nanmm").contains("later look") && refused("lr on -3mm").contains("later look")
        );
        assert!(refused("lr off and away").contains("later look"));
    }

    #[test]
    fn a_later_look_is_told_by_its_words() {
        let look = |text: &str| match read(text, &fresh(), None) {
            Ok(Line::Look(leg, look)) => (leg, look.block, look.height_mm, look.course, look.note),
            other => panic!("{text}: {other:?}"),
        };
        let same = Some(Course::Same);
        assert_eq!(look("lr on 12mm same"), (Leg::LR, Some(BlockSeen::On), Some(12.0), same, None));
        assert_eq!(look("rr healed"), (Leg::RR, None, None, Some(Course::Healed), None));
        assert_eq!(look("rr off imp 'dry'").3, Some(Course::Improving));
        assert!(
            matches!(read("rro sw", &fresh(), None), Ok(Line::Work(_))),
            "SW is a swelling, not same or worse"
        );
    }

    #[test]
    fn words_to_the_program() {
        for (text, line) in [
            ("", Line::Next),
            ("skip", Line::Next),
            ("back", Line::Back),
            ("undo", Line::Undo),
            ("sheet", Line::Sheet),
            ("codes", Line::Codes),
            ("?", Line::Help),
            ("end", Line::End),
            (
                "correct zone=4 date=yesterday",
                Line::Correct(vec![("zone".into(), "4".into()), ("date".into(), "2026-03-04".into())]),
            ),
        ] {
            assert_eq!(read(text, &fresh(), None), Ok(line), "{text}");
        }
        assert!(
            refused("correct").contains("FIELD=VALUE") && refused("correct zone").contains("FIELD=VALUE")
        );
    }
}
