//! The row that a cow's day writes.

use super::{BASELINE_DAYS, Context, DayFigures, NEWS_SETTLE_DAYS, Track};
use crate::arithmetic::dates::date_of_number;
use crate::record::finding::{Advice, Confidence, FlagReason};
use crate::record::{CowDay, Flag};
use crate::score::course::flag::{Grounds, decide};
use crate::score::course::reasons;
use crate::score::evidence::foot_work::WorkStanding;
use crate::score::evidence::identity::NotHers;
use crate::score::model::cow::Filter;
use crate::score::model::hypotheses::{LEVELS, parts};
use crate::score::settings::SEVERE_LEVEL;
use jiff::civil::Date;
use shared::plate::PerLeg;

impl Track {
    pub(super) fn empty_row(&self, date: Date) -> CowDay {
        CowDay {
            animal: self.animal.clone(),
            date,
            flag: Flag::NoData,
            probability: None,
            place: None,
            place_probability: None,
            leg_probability: PerLeg([0.0; 4]),
            since: None,
            reasons: vec![FlagReason::NoTrustedPassage],
            confidence: Confidence::Low,
            advice: Some(Advice::TaggedPassage),
            passages: 0,
            block_on: false,
            days_since_trim: None,
        }
    }

    pub(super) fn write_row(
        &mut self,
        filter: &Filter,
        standing: &WorkStanding,
        others: &[NotHers],
        passages: u32,
        context: &Context<'_>,
        done: &mut DayFigures,
    ) {
        let hypotheses = context.hypotheses;
        let mut levels = [0.0; LEVELS + 1];
        for (s, &p) in filter.probability.iter().enumerate() {
            levels[parts(s).map_or(0, |(_, level)| level + 1)] += p;
        }
        let severe: f64 = levels[SEVERE_LEVEL + 1..].iter().sum();
        let probability = context.learner.apply(&levels);
        let unseen_days = context.day.saturating_sub(self.last_day);
        let grounds = Grounds {
            probability,
            severe,
            passages: self.passages,
            unseen_days,
            no_data_days: context.no_data_days,
            baseline_unsure: filter.days_seen < BASELINE_DAYS,
            not_hers: passages == 0 && !others.is_empty(),
            treated: standing.treated(),
        };
        let (flag, step) = decide(self.step, &grounds, &context.limits);
        if passages > 0 && !grounds.treated {
            done.rises = Some(self.steps.day(probability));
        }
        let new = flag >= Flag::Check && self.step < Flag::Check;
        self.news = news(self.news, new, (context.day, probability));
        let row = &mut done.row;
        self.step = step;
        row.flag = flag;
        row.passages = passages;
        row.block_on = standing.block.is_some();
        row.days_since_trim = standing.unsettled;
        if flag == Flag::NoData {
            row.reasons = vec![reasons::unseen(self.passages, unseen_days)];
            reasons::not_hers(others, &mut row.reasons);
            return;
        }
        if passages > 0 {
            self.levels = Some(levels);
            if !standing.treated() {
                self.settled = [self.settled[1], Some((context.day, levels))];
            }
        }
        row.probability = Some(probability);
        reasons::place(filter, row);
        if flag >= Flag::Watch || flag == Flag::CannotTell {
            row.since = reasons::since(filter, hypotheses, context.day)
                .map(|days| days.map(date_of_number))
                .map(|[earliest, likeliest, latest]| (earliest, likeliest, latest));
        }
        reasons::write(
            &reasons::FindingInput {
                filter,
                recent: &self.recent,
                charts: &self.charts,
                identity: &self.identity,
                standing,
                others,
                grounds: &grounds,
                day: context.day,
            },
            row,
        );
    }
}

/// The day of her last new flag, and her probability then and while it settles.
pub(super) fn news(
    before: Option<(i64, f64)>,
    new: bool,
    (day, probability): (i64, f64),
) -> Option<(i64, f64)> {
    match before {
        _ if new => Some((day, probability)),
        Some((since, _)) if day - since <= NEWS_SETTLE_DAYS => Some((since, probability)),
        before => before,
    }
}
