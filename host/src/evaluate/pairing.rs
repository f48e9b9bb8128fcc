//! Which row of the tool answers which truth.

use crate::arithmetic::dates::days_between;
use crate::record::{AnimalId, CowDay, Flag, FootWork, MobilityScore, Place};
use anyhow::{Context, bail, ensure};
use jiff::{ToSpan, civil::Date};
use shared::plate::{Leg, Pair};
use std::collections::{BTreeMap, HashMap};
use std::io::Read;

/// A true score from here up is lame: score 2 of the public 0-3 scale is "limb immediately identifiable".
pub const LAME_SCORE: f64 = 2.0;
/// A truth without a row that day is held against the last row at most so many days before: our choice.
pub const MATCH_DAYS: i32 = 2;

/// What was true of a cow on a day.
#[derive(Clone, Debug, PartialEq)]
pub struct OutsideTruth {
    /// Which animal.
    pub animal: AnimalId,
    /// The day.
    pub date: Date,
    /// On the public 0-3 scale.
    pub score: f64,
    /// The sore place, where known.
    pub place: Option<Place>,
}

/// A truth and what the tool said.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// The cow, by its place in the list of cows.
    pub cow: usize,
    /// The day of the truth.
    pub date: Date,
    /// The true score.
    pub true_score: f64,
    /// `true_score` is at least [`LAME_SCORE`].
    pub lame: bool,
    /// The truly sore place.
    pub true_place: Option<Place>,
    /// What the tool said.
    pub flag: Flag,
    /// `check` or `urgent`.
    pub flagged: bool,
    /// The tool's probability; `None` where it could not judge.
    pub probability: Option<f64>,
    /// Where the tool sees it.
    pub place: Option<Place>,
    /// A block was on, or the days after a trim.
    pub unsettled: bool,
}

impl Judged {
    /// A row with a truth and a flag only.
    #[cfg(test)]
    pub(crate) fn plain(cow: usize, date: Date, true_score: f64, flagged: bool) -> Self {
        Self {
            cow,
            date,
            true_score,
            lame: true_score >= LAME_SCORE,
            true_place: None,
            flag: if flagged { Flag::Check } else { Flag::Clear },
            flagged,
            probability: Some(if flagged { 0.9 } else { 0.1 }),
            place: None,
            unsettled: false,
        }
    }
}

/// Truths and rows put together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pairs {
    /// The cows of the rows.
    pub cows: Vec<AnimalId>,
    /// By cow, then day.
    pub rows: Vec<Judged>,
    /// Truths without a row near enough.
    pub without_row: usize,
}

/// Puts truths and rows together.
#[must_use]
pub fn pair(truths: &[OutsideTruth], days: &[CowDay]) -> Pairs {
    let mut rows: HashMap<&AnimalId, Vec<&CowDay>> =
        truths.iter().map(|truth| (&truth.animal, Vec::new())).collect();
    for day in days {
        if let Some(hers) = rows.get_mut(&day.animal) {
            hers.push(day);
        }
    }
    rows.values_mut().for_each(|hers| hers.sort_by_key(|day| day.date));
    let mut sorted: Vec<&OutsideTruth> = truths.iter().collect();
    sorted.sort_by(|a, b| (&a.animal, a.date).cmp(&(&b.animal, b.date)));
    let mut pairs = Pairs::default();
    for truth in sorted {
        let hers = &rows[&truth.animal];
        let nearest = hers[..hers.partition_point(|day| day.date <= truth.date)].last();
        let Some(day) = nearest.filter(|day| days_between(day.date, truth.date) <= MATCH_DAYS) else {
            pairs.without_row += 1;
            continue;
        };
        if pairs.cows.last() != Some(&truth.animal) {
            pairs.cows.push(truth.animal.clone());
        }
        let could_judge = !matches!(day.flag, Flag::NoData | Flag::CannotTell);
        pairs.rows.push(Judged {
            cow: pairs.cows.len() - 1,
            date: truth.date,
            true_score: truth.score,
            lame: truth.score >= LAME_SCORE,
            true_place: truth.place,
            flag: day.flag,
            flagged: matches!(day.flag, Flag::Check | Flag::Urgent),
            probability: day.probability.filter(|_| could_judge),
            place: day.place,
            unsettled: day.block_on || day.days_since_trim.is_some(),
        });
    }
    pairs
}

/// Observers' scores as truths.
#[must_use]
pub fn from_scores(scores: &[MobilityScore]) -> Vec<OutsideTruth> {
    scores
        .iter()
        .map(|score| OutsideTruth {
            animal: score.animal.clone(),
            date: score.date,
            score: f64::from(score.score),
            place: None,
        })
        .collect()
}

/// Lifted feet as truths: a lesion counts as lame, a foot lifted without one as sound. They are held against the day
/// before: on the day itself the tool knows of the foot work and holds its flag back.
///
/// Trimmed cows are chosen cows, and a lesion may not hurt: figures from these say less than observers' scores.
#[must_use]
pub fn from_lesions(work: &[FootWork]) -> Vec<OutsideTruth> {
    let mut found: BTreeMap<(&AnimalId, Date), OutsideTruth> = BTreeMap::new();
    for work in work {
        let before = work.date.saturating_sub(1.day());
        let truth = found.entry((&work.animal, before)).or_insert_with(|| OutsideTruth {
            animal: work.animal.clone(),
            date: before,
            score: 0.0,
            place: None,
        });
        if work.lesion {
            let place = match (truth.place, work.leg) {
                (Some(place), Some(leg)) => join(place, leg),
                (None, leg) if truth.score == 0.0 => leg.map(Place::One),
                _ => None,
            };
            (truth.score, truth.place) = (LAME_SCORE, place);
        }
    }
    found.into_values().collect()
}

fn join(place: Place, leg: Leg) -> Option<Place> {
    match (place, leg.pair()) {
        (Place::One(one), _) if one == leg => Some(place),
        (Place::One(one), Pair::Front) if one.pair() == Pair::Front => Some(Place::BothFront),
        (Place::One(one), Pair::Rear) if one.pair() == Pair::Rear => Some(Place::BothRear),
        (Place::BothFront, Pair::Front) | (Place::BothRear, Pair::Rear) => Some(place),
        _ => None,
    }
}

/// The place of a name in a table: a leg, `both front`, `both rear`, or several legs joined by anything.
#[must_use]
pub fn place_from_name(name: &str) -> Option<Place> {
    if let Some(place) = [Place::BothFront, Place::BothRear]
        .into_iter()
        .find(|place| place.name().eq_ignore_ascii_case(&name.replace('_', " ")))
    {
        return Some(place);
    }
    let mut legs = name.split(|c: char| !c.is_ascii_alphabetic()).filter(|part| !part.is_empty());
    let first = Place::One(Leg::from_name(legs.next()?)?);
    legs.try_fold(first, |place, leg| join(place, Leg::from_name(leg)?))
}

/// Reads a truth file: `animal_id,date,true_score,true_leg`; other columns are left alone.
///
/// # Errors
/// A missing column or a value that cannot be read, with its line.
pub fn read_truth(input: impl Read) -> anyhow::Result<Vec<OutsideTruth>> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(input);
    let headers = reader.headers().context("line 1: cannot read the header")?.clone();
    let column = |name: &str| {
        headers.iter().position(|header| header.trim_start_matches('\u{feff}').eq_ignore_ascii_case(name))
    };
    let need = |name: &str| column(name).with_context(|| format!("line 1: no column {name}"));
    let (animal, date, score) = (need("animal_id")?, need("date")?, need("true_score")?);
    let leg = column("true_leg");
    let mut truths = Vec::new();
    for record in reader.records() {
        let record = record?;
        let line = record.position().map_or(0, csv::Position::line);
        let field = |index: usize| record.get(index).unwrap_or_default();
        if field(score).is_empty() {
            continue;
        }
        let value: f64 = field(score)
            .parse()
            .with_context(|| format!("line {line}: true_score is no number: {:?}", field(score)))?;
        ensure!((0.0..=3.0).contains(&value), "line {line}: true_score {value} is not within 0 to 3");
        let day = field(date)
            .parse()
            .with_context(|| format!("line {line}: date is not like 2026-03-31: {:?}", field(date)))?;
        let place = match leg.map(field).unwrap_or_default() {
            "" | "none" => None,
            name if name.split(|c: char| !c.is_ascii_alphabetic()).all(is_leg_word) => place_from_name(name),
            name => bail!("line {line}: true_leg is no leg: {name:?}"),
        };
        if field(animal).is_empty() {
            bail!("line {line}: animal_id is empty");
        }
        truths.push(OutsideTruth {
            animal: AnimalId(field(animal).to_owned()),
            date: day,
            score: value,
            place,
        });
    }
    Ok(truths)
}

fn is_leg_word(word: &str) -> bool {
    word.is_empty()
        || Leg::from_name(word).is_some()
        || ["both", "front", "rear"].iter().any(|known| known.eq_ignore_ascii_case(word))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented::cow_day;
    use jiff::civil::date;

    fn truth(animal: &str, day: Date, score: f64) -> OutsideTruth {
        OutsideTruth { animal: AnimalId(animal.into()), date: day, score, place: None }
    }

    #[test]
    fn a_truth_meets_the_row_of_its_day_or_the_last_one_just_before() {
        let days = [
            cow_day("7", date(2026, 3, 1), Flag::Clear),
            cow_day("7", date(2026, 3, 2), Flag::Check),
            cow_day("7", date(2026, 3, 9), Flag::Urgent),
        ];
        let truths = [
            truth("7", date(2026, 3, 1), 0.0),
            truth("7", date(2026, 3, 4), 2.0),
            truth("7", date(2026, 3, 5), 2.0),
            truth("8", date(2026, 3, 1), 0.0),
        ];
        let pairs = pair(&truths, &days);
        assert_eq!(pairs.rows.iter().map(|row| row.flag).collect::<Vec<_>>(), [Flag::Clear, Flag::Check]);
        assert_eq!(pairs.without_row, 2);
        assert_eq!(pairs.cows, [AnimalId("7".into())]);
    }

    #[test]
    fn truth_files_are_read_and_bad_lines_named() {
        let good = "\u{feff}animal_id,date,true_score,true_leg,x\n7,2026-03-01,2.4,RR,1\n7,2026-03-02,,,\n8,2026-03-01,0,,\n9,2026-03-01,3,both rear,\n";
        let truths = read_truth(good.as_bytes()).unwrap();
        assert_eq!(truths.len(), 3);
        assert_eq!(truths[0].place, Some(Place::One(Leg::RR)));
        assert_eq!(truths[2].place, Some(Place::BothRear));
        for (bad, says) in [
            ("animal_id,date,true_score\n7,2026-03-01,lame\n", "line 2: true_score"),
            ("animal_id,date,true_score\n7,2026-03-01,7\n", "line 2: true_score 7"),
            ("animal_id,date,true_score\n7,1.3.2026,1\n", "line 2: date"),
            ("animal_id,date,true_score,true_leg\n7,2026-03-01,1,XX\n", "line 2: true_leg"),
            ("animal_id,date\n7,2026-03-01\n", "no column true_score"),
        ] {
            let error = read_truth(bad.as_bytes()).unwrap_err();
            assert!(format!("{error:#}").contains(says), "{error:#}");
        }
    }

    #[test]
    fn several_legs_make_a_place_where_there_is_one() {
        assert_eq!(place_from_name("LR+RR"), Some(Place::BothRear));
        assert_eq!(place_from_name("rf;lf"), Some(Place::BothFront));
        assert_eq!(place_from_name("LF RR"), None);
        assert_eq!(place_from_name("both_front"), Some(Place::BothFront));
    }

    #[test]
    fn feet_lifted_on_one_day_are_one_truth() {
        let work = |leg, lesion| FootWork {
            look: false,
            date: date(2026, 3, 1),
            animal: AnimalId("7".into()),
            leg: Some(leg),
            lesion,
            block_off: None,
            block_due: None,
            block: false,
            known: crate::record::VersionSpan::ALWAYS,
        };
        let found = from_lesions(&[work(Leg::LR, true), work(Leg::RR, true), work(Leg::LF, false)]);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].place, found[0].date), (Some(Place::BothRear), date(2026, 2, 28)));
        assert_eq!(from_lesions(&[work(Leg::LR, false)])[0].score, 0.0);
    }
}
