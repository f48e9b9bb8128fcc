//! What cannot be, and what had better be asked about.

use crate::arithmetic::dates::days_between;
use crate::record::case::block::{known_off, last_height_mm};
use crate::record::case::lesion::Lesion;
use crate::record::case::{BlockSeen, Case, Claw, FollowUp, KeptCase};
use crate::record::finding::Objection;
use jiff::civil::Date;

/// Lowest and highest block that is entered without a question, mm (our choice).
const USUAL_BLOCK_MM: (f64, f64) = (5.0, 50.0);
/// An entry older than this is asked about: a wrong year is a common slip, days (our choice).
const OLD_ENTRY_DAYS: i32 = 400;

/// Looks over a case before it is kept. `others` are the cow's other cases, as they stand; without `today` nothing is
/// held against the clock, for files may be of any time.
#[must_use]
pub fn case(case: &Case, today: Option<Date>, others: &[KeptCase]) -> Vec<Objection> {
    let block = case.treatment.block.as_ref();
    let sore = case.lesion.is_some().then_some(case.claw).flatten();
    let same_foot =
        || others.iter().filter(|o| o.withdrawn.is_none() && o.case.leg == case.leg && case.leg.is_some());
    let before = |day: Option<Date>| day.is_some_and(|day| day < case.date);
    let on_other_lesion = |claw: Claw| {
        same_foot().any(|o| o.case.date == case.date && o.case.lesion.is_some() && o.case.claw == Some(claw))
    };
    let same = |other: &KeptCase| {
        let (a, b) = (&other.case, case);
        (a.date, a.claw, &a.lesion, a.zone) == (b.date, b.claw, &b.lesion, b.zone)
    };
    let no_dermatitis = case.lesion.as_ref().is_none_or(|lesion| lesion.as_str() != "DD");
    let medicine = &case.medicine;
    let impossible = [
        (today.is_some_and(|today| case.date > today), Objection::WorkInFuture),
        (
            sore.is_some() && block.is_some_and(|b| b.claw.is_some() && b.claw == sore),
            Objection::BlockOnSoreClaw,
        ),
        (case.leg.is_none() && case.lesion.is_some(), Objection::LesionWithoutLeg),
        (case.leg.is_none() && block.is_some(), Objection::BlockWithoutLeg),
        (case.recheck.is_some_and(|day| day <= case.date), Objection::RecheckNotAfter),
        (before(block.and_then(|b| b.due)), Objection::BlockDueBefore),
        (before(block.and_then(|b| b.off)), Objection::BlockOffBefore),
        (
            block.and_then(|b| b.off).zip(today).is_some_and(|(off, today)| off > today),
            Objection::BlockOffInFuture,
        ),
        (case.stage.is_some() && no_dermatitis, Objection::StageWithoutDermatitis),
        (
            before(medicine.milk_withdrawal_end) || before(medicine.meat_withdrawal_end),
            Objection::WithdrawalBefore,
        ),
        (block.and_then(|b| b.claw).is_some_and(on_other_lesion), Objection::BlockOnOtherLesion),
    ];
    let mut found = holding(impossible);
    found.extend(questions(case, today));
    found.extend(holding([
        (same_foot().any(same), Objection::EnteredAlready),
        (
            block.is_some() && same_foot().any(|o| crate::record::case::block::on(o, case.date)),
            Objection::BlockStillOn,
        ),
    ]));
    found
}

fn holding(all: impl IntoIterator<Item = (bool, Objection)>) -> Vec<Objection> {
    all.into_iter().filter(|(holds, _)| *holds).map(|(_, objection)| objection).collect()
}

fn questions(case: &Case, today: Option<Date>) -> Vec<Objection> {
    let block = case.treatment.block.as_ref();
    let medicine = &case.medicine;
    let mut found = Vec::new();
    if let Some(lesion) = &case.lesion
        && let Some(near) = lesion.slip()
    {
        let code = near.map(|code| code.code.to_owned());
        found.push(Objection::NoCode { text: lesion.as_str().to_owned(), code: code.clone(), lesion: code });
    }
    if let (Some(zone), Some(code)) = (case.zone, case.lesion.as_ref().and_then(Lesion::code))
        && !code.usual_zones.is_empty()
        && !code.usual_zones.contains(&zone.number())
    {
        found.push(Objection::UnusualZone { lesion: code.code.to_owned(), zone: zone.number() });
    }
    let (milk, meat) = (medicine.milk_withdrawal_end.is_none(), medicine.meat_withdrawal_end.is_none());
    let given = medicine.pain_relief == Some(true) || medicine.prescribed_by.is_some() || !milk || !meat;
    let height = block.and_then(|block| block.height_mm);
    found.extend(holding([
        (block.is_some() && case.for_the_veterinarian(), Objection::BlockForVeterinarian),
        (given && (milk || meat), Objection::WithdrawalMissing { milk, meat }),
        (
            medicine.pain_relief == Some(true) && medicine.prescribed_by.is_none(),
            Objection::PrescriberMissing,
        ),
        (
            height.is_some_and(|mm| !(USUAL_BLOCK_MM.0..=USUAL_BLOCK_MM.1).contains(&mm)),
            Objection::UnusualBlock { height_mm: height.unwrap_or_default() },
        ),
        (
            today.is_some_and(|today| days_between(case.date, today) > OLD_ENTRY_DAYS),
            Objection::LongAgo { date: case.date },
        ),
        (case.zone.is_some() && case.lesion.is_none(), Objection::ZoneWithoutLesion),
    ]));
    found
}

/// Looks over a follow-up before it is kept.
#[must_use]
pub fn follow_up(kept: &KeptCase, look: &FollowUp, today: Date) -> Vec<Objection> {
    let block = kept.case.treatment.block.as_ref();
    let told =
        look.block.is_some() || look.height_mm.is_some() || look.course.is_some() || look.note.is_some();
    let of_block = look.block.is_some() || look.height_mm.is_some();
    let mut found = holding([
        (look.date > today, Objection::LookInFuture),
        (look.date < kept.case.date, Objection::LookBefore),
        (kept.withdrawn.is_some(), Objection::CaseWithdrawn),
        (!told, Objection::NothingTold),
        (block.is_none() && of_block, Objection::NoBlockHere),
    ]);
    if let (Some(before_mm), Some(now_mm)) = (last_height_mm(kept), look.height_mm)
        && now_mm > before_mm
    {
        found.push(Objection::BlockGrown { before_mm, now_mm });
    }
    if let Some(date) = known_off(kept)
        && look.block == Some(BlockSeen::On)
        && look.date >= date
    {
        found.push(Objection::BlockEnteredOff { date });
    }
    found
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
        case(&entry(fields), Some(date(2026, 3, 10)), &[]).iter().any(Objection::refuses)
    }

    fn asked(fields: &[(&str, &str)]) -> bool {
        case(&entry(fields), Some(date(2026, 3, 10)), &[]).iter().any(|found| !found.refuses())
    }

    #[test]
    fn a_block_on_a_foot_for_the_veterinarian_and_a_medicine_without_its_dates_are_asked_about() {
        let asked = |fields: &[(&str, &str)]| {
            let mut of = Case::new(crate::record::AnimalId("412".into()), jiff::civil::date(2026, 3, 2));
            for (name, value) in fields {
                of.set_field(name, value).unwrap();
            }
            let found = case(&of, None, &[]);
            let missing = |milk, meat| found.contains(&Objection::WithdrawalMissing { milk, meat });
            [
                found.contains(&Objection::BlockForVeterinarian),
                missing(true, true),
                missing(true, false),
                missing(false, true),
            ]
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
        assert!(case(&new, Some(date(2026, 3, 10)), &[other]).iter().any(Objection::refuses));
    }

    #[test]
    fn a_block_may_be_off_today_but_not_tomorrow() {
        let off = |day: &str| {
            let of = entry(&[("leg", "RR"), ("block_claw", "inner"), ("block_off", day)]);
            case(&of, Some(date(2026, 3, 10)), &[]).contains(&Objection::BlockOffInFuture)
        };
        assert!(!off("2026-03-10"));
        assert!(off("2026-03-11"));
    }

    #[test]
    fn whatever_tells_of_a_medicine_asks_for_the_dates_that_are_missing() {
        let missing = |name: &str, value: &str| {
            let found = case(&entry(&[(name, value)]), None, &[]);
            found.iter().find_map(|one| match one {
                Objection::WithdrawalMissing { milk, meat } => Some((*milk, *meat)),
                _ => None,
            })
        };
        assert_eq!(missing("pain_relief", "yes"), Some((true, true)));
        assert_eq!(missing("prescribed_by", "the practice"), Some((true, true)));
        assert_eq!(missing("milk_withdrawal_end", "2026-03-05"), Some((false, true)));
        assert_eq!(missing("meat_withdrawal_end", "2026-03-20"), Some((true, false)));
        assert_eq!(missing("note", "quiet"), None);
    }

    #[test]
    fn an_entry_is_asked_about_from_the_401st_day() {
        // 365 days from 2 March 2026 to 2 March 2027, and 35 more to 6 April.
        let of = entry(&[]);
        let old = |today: Date| case(&of, Some(today), &[]).contains(&Objection::LongAgo { date: of.date });
        assert!(!old(date(2027, 4, 6)));
        assert!(old(date(2027, 4, 7)));
    }
}
