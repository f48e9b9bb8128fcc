//! What cannot be, and what had better be asked about.

use crate::record::case::{Case, FollowUp, KeptCase};
use jiff::civil::Date;

/// Something wrong, or odd, with an entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Objection {
    /// Cannot be: not taken in.
    Refuse(String),
    /// Odd: taken in when confirmed.
    Ask(String),
}

/// Lowest and highest block that is entered without a question, mm (our choice).
const USUAL_BLOCK_MM: (f64, f64) = (5.0, 50.0);
/// An entry older than this is asked about: a wrong year is a common slip, days (our choice).
const OLD_ENTRY_DAYS: i32 = 400;

/// Looks over a case before it is kept. `others` are the cow's other cases, as they stand; without `today` nothing is
/// held against the clock, for files may be of any time.
#[must_use]
pub fn case(case: &Case, today: Option<Date>, others: &[KeptCase]) -> Vec<Objection> {
    let mut findings = Vec::new();
    let mut refuse = |cond: bool, words: &str| {
        if cond {
            findings.push(Objection::Refuse(words.to_owned()));
        }
    };
    let block = case.treatment.block.as_ref();
    let sore = case.lesion.is_some().then_some(case.claw).flatten();
    refuse(today.is_some_and(|t| case.date > t), "the day of the work is in the future");
    refuse(
        sore.is_some() && block.is_some_and(|b| b.claw.is_some() && b.claw == sore),
        "the block is on the sore claw; it belongs under the sound one",
    );
    refuse(case.leg.is_none() && case.lesion.is_some(), "a lesion needs its leg");
    refuse(case.leg.is_none() && block.is_some(), "a block needs its leg");
    refuse(case.recheck.is_some_and(|d| d <= case.date), "the recheck is not after the work");
    refuse(
        block.and_then(|b| b.due).is_some_and(|d| d < case.date),
        "the block is to come off before it was put on",
    );
    refuse(
        block.and_then(|b| b.off).is_some_and(|d| d < case.date),
        "the block came off before it was put on",
    );
    refuse(
        block.and_then(|b| b.off).zip(today).is_some_and(|(d, t)| d > t),
        "the block came off in the future; use block_due",
    );
    refuse(
        case.stage.is_some() && case.lesion.as_ref().is_none_or(|l| l.as_str() != "DD"),
        "an M stage belongs to digital dermatitis (DD)",
    );
    refuse(
        case.medicine.milk_withdrawal_end.is_some_and(|d| d < case.date)
            || case.medicine.meat_withdrawal_end.is_some_and(|d| d < case.date),
        "a withdrawal ends before the treatment",
    );
    let same_foot =
        || others.iter().filter(|o| o.withdrawn.is_none() && o.case.leg == case.leg && case.leg.is_some());
    refuse(
        block.and_then(|b| b.claw).is_some_and(|claw| {
            same_foot()
                .any(|o| o.case.date == case.date && o.case.lesion.is_some() && o.case.claw == Some(claw))
        }),
        "the block is on a claw with another lesion found that day",
    );
    findings.extend(questions(case, today).into_iter().map(Objection::Ask));
    if same_foot().any(|o| {
        o.case.date == case.date
            && o.case.claw == case.claw
            && o.case.lesion == case.lesion
            && o.case.zone == case.zone
    }) {
        findings.push(Objection::Ask(
            "the same foot, claw, zone and lesion is already entered for that day".to_owned(),
        ));
    }
    if block.is_some() && same_foot().any(|o| crate::record::case::block::on(o, case.date)) {
        findings.push(Objection::Ask("that foot still has a block on".to_owned()));
    }
    findings
}

fn questions(case: &Case, today: Option<Date>) -> Vec<String> {
    let mut questions = Vec::new();
    if let Some(lesion) = &case.lesion
        && let Some(near) = lesion.slip()
    {
        let near = near.map_or_else(String::new, |code| format!("; {} is {}", code.code, code.name));
        questions.push(format!("{:?} is no lesion code{near}", lesion.as_str()));
    }
    let block = case.treatment.block.as_ref();
    if let (Some(zone), Some(code)) =
        (case.zone, case.lesion.as_ref().and_then(crate::record::case::lesion::Lesion::code))
        && !code.usual_zones.is_empty()
        && !code.usual_zones.contains(&zone.number())
    {
        questions.push(format!("{} in zone {} ({}) is unusual", code.name, zone.number(), zone.place()));
    }
    if block.is_some() && case.for_the_veterinarian() {
        questions.push(
            "a block on a foot that is for the veterinarian (phlegmon, a swelling above the hoof, or severe)"
                .to_owned(),
        );
    }
    let medicine = &case.medicine;
    let (milk, meat) = (medicine.milk_withdrawal_end, medicine.meat_withdrawal_end);
    let given = medicine.pain_relief == Some(true) || medicine.prescribed_by.is_some();
    if (given || milk.is_some() || meat.is_some()) && (milk.is_none() || meat.is_none()) {
        let missing = match (milk, meat) {
            (None, None) => "milk and meat",
            (None, _) => "milk",
            _ => "meat",
        };
        questions.push(format!(
            "a medicine was given, but not until when {missing} must not go out; the label or the veterinarian tells"
        ));
    }
    if case.medicine.pain_relief == Some(true) && case.medicine.prescribed_by.is_none() {
        questions.push("pain relief was given, but not who prescribed it".to_owned());
    }
    if let Some(height) = block.and_then(|b| b.height_mm)
        && !(USUAL_BLOCK_MM.0..=USUAL_BLOCK_MM.1).contains(&height)
    {
        questions.push(format!("a block of {height} mm is unusual"));
    }
    if today.is_some_and(|t| days_between(case.date, t) > OLD_ENTRY_DAYS) {
        questions.push(format!("{} is long ago", case.date));
    }
    if case.zone.is_some() && case.lesion.is_none() {
        questions.push("a zone without a lesion".to_owned());
    }
    questions
}

/// Looks over a follow-up before it is kept.
#[must_use]
pub fn follow_up(kept: &KeptCase, look: &FollowUp, today: Date) -> Vec<Objection> {
    let mut findings = Vec::new();
    let mut refuse = |cond: bool, words: &str| {
        if cond {
            findings.push(Objection::Refuse(words.to_owned()));
        }
    };
    let block = kept.case.treatment.block.as_ref();
    refuse(look.date > today, "the day of the look is in the future");
    refuse(look.date < kept.case.date, "the look is before the treatment");
    refuse(kept.withdrawn.is_some(), "this case was withdrawn");
    refuse(
        look.block.is_none() && look.height_mm.is_none() && look.course.is_none() && look.note.is_none(),
        "nothing was told: say --block, --height, --course or --note",
    );
    refuse(
        block.is_none() && (look.block.is_some() || look.height_mm.is_some()),
        "no block was put on in this case",
    );
    if let (Some(before), Some(now)) = (crate::record::case::block::last_height_mm(kept), look.height_mm)
        && now > before
    {
        findings.push(Objection::Ask(format!("the block has grown from {before} to {now} mm")));
    }
    if let Some(off) = crate::record::case::block::known_off(kept)
        && look.block == Some(crate::record::case::BlockSeen::On)
        && look.date >= off
    {
        findings.push(Objection::Ask(format!("the block is entered as off since {off}")));
    }
    findings
}

/// Whole days from one date to another.
#[must_use]
pub fn days_between(from: Date, to: Date) -> i32 {
    from.until(to).map_or(0, |span| span.get_days())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::AnimalId;
    use jiff::civil::date;

    fn entry(fields: &[(&str, &str)]) -> Case {
        let mut case = Case::new(AnimalId("412".into()), date(2026, 3, 2));
        for (name, value) in fields {
            case.set_field(name, value).unwrap();
        }
        case
    }

    fn refused(fields: &[(&str, &str)]) -> bool {
        case(&entry(fields), Some(date(2026, 3, 10)), &[]).iter().any(|f| matches!(f, Objection::Refuse(_)))
    }

    fn asked(fields: &[(&str, &str)]) -> bool {
        case(&entry(fields), Some(date(2026, 3, 10)), &[]).iter().any(|f| matches!(f, Objection::Ask(_)))
    }

    #[test]
    fn a_block_on_a_foot_for_the_veterinarian_and_a_medicine_without_its_dates_are_asked_about() {
        let asked = |fields: &[(&str, &str)]| {
            let mut of = Case::new(crate::record::AnimalId("412".into()), jiff::civil::date(2026, 3, 2));
            for (name, value) in fields {
                of.set_field(name, value).unwrap();
            }
            let asks = |finding: &Objection, words: &str| matches!(finding, Objection::Ask(what) if what.contains(words));
            let found = case(&of, None, &[]);
            ["for the veterinarian", "when milk and meat must", "when milk must", "when meat must"]
                .map(|words| found.iter().any(|finding| asks(finding, words)))
        };
        let foot = [("leg", "RR"), ("claw", "outer"), ("block_claw", "inner")];
        let with = |more: &[(&'static str, &'static str)]| asked(&[&foot[..], more].concat());
        assert_eq!(with(&[("lesion", "WL")]), [false; 4]);
        assert!(with(&[("lesion", "IP")])[0] && with(&[("lesion", "WL"), ("severity", "3")])[0]);
        assert!(!with(&[("lesion", "WL"), ("severity", "2")])[0]);
        let given = [("pain_relief", "yes"), ("prescribed_by", "the practice")];
        let (milk, meat) = (("milk_withdrawal_end", "2026-03-05"), ("meat_withdrawal_end", "2026-03-20"));
        assert_eq!(asked(&given), [false, true, false, false]);
        assert_eq!(asked(&[given[0], given[1], milk]), [false, false, false, true]);
        assert_eq!(asked(&[given[0], given[1], meat]), [false, false, true, false]);
        assert_eq!(asked(&[given[0], given[1], milk, meat]), [false; 4]);
        assert_eq!(asked(&[("pain_relief", "no")]), [false; 4]);
    }

    #[test]
    fn a_usual_entry_passes_without_a_word() {
        let fields = [
            ("leg", "RR"),
            ("claw", "outer"),
            ("lesion", "WL"),
            ("zone", "3"),
            ("block_claw", "inner"),
            ("recheck", "2026-04-06"),
        ];
        assert_eq!(case(&entry(&fields), Some(date(2026, 3, 10)), &[]), []);
    }

    #[test]
    fn impossible_entries_are_refused() {
        let foot = [("leg", "RR"), ("claw", "outer"), ("lesion", "SU")];
        for extra in [
            ("block_claw", "outer"),
            ("recheck", "2026-03-01"),
            ("dd_stage", "M2"),
            ("milk_withdrawal_end", "2026-03-01"),
            ("date", "2026-03-11"),
        ] {
            assert!(refused(&[foot.as_slice(), &[extra]].concat()), "{extra:?}");
        }
        assert!(refused(&[("lesion", "SU")]));
        assert!(!refused(&foot));
    }

    #[test]
    fn a_slip_in_a_lesion_is_asked_about() {
        assert!(asked(&[("leg", "RR"), ("claw", "outer"), ("lesion", "WX")]));
        assert!(asked(&[("leg", "RR"), ("claw", "outer"), ("lesion", "sole ulcr")]));
        assert!(!asked(&[("leg", "RR"), ("claw", "outer"), ("lesion", "stone in the cleft")]));
    }

    #[test]
    fn odd_entries_are_asked_about() {
        let foot = [("leg", "RR"), ("claw", "outer"), ("lesion", "WL")];
        assert!(asked(&[foot.as_slice(), &[("zone", "6")]].concat()));
        assert!(asked(&[foot.as_slice(), &[("pain_relief", "yes")]].concat()));
        assert!(asked(&[foot.as_slice(), &[("block_claw", "inner"), ("block_height_mm", "220")]].concat()));
        assert!(!asked(&[foot.as_slice(), &[("zone", "3")]].concat()));
    }

    #[test]
    fn a_block_under_another_sore_claw_is_refused() {
        let other = KeptCase {
            id: 1,
            case: entry(&[("leg", "RR"), ("claw", "inner"), ("lesion", "SH")]),
            follow_ups: vec![],
            withdrawn: None,
        };
        let new = entry(&[("leg", "RR"), ("claw", "outer"), ("lesion", "SU"), ("block_claw", "inner")]);
        assert!(
            case(&new, Some(date(2026, 3, 10)), &[other]).iter().any(|f| matches!(f, Objection::Refuse(_)))
        );
    }
}
