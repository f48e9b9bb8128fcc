//! A cow's leg shares as a line picture: coordinates only, the template draws them.

use crate::arithmetic::dates::days_between;
use crate::record::Flag;
use crate::record::finding::DayEvent;
use crate::report::cow::Card;
use crate::report::words::Words;
use jiff::civil::Date;
use serde::Serialize;
use shared::plate::Leg;

/// Size of the picture and of the field the lines are drawn in, in its own units.
const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 360.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 46.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 56.0;
/// Names of the legs stand at least so far apart.
const APART: f64 = 20.0;
/// What tells the legs apart without colour: how their lines are broken, in the order of the legs.
pub(super) const BROKEN: [&str; 4] = ["none", "2 5", "12 5", "14 4 2 4"];
/// Least range of the scale, % of body weight: our choice.
const LEAST_RANGE: f64 = 10.0;

/// The picture.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Picture {
    width: f64,
    height: f64,
    left: f64,
    right: f64,
    bottom: f64,
    lines: Vec<DrawnLine>,
    /// Height and words of the scale.
    scale: Vec<(f64, String)>,
    /// Place and words of the days.
    days: Vec<(f64, String)>,
    /// Place and width of the days with a block on.
    blocks: Vec<(f64, f64)>,
    /// Place and letter of what was done.
    marks: Vec<(f64, &'static str)>,
    /// The first and the last day, and the width of one.
    #[serde(skip)]
    span: (Date, Date, f64),
}

/// One leg's line.
#[derive(Clone, Debug, PartialEq, Serialize)]
struct DrawnLine {
    leg: &'static str,
    spared: bool,
    /// How its line is broken.
    broken: &'static str,
    /// Height of its name, beside the last day.
    name: f64,
    /// `x,y` of each day in a row without a gap.
    runs: Vec<String>,
    /// Each day.
    dots: Vec<(f64, f64)>,
    /// Height of her usual share.
    usual: Option<f64>,
    /// Top and height of the band of her usual shares.
    band: Option<(f64, f64)>,
}

impl Picture {
    /// The picture of a card; `None` where she never stood.
    #[must_use]
    pub fn new(card: &Card, from: Date, to: Date, words: &Words) -> Option<Self> {
        let values =
            || card.days.iter().flat_map(|day| Leg::ALL.into_iter().filter_map(|leg| day.share(leg)));
        let usual = |leg| card.usual_share_pct.map(|usual| usual.of(leg));
        let range = |leg| Some((card.usual_low_pct?.of(leg), card.usual_high_pct?.of(leg)));
        let (low, high) = values()
            .chain(Leg::ALL.into_iter().filter_map(usual))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
        values().next()?;
        let spare = ((LEAST_RANGE - (high - low)) / 2.0).max(1.0);
        let (low, high) = ((low - spare).floor(), (high + spare).ceil());
        let span = f64::from(days_between(from, to).max(1));
        let step = (WIDTH - LEFT - RIGHT) / span;
        let x = |date: Date| across(from, step, date);
        let y = |value: f64| round(TOP + (HEIGHT - TOP - BOTTOM) * (high - value) / (high - low));
        let mut lines = Leg::ALL.map(|leg| {
            let points: Vec<(Date, f64)> =
                card.days.iter().filter_map(|day| Some((day.date, day.share(leg)?))).collect();
            DrawnLine {
                leg: leg.name(),
                broken: BROKEN[leg as usize],
                name: points.last().map_or(HEIGHT, |(_, value)| y(*value)),
                spared: card.leg.is_some_and(|spared| {
                    spared == leg.name()
                        || spared == "both front" && matches!(leg, Leg::LF | Leg::RF)
                        || spared == "both rear" && matches!(leg, Leg::LR | Leg::RR)
                }),
                runs: runs(&points, x, y),
                dots: points.iter().map(|(date, value)| (x(*date), y(*value))).collect(),
                usual: usual(leg).map(y),
                band: range(leg).map(|(low, high)| (y(high), round(y(low) - y(high)))),
            }
        });
        spread(&mut lines);
        let each = if high - low > 20.0 { 10 } else { 5 };
        let scale = (low as i32..=high as i32)
            .filter(|value| value % each == 0)
            .map(|value| (y(f64::from(value)), value.to_string()))
            .collect();
        let labels = (span as i64 / 5).max(1);
        let days = from
            .series(jiff::Span::new().days(labels))
            .take_while(|date| *date <= to)
            .map(|date| (x(date), words.day(date)))
            .collect();
        let marks = card
            .days
            .iter()
            .flat_map(|day| {
                let work = |event: &DayEvent| matches!(event, DayEvent::FootWork { .. });
                let work = day.events.iter().any(work).then_some("T");
                let scored = |event: &DayEvent| matches!(event, DayEvent::Scored { .. });
                let scored = day.events.iter().any(scored).then_some("S");
                let flagged = day.flag.is_some_and(|flag| flag >= Flag::Check).then_some("!");
                let letter = work.or(scored).or(flagged)?;
                Some((x(day.date), letter))
            })
            .collect();
        Some(Self {
            width: WIDTH,
            height: HEIGHT,
            left: LEFT,
            right: WIDTH - RIGHT,
            bottom: HEIGHT - BOTTOM,
            lines: lines.into(),
            scale,
            days,
            blocks: card
                .days
                .iter()
                .filter(|day| day.block_on)
                .map(|day| (round(x(day.date) - step / 2.0), round(step)))
                .collect(),
            marks,
            span: (from, to, step),
        })
    }

    /// Marks a day with a letter, where it is in the picture.
    pub fn mark(&mut self, date: Date, letter: &'static str) {
        let (from, to, step) = self.span;
        if (from..=to).contains(&date) {
            self.marks.push((across(from, step, date), letter));
        }
    }
}

/// Moves the names of the legs down until none covers another.
fn spread(lines: &mut [DrawnLine; 4]) {
    let mut order = [0, 1, 2, 3];
    order.sort_by(|&a, &b| lines[a].name.total_cmp(&lines[b].name));
    for pair in order.windows(2) {
        lines[pair[1]].name = lines[pair[1]].name.max(lines[pair[0]].name + APART);
    }
}

fn round(value: f64) -> f64 {
    (10.0 * value).round() / 10.0
}

/// Where a day lies, of days `step` wide from the first one on.
fn across(from: Date, step: f64, date: Date) -> f64 {
    round(LEFT + step * f64::from(days_between(from, date)))
}

/// `x,y` of each day, a text for each row of days without a gap.
fn runs(points: &[(Date, f64)], x: impl Fn(Date) -> f64, y: impl Fn(f64) -> f64) -> Vec<String> {
    let place = |(date, value): &(Date, f64)| format!("{},{}", x(*date), y(*value));
    points
        .chunk_by(|a, b| days_between(a.0, b.0) <= 1)
        .map(|run| run.iter().map(place).collect::<Vec<_>>().join(" "))
        .collect()
}

/// Her weight by day: a low picture with a scale of its own.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Weight {
    width: f64,
    height: f64,
    left: f64,
    right: f64,
    scale: Vec<(f64, String)>,
    runs: Vec<String>,
    dots: Vec<(f64, f64)>,
}

/// Height of the picture of her weight, and its least range, kg: our choice.
const WEIGHT_HEIGHT: f64 = 160.0;
const LEAST_KG: f64 = 40.0;

/// The picture of her weight; `None` where she was never weighed.
pub fn weight(card: &Card, from: Date, to: Date, words: &Words) -> Option<Weight> {
    let days: Vec<(Date, f64)> =
        card.days.iter().filter_map(|day| Some((day.date, day.body_weight_kg?))).collect();
    let of = |pick: fn(f64, f64) -> f64| days.iter().map(|(_, kg)| *kg).reduce(pick);
    let (low, high) = (of(f64::min)?, of(f64::max)?);
    let spare = ((LEAST_KG - (high - low)) / 2.0).max(2.0);
    let (low, high) = (low - spare, high + spare);
    let step = (WIDTH - LEFT - RIGHT) / f64::from(days_between(from, to).max(1));
    let x = |date: Date| across(from, step, date);
    let y = |kg: f64| round(TOP + (WEIGHT_HEIGHT - 2.0 * TOP) * (high - kg) / (high - low));
    Some(Weight {
        width: WIDTH,
        height: WEIGHT_HEIGHT,
        left: LEFT,
        right: WIDTH - RIGHT,
        scale: [low, high].map(|kg| (y(kg), words.number(kg, 0))).to_vec(),
        runs: runs(&days, x, y),
        dots: days.iter().map(|(date, kg)| (x(*date), y(*kg))).collect(),
    })
}
