//! One cow's history, as data.

use crate::arithmetic::dates::days_between;
use crate::record::case::withdrawal::Withdrawal;
use crate::record::finding::DayEvent;
use crate::record::finding::codes;
use crate::record::names::Called;
use crate::record::{AnimalId, CowDay, Flag, FootWork, HerdEntry, MobilityScore, Passage, Place};
use crate::report::list::trend::{mean, shares};
use jiff::{ToSpan, civil::Date};
use serde::Serialize;
use shared::plate::{Leg, PerLeg};

/// What a card is made from. Everything of other cows is left alone.
#[derive(Clone, Debug)]
pub struct CardInput<'a> {
    /// Which animal.
    pub animal: &'a AnimalId,
    /// What she is called.
    pub called: Called,
    /// First day shown.
    pub from: Date,
    /// Last day shown; nothing later is used.
    pub to: Date,
    /// The rows.
    pub days: &'a [CowDay],
    /// The passages.
    pub passages: &'a [Passage],
    /// The herd register.
    pub herd: &'a [HerdEntry],
    /// Observers' scores.
    pub scores: &'a [MobilityScore],
    /// Trims and treatments.
    pub work: &'a [FootWork],
    /// Withdrawals that are not over.
    pub withdrawals: &'a [Withdrawal],
    /// Whom another program told of as lame, and when.
    pub told: &'a [(AnimalId, Date)],
}

/// One day of a card. Field names are those of the JSON and CSV output.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CardDay {
    /// The farm day.
    pub date: Date,
    /// The flag; `None` without a row.
    pub flag: Option<Flag>,
    /// Probability that a trained observer would score her 2 or more.
    pub probability: Option<f64>,
    /// The leg or pair.
    pub leg: Option<&'static str>,
    /// The same.
    #[serde(skip)]
    pub place: Option<Place>,
    /// Passages, trusted or not.
    pub passages: usize,
    /// Trusted passages.
    pub trusted: usize,
    /// Mean standing share of each leg in trusted passages, % of body weight.
    pub lf_share_pct: Option<f64>,
    /// See `lf_share_pct`.
    pub rf_share_pct: Option<f64>,
    /// See `lf_share_pct`.
    pub lr_share_pct: Option<f64>,
    /// See `lf_share_pct`.
    pub rr_share_pct: Option<f64>,
    /// Mean body weight of trusted passages, kg.
    pub body_weight_kg: Option<f64>,
    /// A block was on.
    pub block_on: bool,
    /// Days since the last trim or treatment, in the unsettled time.
    pub days_since_trim: Option<u32>,
    /// What people saw and did that day.
    #[serde(serialize_with = "codes")]
    pub events: Vec<DayEvent>,
}

impl CardDay {
    /// The shares of the day.
    #[must_use]
    pub fn share(&self, leg: Leg) -> Option<f64> {
        [self.lf_share_pct, self.rf_share_pct, self.lr_share_pct, self.rr_share_pct][leg as usize]
    }
}

/// The card.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Card {
    /// Which animal.
    pub animal_id: AnimalId,
    /// What she is called.
    #[serde(flatten)]
    pub called: Called,
    /// Her withdrawal that is not over, as entered.
    pub withdrawal: Option<Withdrawal>,
    /// Lactation number.
    pub parity: Option<u8>,
    /// Days since her last calving, at the last day shown.
    pub days_in_milk: Option<i32>,
    /// First day she was ever seen, up to the last day shown.
    pub first_seen: Option<Date>,
    /// Last day she was seen, up to the last day shown.
    pub last_seen: Option<Date>,
    /// Passages up to the last day shown.
    pub passages: usize,
    /// Trusted ones among them.
    pub trusted: usize,
    /// Her usual standing leg share: median of the days flagged clear, without a block and not just trimmed, % of
    /// body weight. `None` with fewer than [`USUAL_DAYS`] such days.
    pub usual_share_pct: Option<PerLegPct>,
    /// Within which nine in ten of these days lie: the lower end, % of body weight.
    pub usual_low_pct: Option<PerLegPct>,
    /// The upper end.
    pub usual_high_pct: Option<PerLegPct>,
    /// Clear days the usual shares rest on.
    pub usual_days: usize,
    /// Place of the last flag up to the last day shown that named one.
    pub leg: Option<&'static str>,
    /// The same, for the words.
    #[serde(skip)]
    pub place: Option<Place>,
    /// The last row up to the last day shown, for the words.
    #[serde(skip)]
    pub latest: Option<CowDay>,
    /// The days.
    pub days: Vec<CardDay>,
}

/// A value of each leg, by name.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PerLegPct {
    /// Left front.
    pub lf: f64,
    /// Right front.
    pub rf: f64,
    /// Left rear.
    pub lr: f64,
    /// Right rear.
    pub rr: f64,
}

impl PerLegPct {
    /// The value of a leg.
    #[must_use]
    pub const fn of(self, leg: Leg) -> f64 {
        match leg {
            Leg::LF => self.lf,
            Leg::RF => self.rf,
            Leg::LR => self.lr,
            Leg::RR => self.rr,
        }
    }
}

/// Clear days needed before her usual shares are shown: our choice.
pub const USUAL_DAYS: usize = 5;
/// Parts of those days below the lower end, the middle and the upper end of her usual shares. Our choice.
const USUAL_RANGE: [f64; 3] = [0.05, 0.5, 0.95];

impl Card {
    /// Makes the card; `None` for an animal of which nothing at all is known.
    #[must_use]
    pub fn new(input: &CardInput<'_>) -> Option<Self> {
        let animal = input.animal;
        let passages: Vec<&Passage> = input
            .passages
            .iter()
            .filter(|p| p.animal.as_ref() == Some(animal) && p.date <= input.to)
            .collect();
        let rows: Vec<&CowDay> =
            input.days.iter().filter(|row| row.animal == *animal && row.date <= input.to).collect();
        // Her calvings in order; one that is still to come says nothing of this lactation.
        let by_then = |entry: &&HerdEntry| entry.calving_date.is_none_or(|date| date <= input.to);
        let entry = input.herd.iter().filter(|entry| entry.animal == *animal).rfind(by_then);
        let known_otherwise = input.scores.iter().any(|score| score.animal == *animal)
            || input.work.iter().any(|work| work.animal == *animal);
        if passages.is_empty() && rows.is_empty() && entry.is_none() && !known_otherwise {
            return None;
        }
        let all = input
            .from
            .series(1.day())
            .take_while(|date| *date <= input.to)
            .map(|date| card_day(input, &passages, &rows, entry, date));
        let days = all
            .filter(|day| {
                day.passages > 0 || !day.events.is_empty() || day.flag.is_some_and(|f| f != Flag::NoData)
            })
            .collect();
        let (usual, usual_days) = usual(&passages, &rows);
        let [usual_low_pct, usual_share_pct, usual_high_pct] = usual;
        let place = rows.iter().rev().find_map(|row| row.place.filter(|_| row.flag >= Flag::Watch));
        Some(Self {
            animal_id: animal.clone(),
            called: input.called.clone(),
            withdrawal: input.withdrawals.iter().find(|of| of.animal_id == *animal).cloned(),
            parity: entry.and_then(|entry| entry.parity),
            days_in_milk: entry
                .and_then(|entry| entry.calving_date)
                .map(|calved| days_between(calved, input.to))
                .filter(|days| *days >= 0),
            first_seen: passages.iter().map(|passage| passage.date).min(),
            last_seen: passages.iter().map(|passage| passage.date).max(),
            passages: passages.len(),
            trusted: passages.iter().filter(|passage| passage.summary.quality.trusted()).count(),
            usual_share_pct,
            usual_low_pct,
            usual_high_pct,
            usual_days,
            leg: place.map(Place::name),
            place,
            latest: rows.last().map(|row| (*row).clone()),
            days,
        })
    }
}

fn card_day(
    input: &CardInput<'_>,
    passages: &[&Passage],
    rows: &[&CowDay],
    entry: Option<&HerdEntry>,
    date: Date,
) -> CardDay {
    let of_day = || passages.iter().filter(move |passage| passage.date == date);
    let trusted = || of_day().filter(|passage| passage.summary.quality.trusted());
    let share = |leg: Leg| mean(of_day().filter_map(|passage| shares(passage)).map(|shares| shares[leg]));
    let row = rows.iter().find(|row| row.date == date);
    let mut events = Vec::new();
    if entry.is_some_and(|entry| entry.calving_date == Some(date)) {
        events.push(DayEvent::Calved);
    }
    let hers = || input.work.iter().filter(|work| work.animal == *input.animal && !work.look);
    for work in hers().filter(|work| work.date == date) {
        events.push(DayEvent::FootWork { leg: work.leg, lesion: work.lesion, block: work.block });
    }
    if hers().any(|work| work.block_off == Some(date)) {
        events.push(DayEvent::BlockOff);
    }
    for score in input.scores.iter().filter(|score| score.animal == *input.animal && score.date == date) {
        events.push(DayEvent::Scored { score: score.score });
    }
    if input.told.iter().any(|(animal, on)| animal == input.animal && *on == date) {
        events.push(DayEvent::Told);
    }
    let block_on = row.is_some_and(|row| row.block_on);
    let said =
        |event: &DayEvent| matches!(event, DayEvent::BlockOff | DayEvent::FootWork { block: true, .. });
    if block_on && !events.iter().any(said) {
        events.push(DayEvent::BlockOn);
    }
    CardDay {
        date,
        flag: row.map(|row| row.flag),
        probability: row.and_then(|row| row.probability),
        leg: row.and_then(|row| row.place).map(Place::name),
        place: row.and_then(|row| row.place),
        passages: of_day().count(),
        trusted: trusted().count(),
        lf_share_pct: share(Leg::LF),
        rf_share_pct: share(Leg::RF),
        lr_share_pct: share(Leg::LR),
        rr_share_pct: share(Leg::RR),
        body_weight_kg: mean(trusted().filter_map(|p| p.summary.body_weight).map(|w| f64::from(w.value))),
        block_on,
        days_since_trim: row.and_then(|row| row.days_since_trim),
        events,
    }
}

/// Lower end, middle and upper end of her usual shares, and the clear days they rest on.
fn usual(passages: &[&Passage], rows: &[&CowDay]) -> ([Option<PerLegPct>; 3], usize) {
    let clear =
        rows.iter().filter(|row| row.flag == Flag::Clear && !row.block_on && row.days_since_trim.is_none());
    let daily: Vec<PerLeg<f64>> = clear
        .filter_map(|row| {
            let of_day: Vec<PerLeg<f64>> =
                passages.iter().filter(|p| p.date == row.date).filter_map(|p| shares(p)).collect();
            (!of_day.is_empty())
                .then(|| PerLeg(Leg::ALL.map(|leg| mean(of_day.iter().map(|s| s[leg])).unwrap_or(0.0))))
        })
        .collect();
    if daily.len() < USUAL_DAYS {
        return ([None; 3], daily.len());
    }
    let ordered = Leg::ALL.map(|leg| {
        let mut values: Vec<f64> = daily.iter().map(|shares| shares[leg]).collect();
        values.sort_by(f64::total_cmp);
        values
    });
    let at = |part| {
        let [lf, rf, lr, rr] =
            ordered.each_ref().map(|values| crate::arithmetic::bootstrap::quantile(values, part));
        Some(PerLegPct { lf, rf, lr, rr })
    };
    (USUAL_RANGE.map(at), daily.len())
}

#[cfg(test)]
mod tests;
