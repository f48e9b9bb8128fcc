//! The evaluation as a picture: ROC, precision-recall, calibration, days to the flag.

use crate::evaluate::Evaluation;
use crate::report::text::{count, thousands};
use anyhow::anyhow;
use plotters::coord::Shift;
use plotters::prelude::*;

const SIZE: (u32, u32) = (1000, 930);
/// Height of the line above the charts.
const HEAD: u32 = 34;
const INK: RGBColor = RGBColor(20, 60, 110);
const PALE: RGBColor = RGBColor(150, 150, 150);
/// Words inside a chart.
const SOFT: RGBColor = RGBColor(90, 90, 90);
/// Longest delay drawn, days; later ones and nevers stand in the last bar. Our choice.
const MOST_DAYS: i32 = 14;

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Drawn = Result<(), Box<dyn std::error::Error>>;

/// The picture as SVG.
///
/// # Errors
/// When it cannot be drawn.
pub fn svg(evaluation: &Evaluation) -> anyhow::Result<String> {
    let mut text = String::new();
    draw(evaluation, &mut text).map_err(|error| anyhow!("cannot draw the plot: {error}"))?;
    Ok(text)
}

fn draw(evaluation: &Evaluation, text: &mut String) -> Drawn {
    let root = SVGBackend::with_string(text, SIZE).into_drawing_area();
    root.fill(&WHITE)?;
    let tally = &evaluation.tally;
    let (head, charts) = root.split_vertically(HEAD);
    head.draw(&Text::new(
        format!(
            "{} of {}, {} with a true score of 2 or more",
            count((tally.lame + tally.sound) as usize, "judged day", "judged days"),
            count(tally.cows, "cow", "cows"),
            thousands(tally.lame as usize)
        ),
        (14, 12),
        ("sans-serif", 18).into_font().color(&BLACK),
    ))?;
    let areas = charts.split_evenly((2, 2));
    roc(&areas[0], evaluation)?;
    precision_recall(&areas[1], evaluation)?;
    calibration(&areas[2], evaluation)?;
    delays(&areas[3], evaluation)?;
    root.present()?;
    Ok(())
}

/// A square chart of shares with its lines, points with a vertical reach, and words beside them.
struct Shares<'a> {
    title: String,
    x: &'a str,
    y: &'a str,
    line: Vec<(f64, f64)>,
    reference: [(f64, f64); 2],
    points: Vec<(f64, f64, f64, f64)>,
    words: Vec<(f64, f64, String)>,
}

fn shares(area: &Area<'_>, chart: Shares<'_>) -> Drawn {
    let mut context = ChartBuilder::on(area)
        .caption(chart.title, ("sans-serif", 20))
        .margin(14)
        .x_label_area_size(44)
        .y_label_area_size(56)
        .build_cartesian_2d(0.0..1.0, 0.0..1.0)?;
    context
        .configure_mesh()
        .light_line_style(TRANSPARENT)
        .x_desc(chart.x)
        .y_desc(chart.y)
        .x_labels(6)
        .y_labels(6)
        .label_style(("sans-serif", 15))
        .draw()?;
    context.draw_series(LineSeries::new(chart.reference, PALE))?;
    context.draw_series(LineSeries::new(chart.line, INK.stroke_width(3)))?;
    for (x, y, lower, upper) in chart.points {
        context.draw_series([PathElement::new([(x, lower), (x, upper)], INK.stroke_width(2))])?;
        context.draw_series([Circle::new((x, y), 5, INK.filled())])?;
    }
    for (x, y, words) in chart.words {
        context.draw_series([Text::new(words, (x, y), ("sans-serif", 14).into_font().color(&SOFT))])?;
    }
    Ok(())
}

fn interval(evaluation: &Evaluation, name: &str) -> String {
    let figure = evaluation.figure(name);
    let value = figure.value.map_or_else(|| "-".to_owned(), |value| format!("{value:.3}"));
    match figure.by_cow.or(figure.by_row) {
        Some(interval) => format!("{value} ({:.3} to {:.3})", interval.lower, interval.upper),
        None => value,
    }
}

fn roc(area: &Area<'_>, evaluation: &Evaluation) -> Drawn {
    let curve = evaluation.curve.iter().map(|point| (1.0 - point.specificity, point.sensitivity));
    let (se, sp) = (evaluation.figure("sensitivity"), evaluation.figure("specificity"));
    let point = se.value.zip(sp.value).map(|(se_value, sp_value)| {
        let reach = se.by_cow.or(se.by_row);
        let (lower, upper) = reach.map_or((se_value, se_value), |i| (i.lower, i.upper));
        (1.0 - sp_value, se_value, lower, upper)
    });
    let flags = evaluation.limit.map_or_else(
        || "flags check and urgent".to_owned(),
        |limit| format!("a probability of {limit} or more"),
    );
    shares(
        area,
        Shares {
            title: format!("ROC: area {}", interval(evaluation, "auc")),
            x: "sound cows flagged (1 - specificity)",
            y: "lame cows flagged (sensitivity)",
            line: std::iter::once((0.0, 0.0)).chain(curve).collect(),
            reference: [(0.0, 0.0), (1.0, 1.0)],
            words: point
                .iter()
                .map(|&(x, y, ..)| (x + 0.03, y - 0.02, format!("{flags} (95 %, by cow)")))
                .chain([(0.64, 0.58, "chance".to_owned())])
                .collect(),
            points: point.into_iter().collect(),
        },
    )
}

fn precision_recall(area: &Area<'_>, evaluation: &Evaluation) -> Drawn {
    let tally = &evaluation.tally;
    let lame = tally.lame as f64 / (tally.lame + tally.sound) as f64;
    shares(
        area,
        Shares {
            title: format!("Precision and recall: average {}", interval(evaluation, "average_precision")),
            x: "lame cows flagged (recall)",
            y: "flagged cows that are lame (precision)",
            line: evaluation.curve.iter().map(|point| (point.sensitivity, point.precision)).collect(),
            reference: [(0.0, lame), (1.0, lame)],
            points: Vec::new(),
            words: vec![(0.03, lame + 0.04, format!("lame at all: {:.0} %", 100.0 * lame))],
        },
    )
}

fn calibration(area: &Area<'_>, evaluation: &Evaluation) -> Drawn {
    let points = evaluation
        .calibration
        .iter()
        .map(|band| (band.said, band.lame.share, band.lame.wilson.lower, band.lame.wilson.upper));
    shares(
        area,
        Shares {
            title: format!("Calibration: slope {}", interval(evaluation, "calibration_slope")),
            x: "probability said",
            y: "share that was lame",
            line: Vec::new(),
            reference: [(0.0, 0.0), (1.0, 1.0)],
            points: points.collect(),
            words: vec![
                (0.03, 0.96, "lame oftener than said".to_owned()),
                (0.58, 0.06, "lame less often than said".to_owned()),
            ],
        },
    )
}

fn delays(area: &Area<'_>, evaluation: &Evaluation) -> Drawn {
    let last = MOST_DAYS + 1;
    let mut bars = vec![0u32; last as usize + 1];
    for onset in &evaluation.onsets {
        bars[onset.days_to_flag.unwrap_or(last).clamp(0, last) as usize] += 1;
    }
    let highest = bars.iter().copied().max().unwrap_or(0).max(1);
    let median = evaluation
        .figure("median_days_to_flag")
        .value
        .map_or_else(|| "no median".to_owned(), |days| format!("median {days:.0}"));
    let mut context = ChartBuilder::on(area)
        .caption(
            format!("Days from lame to flag: {median} ({})", count(evaluation.onsets.len(), "case", "cases")),
            ("sans-serif", 20),
        )
        .margin(14)
        .x_label_area_size(44)
        .y_label_area_size(56)
        .build_cartesian_2d((0..last).into_segmented(), 0..highest + highest / 10 + 1)?;
    context
        .configure_mesh()
        .disable_x_mesh()
        .light_line_style(TRANSPARENT)
        .x_desc("days; the last bar: later or never")
        .y_desc("cases")
        .x_labels(last as usize + 1)
        .x_label_formatter(&|segment| match segment {
            SegmentValue::CenterOf(day) if *day == last => format!(">{MOST_DAYS}"),
            SegmentValue::CenterOf(day) => day.to_string(),
            _ => String::new(),
        })
        .label_style(("sans-serif", 15))
        .draw()?;
    context.draw_series(
        Histogram::vertical(&context)
            .style(INK.filled())
            .margin(4)
            .data(bars.iter().enumerate().map(|(day, number)| (day as i32, *number))),
    )?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::figures::tests::recorded_pairs;
    use crate::evaluate::{Options, evaluate};

    #[test]
    fn the_picture_names_what_it_shows() {
        let found = evaluate(&recorded_pairs(), &Options { draws: 50, ..Options::default() }).unwrap();
        let picture = svg(&found).unwrap();
        assert!(picture.starts_with("<svg") && picture.trim_end().ends_with("</svg>"));
        for words in ["ROC: area", "average 0.", "Calibration: slope", "Days from lame to flag", "chance"] {
            assert!(picture.contains(words), "{words}");
        }
        assert_eq!(picture.matches("<circle").count(), 1 + found.calibration.len());
    }
}
