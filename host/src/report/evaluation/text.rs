//! The evaluation in words, 80 columns.

use crate::arithmetic::statistics::Interval;
use crate::evaluate::Evaluation;
use crate::evaluate::figures::Figure;
use crate::evaluate::plain::{PlainPoint, Rule};
use crate::evaluate::price::PricePoint;
use crate::evaluate::roc::hanley_mcneil_se;
use crate::evaluate::timing::{EARLY_DAYS, ONSET_GAP_DAYS, SLOW_ONSET_DAYS};
use crate::record::Place;
use crate::report::list::text::heading;
use crate::report::text::{align_right, count, render as render_table, table, thousands, wrapped};
use std::fmt::Write;

/// Published single sessions: rear-leg load spread standing against gait score, 28 lame and 29 not (Chapinal et al.,
/// J Dairy Sci).
const PUBLISHED: (f64, f64, f64) = (0.71, 28.0, 29.0);

/// Figures in the order printed: name, words, whether a share of 1, digits.
const LINES: [(&str, &str, bool); 17] = [
    ("auc", "area under the ROC curve", false),
    ("average_precision", "average precision", false),
    ("sensitivity", "lame cows flagged (sensitivity)", true),
    ("specificity", "sound cows not flagged (specificity)", true),
    ("ppv", "flagged cows that are lame (PPV)", true),
    ("npv", "unflagged that are sound (NPV)", true),
    ("ppv_at_prevalence", "PPV at the herd's prevalence", true),
    ("npv_at_prevalence", "NPV at the herd's prevalence", true),
    ("leg_right", "right leg, of lame and flagged", true),
    ("median_days_to_flag", "median days from lame to flag", false),
    ("median_days_to_flag_sudden", "  of sudden cases", false),
    ("median_days_to_flag_slow", "  of slow cases", false),
    ("false_alarms_per_100_cow_weeks", "false alarms, 100 cows a week", false),
    ("brier", "Brier score (0 is best)", false),
    ("calibration_slope", "calibration slope (1 is best)", false),
    ("calibration_intercept", "calibration intercept (0 is best)", false),
    ("kappa_quadratic_flag_and_score", "weighted kappa, flag and score", false),
];

/// The few figures of a second truth, in the same way.
const BESIDE: [(&str, &str, bool); 4] = [
    ("auc", "area under the ROC curve", false),
    ("sensitivity", "cows with a lesion that were flagged", true),
    ("ppv", "flagged cows that had a lesion", true),
    ("leg_right", "right leg, of those flagged", true),
];

/// The evaluation in words; `against` says what the truth is.
#[must_use]
pub fn render(evaluation: &Evaluation, plain: &[PlainPoint], against: &str) -> String {
    let mut out = String::new();
    let tally = &evaluation.tally;
    heading(&mut out, &format!("How good the list is here, against {against}"));
    let limit = evaluation.limit.map_or_else(
        || "flags check and urgent".to_owned(),
        |limit| format!("a probability of {limit} or more"),
    );
    wrapped(
        &mut out,
        "",
        &format!(
            "{} of {}: {} lame (true score 2 or more), {} not. Flagged means {limit}.",
            count((tally.lame + tally.sound) as usize, "judged row", "judged rows"),
            count(tally.cows, "cow", "cows"),
            thousands(tally.lame as usize),
            thousands(tally.sound as usize),
        ),
    );
    wrapped(
        &mut out,
        "",
        &format!(
            "Left out: {} lame and {} sound that could not be judged, {} without a row. Block on or just trimmed: {}.",
            thousands(tally.lame_not_judged as usize),
            thousands(tally.sound_not_judged as usize),
            count(tally.without_row, "truth", "truths"),
            thousands(tally.unsettled as usize),
        ),
    );
    let _ = writeln!(out, "\n{:<38}{:>8}   {:<15}  95 %, by row", "", "", "95 %, by cow");
    for (name, words, is_share) in LINES {
        let figure = evaluation.figure(name);
        if figure.value.is_some() {
            let _ = writeln!(out, "{}", line(words, figure, is_share).trim_end());
        }
    }
    let _ = writeln!(out);
    notes(&mut out, evaluation);
    price(&mut out, evaluation, plain);
    legs(&mut out, evaluation);
    classes(&mut out, evaluation);
    out
}

/// A few figures of a second truth, under those of the first.
#[must_use]
pub fn beside(evaluation: &Evaluation, against: &str) -> String {
    let mut out = String::new();
    heading(&mut out, &format!("Against {against}"));
    let tally = &evaluation.tally;
    let rows = count((tally.lame + tally.sound) as usize, "judged row", "judged rows");
    let cows = count(tally.cows, "cow", "cows");
    wrapped(
        &mut out,
        "",
        &format!(
            "{rows} of {cows}, the day before the feet were lifted: {} with a lesion, {} without.",
            thousands(tally.lame as usize),
            thousands(tally.sound as usize)
        ),
    );
    for (name, words, is_share) in BESIDE {
        let _ = writeln!(out, "{}", line(words, evaluation.figure(name), is_share).trim_end());
    }
    out
}

fn line(words: &str, figure: Figure, is_share: bool) -> String {
    let number = |value: f64| {
        if is_share { format!("{:.1} %", 100.0 * value) } else { format!("{}", Short(value)) }
    };
    let span = |interval: Option<Interval>| {
        interval.map_or_else(String::new, |i| {
            if is_share {
                format!("{:.1} to {:.1}", 100.0 * i.lower, 100.0 * i.upper)
            } else {
                format!("{} to {}", Short(i.lower), Short(i.upper))
            }
        })
    };
    let value = figure.value.map_or_else(|| "-".to_owned(), number);
    format!("{words:<38}{value:>8}   {:<15}  {:<14}", span(figure.by_cow), span(figure.by_row))
}

/// Three digits after the point below ten, one above; whole numbers as such.
struct Short(f64);

impl std::fmt::Display for Short {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.0 {
            whole if whole.fract() == 0.0 => write!(f, "{whole:.0}"),
            small if small.abs() < 10.0 => write!(f, "{small:.3}"),
            large => write!(f, "{large:.1}"),
        }
    }
}

/// What each limit gives for its needless looks.
fn price(out: &mut String, evaluation: &Evaluation, plain: &[PlainPoint]) {
    if evaluation.onsets.is_empty() {
        return;
    }
    heading(out, "Days to a flag against needless looks");
    let mut rows = table(&["limit", "needless", "never flagged", "sudden", "slow"]);
    align_right(&mut rows, &[0, 1, 2, 3, 4]);
    let number =
        |value: Option<f64>, digits: usize| value.map_or("-".to_owned(), |v| format!("{v:.digits$}"));
    let mut add = |name: String, point: &PricePoint| {
        rows.add_row([
            name,
            number(point.needless_looks, 2),
            format!("{} of {}", point.never_flagged, point.onsets),
            number(point.days_sudden, 1),
            number(point.days_slow, 1),
        ]);
    };
    for point in &evaluation.price_curve {
        add(point.limit.map_or("as flagged".to_owned(), |limit| format!("{limit:.2}")), point);
    }
    for PlainPoint { rule, point, .. } in plain {
        let rule = match rule {
            Rule::LegWeightRatio => "leg weight ratio",
            Rule::SymmetryChart => "symmetry chart",
        };
        add(rule.to_owned(), point);
    }
    out.push_str(&render_table(&rows));
    wrapped(
        out,
        "",
        "Limit: `check` from this probability. Needless: new flags on cows that were not lame, per 100 cows a week. \
         Sudden, slow: median days to a flag. Leg weight ratio, symmetry chart: plain limits on the worse pair, for no \
         more needless looks than the flags cost. The farm's setting needless_looks \
         chooses the limit from the herd's own probabilities, day by day.",
    );
}

fn notes(out: &mut String, evaluation: &Evaluation) {
    wrapped(
        out,
        "",
        "\"By cow\" draws whole cows again; \"by row\" (DeLong, Wilson) takes each day as separate evidence and is too \
         narrow where a cow has many.",
    );
    wrapped(out, "", &format!("Herd's prevalence used: {:.1} %.", 100.0 * evaluation.prevalence));
    if let Some(settled) = evaluation.auc_settled.filter(|_| evaluation.tally.unsettled > 0) {
        wrapped(
            out,
            "",
            &format!(
                "Without rows with a block or just after a trim: area {:.3} ({:.3} to {:.3}).",
                settled.auc, settled.interval.lower, settled.interval.upper
            ),
        );
    }
    if !evaluation.onsets.is_empty() {
        let never = evaluation.onsets.iter().filter(|onset| onset.days_to_flag.is_none()).count();
        wrapped(
            out,
            "",
            &format!(
                "Went lame {} with the day known to {ONSET_GAP_DAYS} days; never flagged: {never}. Slow: more than \
                 {SLOW_ONSET_DAYS} days from a true 0 to 2.",
                count(evaluation.onsets.len(), "time", "times")
            ),
        );
    }
    let alarms = &evaluation.false_alarms;
    wrapped(
        out,
        "",
        &format!(
            "False alarms: {} in {}; {} of them on cows that were lame within {EARLY_DAYS} days.",
            thousands(alarms.alarms as usize),
            count(
                alarms.sound_days as usize,
                "day of a cow that was not lame",
                "days of cows that were not lame"
            ),
            thousands(alarms.early as usize)
        ),
    );
    let (auc, lame, sound) = PUBLISHED;
    let reach = crate::arithmetic::statistics::Z95 * hanley_mcneil_se(auc, lame, sound);
    wrapped(
        out,
        "",
        &format!(
            "For comparison, a published single session of standing against gait score: area {auc} ({:.2} to {:.2}).",
            auc - reach,
            auc + reach
        ),
    );
}

fn legs(out: &mut String, evaluation: &Evaluation) {
    if evaluation.legs.iter().flatten().sum::<f64>() == 0.0 {
        return;
    }
    heading(out, "Which leg (row: true, column: said)");
    let _ = write!(out, "{:<12}", "");
    Place::ALL.iter().for_each(|place| {
        let _ = write!(out, "{:>11}", place.name());
    });
    let _ = writeln!(out);
    for (place, row) in Place::ALL.iter().zip(&evaluation.legs) {
        let _ = write!(out, "{:<12}", place.name());
        row.iter().for_each(|number| {
            let _ = write!(out, "{number:>11.0}");
        });
        let _ = writeln!(out);
    }
}

fn classes(out: &mut String, evaluation: &Evaluation) {
    heading(out, "Flag (row) and true score (column)");
    let _ = writeln!(out, "{:<12}{:>11}{:>11}{:>11}{:>11}", "", 0, 1, 2, 3);
    for (name, row) in ["clear", "watch", "check", "urgent"].iter().zip(&evaluation.flags_by_score) {
        let _ = write!(out, "{name:<12}");
        row.iter().for_each(|number| {
            let _ = write!(out, "{number:>11.0}");
        });
        let _ = writeln!(out);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::figures::tests::recorded_pairs;
    use crate::evaluate::{Options, evaluate};
    use shared::plate::Leg;

    // The text was read by eye; a change of it must be read again.
    #[test]
    fn the_words_are_those_that_were_read() {
        let mut pairs = recorded_pairs();
        for (index, row) in pairs.rows.iter_mut().enumerate() {
            row.unsettled = index % 40 == 0;
            row.true_place = row.lame.then_some(Place::One(Leg::RR));
            row.place = Some(if index % 9 == 0 { Place::BothRear } else { Place::One(Leg::RR) });
        }
        let found = evaluate(&pairs, &Options { draws: 200, ..Options::default() }).unwrap();
        let text = render(&found, &[], "mobility scores") + &beside(&found, "lesions found (of chosen cows)");
        let plain = anstream::adapter::strip_str(&text).to_string();
        assert!(plain.lines().all(|line| line.chars().count() <= 80), "{plain}");
        if std::env::var_os("UPDATE_SHOWN").is_some() {
            std::fs::write(
                concat!(env!("CARGO_MANIFEST_DIR"), "/src/report/evaluation/text/recorded.txt"),
                &text,
            )
            .unwrap();
        }
        assert_eq!(text, include_str!("text/recorded.txt"), "{text}");
    }
}
