//! One cow from day to day: her filter, who she is, what was done to her, and the row of the day.

mod row;
mod teach;
#[cfg(test)]
mod tests;

use crate::arithmetic::dates::day_number;
use crate::record::{AnimalId, CowDay, Flag, FootWork, HerdEntry};
use crate::score::course::history::{HistoryDay, Recorded};
use crate::score::course::price::{Limits, Rises, Steps};
use crate::score::course::reasons::Recent;
use crate::score::evidence::anchor::AnchoredValues;
use crate::score::evidence::charts::Ewma;
use crate::score::evidence::foot_work::{DatedWork, Saved, WorkStanding, block_off, block_on, found};
use crate::score::evidence::identity::{NotHers, OddPassages};
use crate::score::evidence::lane::{WEIGHT, Witness};
use crate::score::model::cow::{DayMeasure, Expected, Filter};
use crate::score::model::features::{MEASURES, Measure, Measured, PerMeasure};
use crate::score::model::hypotheses::Hypotheses;
use crate::score::model::noise::{Lesson, Noise, SwingLesson};
use crate::score::model::observer::{Learner, Levels};
use crate::score::model::prior::{HerdPrior, group};
use crate::score::model::rates::Rate;
use crate::score::settings::UNSETTLED_WIDER;
use jiff::civil::Date;
use std::collections::VecDeque;

/// Days of measures after which her own baseline is known. Our choice.
pub(super) const BASELINE_DAYS: u32 = 7;
/// Her baseline is learned from, for the herd, below this probability of being lame.
const SOUND_ENOUGH: f64 = 0.3;
/// The same for noise.
const LIKELY_SOUND: f64 = 0.5;
/// What is found in a foot is held against what was said of her at most so many days before. Our choice.
const FEET_DAYS: i64 = 3;
/// A record answers a new flag that is at most so many days old. Our choice: farms score every week or two.
const ANSWERED_WITHIN_DAYS: i64 = 14;
/// Days after a new flag whose probability is the one that a record is held against, as the price does. Our choice.
const NEWS_SETTLE_DAYS: i64 = 4;

/// What is the same for every cow on a day.
pub struct Context<'a> {
    /// Day number.
    pub day: i64,
    /// The day.
    pub date: Date,
    /// What may be the matter.
    pub hypotheses: &'a Hypotheses,
    /// How well measures repeat.
    pub noise: &'a Noise,
    /// The farm's link.
    pub learner: &'a Learner,
    /// The herd's events against what was expected.
    pub counted: [f64; 6],
    /// Where the flags begin today.
    pub limits: Limits,
    /// See [`crate::score::ScoreSettings::unseen_days`].
    pub no_data_days: u32,
    /// Whether to record for the smoother.
    pub history: bool,
}

/// What a cow's day gives.
pub struct DayFigures {
    /// Her row.
    pub row: CowDay,
    /// What her passages teach.
    pub lessons: Vec<Lesson>,
    /// Pairs of passages of the day, in SD of a passage.
    pub pairs: Vec<(PerMeasure, PerMeasure)>,
    /// Two consecutive days, in SD of a day.
    pub neighbours: Option<(PerMeasure, PerMeasure)>,
    /// How her usual values swing.
    pub swing: Option<SwingLesson>,
    /// The limits at which she steps up, where she was judged.
    pub rises: Option<Rises>,
}

/// One cow.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct Track {
    pub(super) animal: AnimalId,
    #[serde(skip)]
    registered: bool,
    #[serde(skip)]
    parity: Option<u8>,
    /// Day numbers of her calvings with the lactation each began, by day.
    #[serde(skip)]
    calvings: Vec<(i64, Option<u8>)>,
    #[serde(skip)]
    works: Vec<DatedWork>,
    filter: Option<Filter>,
    identity: OddPassages,
    saved: Option<Saved>,
    step: Flag,
    steps: Steps,
    /// The day of her last new flag, and her probability then and in the days after, until a record answers it.
    news: Option<(i64, f64)>,
    passages: u32,
    last_day: i64,
    #[serde(skip)]
    levels: Option<Levels>,
    /// The last two days on which she was measured and not under treatment, latest last.
    settled: [Option<(i64, Levels)>; 2],
    recent: Recent,
    usual: AnchoredValues,
    charts: [Ewma; 2],
    days: VecDeque<(i64, PerMeasure, PerMeasure)>,
    /// The last day that taught, in SD of a day.
    taught: Option<(i64, PerMeasure)>,
    #[serde(skip)]
    strangers: Vec<Measured>,
    #[serde(skip)]
    recorded: Vec<Recorded>,
    #[serde(skip)]
    fresh: bool,
}

impl Track {
    /// A cow of whom nothing is known.
    #[must_use]
    pub fn new(animal: AnimalId) -> Self {
        Self {
            animal,
            registered: false,
            parity: None,
            calvings: Vec::new(),
            works: Vec::new(),
            filter: None,
            identity: OddPassages::default(),
            saved: None,
            step: Flag::Clear,
            steps: Steps::default(),
            news: None,
            passages: 0,
            last_day: i64::MIN,
            levels: None,
            settled: [None; 2],
            recent: Recent::default(),
            usual: AnchoredValues::default(),
            charts: [Ewma::of_cow(); 2],
            days: VecDeque::new(),
            taught: None,
            strangers: Vec::new(),
            recorded: Vec::new(),
            fresh: false,
        }
    }

    /// Which animal.
    #[must_use]
    pub const fn animal(&self) -> &AnimalId {
        &self.animal
    }

    /// What is believed of her; none before she was seen.
    pub(super) const fn filter(&self) -> Option<&Filter> {
        self.filter.as_ref()
    }

    /// Her trusted passages so far.
    pub(super) const fn passages(&self) -> u32 {
        self.passages
    }

    /// Her step of the ladder.
    pub(super) const fn step(&self) -> Flag {
        self.step
    }

    /// The work on her feet.
    pub(super) fn works(&self) -> &[DatedWork] {
        &self.works
    }

    /// Forgets what the register and the records say of her, to be told anew.
    pub fn forget_records(&mut self) {
        (self.registered, self.parity) = (false, None);
        self.calvings.clear();
        self.works.clear();
    }

    /// A record of her feet or her walk answers her last new flag, once: its probability, if it is that fresh.
    pub fn answered(&mut self, day: i64) -> Option<f64> {
        self.news.take().filter(|(since, _)| day - since <= ANSWERED_WITHIN_DAYS).map(|(_, p)| p)
    }

    /// A line of the register; a cow may have one for each calving.
    pub fn register(&mut self, entry: &HerdEntry) {
        self.registered = true;
        match entry.calving_date {
            Some(date) => {
                self.calvings.push((day_number(date), entry.parity));
                self.calvings.sort_unstable();
            }
            None => self.parity = entry.parity,
        }
    }

    /// A trim, a treatment or a look.
    pub fn add_work(&mut self, work: &FootWork) {
        self.works.push(DatedWork::new(work));
    }

    /// Her group on a day. A calving to come is not known yet, and she was a lactation younger.
    #[must_use]
    pub fn group(&self, day: i64) -> usize {
        let known = self.calvings.iter().rev().find(|c| c.0 <= day);
        match (known, self.calvings.first()) {
            (Some(&(calving, parity)), _) => group(parity, Some(day - calving)),
            (None, Some(&(_, parity))) => group(parity.map(|p| p.saturating_sub(1)), None),
            (None, None) => group(self.parity, None),
        }
    }

    /// Today's probabilities of sound and of each level, before the farm's scores; `None` if not measured today.
    #[must_use]
    pub const fn levels(&self) -> Option<Levels> {
        self.levels
    }

    /// The same of the last days before `day` on which she was measured and not under treatment.
    #[must_use]
    pub fn levels_before(&self, day: i64) -> Option<Levels> {
        let found = self.settled.iter().rev().flatten().find(|settled| settled.0 < day);
        found.filter(|settled| day - settled.0 <= FEET_DAYS).map(|settled| settled.1)
    }

    /// Her rate of an event, shifts front and rear, then lifts by leg.
    #[must_use]
    pub fn event_rate(&self, event: usize) -> Option<f64> {
        self.filter.as_ref().map(|f| f.rates[event].per_minute())
    }

    /// Group, baseline and its variance, where it is known well enough to teach the herd's middle.
    #[must_use]
    pub fn known_baseline(&self) -> Option<(usize, PerMeasure, PerMeasure)> {
        let filter = self.filter.as_ref().filter(|f| f.days_seen >= 2 && f.lame() < SOUND_ENOUGH)?;
        let levels: [_; MEASURES] = std::array::from_fn(|k| filter.base(k));
        let seen = |k: usize| self.recent.mean[k].is_nan();
        let value = std::array::from_fn(|k| if seen(k) { f64::NAN } else { levels[k].mean });
        Some((self.group(self.last_day), value, levels.map(|l| l.variance)))
    }

    /// The day begins: a night has passed, she may have calved, a block may have come on or off.
    pub fn begin(&mut self, day: i64, hypotheses: &Hypotheses, noise: &Noise) {
        self.strangers.clear();
        self.levels = None;
        let standing = WorkStanding::of(&self.works, day);
        let calved = self.calvings.iter().any(|c| c.0 == day);
        self.identity.wait(calved);
        let Some(filter) = &mut self.filter else { return };
        if calved {
            self.usual = AnchoredValues::default();
            // Udder and belly change the front share and with it the baseline. Our choice of size: a point.
            for baseline in filter.baseline.iter_mut() {
                baseline.variance[Measure::FrontShare as usize] += 1.0;
                baseline.variance[Measure::PeakFront as usize] += 0.5;
            }
        }
        match (&self.saved, standing.block) {
            (None, Some(leg)) => self.saved = Some(block_on(filter, leg, day)),
            (Some(saved), now) if now != Some(saved.leg()) => {
                block_off(filter, saved, noise, day);
                self.saved = now.map(|leg| block_on(filter, leg, day));
            }
            _ => {}
        }
        filter.wait(hypotheses, noise, standing.treated() || standing.healing);
    }

    /// She is seen for the first time.
    pub fn create(
        &mut self,
        hypotheses: &Hypotheses,
        noise: &Noise,
        prior: &HerdPrior,
        rates: [Rate; 6],
        day: i64,
    ) {
        if self.filter.is_none() {
            let swing = std::array::from_fn(|k| noise.swing(k));
            let usual = prior.of(self.group(day)).swinging(&swing);
            self.filter = Some(Filter::new(hypotheses, &usual, rates));
            self.fresh = true;
        }
    }

    /// What belonged to the lanes is her own.
    pub fn take(&mut self, part: &PerMeasure) {
        self.filter.iter_mut().for_each(|filter| filter.take(part));
        self.saved.iter_mut().for_each(|saved| saved.take(part));
        let values = self.days.iter_mut().map(|day| &mut day.1).chain([&mut self.recent.mean]);
        values.for_each(|values| values.iter_mut().zip(part).for_each(|(value, part)| *value += part));
    }

    /// What the values of a day of hers, in the terms of the first lane, say of the whole herd; `None` where she is
    /// lame or treated.
    #[must_use]
    pub fn off_usual(&self, day: &DayMeasure) -> Option<Witness> {
        self.steady().then(|| Witness::of_measures(&self.usual.off(&day.value), &day.variance))
    }

    /// What is usual for her learns from such a day.
    pub fn learn_usual(&mut self, day: &DayMeasure, shift: &PerMeasure) {
        if self.steady() {
            self.usual.learn(&day.value, &day.variance, shift);
        }
    }

    fn steady(&self) -> bool {
        self.saved.is_none() && self.filter.as_ref().is_some_and(|filter| filter.lame() < SOUND_ENOUGH)
    }

    /// What she says of a lane, from her trusted passages there, and her day in it.
    #[must_use]
    pub fn witness(
        &self,
        here: &[Measured],
        hypotheses: &Hypotheses,
        noise: &Noise,
    ) -> Option<(Witness, DayMeasure)> {
        let filter = self.filter.as_ref()?;
        let expected = filter.expected(hypotheses);
        let day = filter.combine(here, &expected, noise, 1.0);
        let mut witness =
            Witness { residual: [f64::NAN; MEASURES + 1], variance: [f64::INFINITY; MEASURES + 1] };
        for k in 0..MEASURES {
            witness.residual[k] = day.value[k] - expected.mean[k];
            witness.variance[k] = day.variance[k] + expected.variance[k];
        }
        let offs: Vec<_> = here.iter().filter_map(|p| self.identity.weight_off(p, noise.weight())).collect();
        if !offs.is_empty() {
            witness.residual[WEIGHT] = offs.iter().map(|o| o.0).sum::<f64>() / offs.len() as f64;
            witness.variance[WEIGHT] = offs[0].1;
        }
        Some((witness, day))
    }

    fn sort_out(
        &mut self,
        today: &[(Measured, usize)],
        context: &Context<'_>,
    ) -> (Vec<(Measured, usize)>, Vec<NotHers>) {
        let (mut hers, mut others) = (Vec::with_capacity(today.len()), Vec::new());
        let Some(filter) = &self.filter else { return (hers, others) };
        let mut strange = Vec::new();
        for &(passage, hour) in today {
            let oddness = filter.oddness(context.hypotheses, context.noise, &passage);
            match self.identity.judge(&passage, context.noise.weight(), oddness, filter.days_seen) {
                None => hers.push((passage, hour)),
                Some(why) => {
                    if matches!(why, NotHers::Weight(..)) {
                        strange.push(passage.weight);
                    }
                    others.push(why);
                    self.strangers.push(passage);
                }
            }
        }
        let mean = (!strange.is_empty()).then(|| strange.iter().sum::<f64>() / strange.len() as f64);
        let patterns = (others.len() - strange.len()) as u32;
        let own: Vec<Measured> = hers.iter().map(|h| h.0).collect();
        if self.identity.learn(&own, context.noise.weight(), mean, patterns) {
            // Another animal has worn this tag for long enough: start again.
            self.filter = None;
            self.passages = 0;
            self.recent = Recent::default();
            self.usual = AnchoredValues::default();
            self.days.clear();
            self.step = Flag::Clear;
        }
        (hers, others)
    }

    /// The day's passages, hour and lane taken out, come in; `None` for a cow not known yet.
    pub fn day(&mut self, today: &[(Measured, usize)], context: &Context<'_>) -> Option<DayFigures> {
        if self.filter.is_none() && !self.registered {
            return None;
        }
        let standing = WorkStanding::of(&self.works, context.day);
        let (hers, others) = self.sort_out(today, context);
        let mut done = DayFigures {
            row: self.empty_row(context.date),
            lessons: Vec::new(),
            pairs: Vec::new(),
            neighbours: None,
            swing: None,
            rises: None,
        };
        if let Some(mut filter) = self.filter.take() {
            if hers.is_empty() {
                filter.miss();
            } else {
                self.learn_day(&mut filter, &hers, &standing, context, &mut done);
            }
            if let Some(lesions) = found(&self.works, context.day) {
                filter.lift(context.hypotheses, &lesions);
            }
            if context.history {
                self.recorded.push(Recorded::of(context.date, &filter, !hers.is_empty()));
            }
            self.write_row(&filter, &standing, &others, hers.len() as u32, context, &mut done);
            self.filter = Some(filter);
        }
        self.fresh = false;
        Some(done)
    }

    fn learn_day(
        &mut self,
        filter: &mut Filter,
        hers: &[(Measured, usize)],
        standing: &WorkStanding,
        context: &Context<'_>,
        done: &mut DayFigures,
    ) {
        let noise = context.noise;
        let expected = filter.expected(context.hypotheses);
        let passages: Vec<Measured> = hers.iter().map(|h| h.0).collect();
        let wider = if standing.fresh() { UNSETTLED_WIDER } else { 1.0 };
        let day = filter.combine(&passages, &expected, noise, wider);
        let settled = filter.days_seen >= BASELINE_DAYS && !standing.treated();
        if settled && filter.lame() < LIKELY_SOUND {
            self.teach(filter, hers, &expected, &day, context, done);
        }
        self.chart(&day, &expected, filter);
        filter.see(context.hypotheses, &day, &context.counted, noise.evidence_weight());
        self.recent.see(&day);
        self.passages += day.passages;
        self.last_day = context.day;
    }

    /// EWMA of the two splits against her sound baseline.
    fn chart(&mut self, day: &DayMeasure, expected: &Expected, filter: &Filter) {
        for (k, chart) in self.charts.iter_mut().enumerate() {
            if !day.value[k].is_nan() && filter.days_seen >= BASELINE_DAYS {
                let sound = filter.base(k);
                let sd = (day.variance[k] + sound.variance.min(expected.variance[k])).sqrt();
                chart.see((day.value[k] - sound.mean) / sd);
            }
        }
    }

    /// Weight and measures of today's passages that were set aside, and her own.
    pub(super) fn strangers(&self) -> (&[Measured], Option<(&Filter, f64)>) {
        (&self.strangers, self.filter.as_ref().map(|f| (f, self.identity.weight.mean)))
    }

    /// The smoothed history: every day in the light of all days.
    #[must_use]
    pub fn history(&self, hypotheses: &Hypotheses) -> Vec<HistoryDay> {
        crate::score::course::history::smooth(&self.animal, &self.recorded, hypotheses)
    }
}
