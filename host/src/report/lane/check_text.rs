//! What a lane can see, as text.

use crate::evaluate::repeat::Repeated;
use crate::report::lane::check::Check;
use crate::report::text;
use crate::report::words::Words;
use serde_json::json;

/// A lane's check, for people.
#[must_use]
pub fn render(check: &Check, words: &Words) -> String {
    let mut out = String::new();
    let title = words.say(
        "check-title",
        json!({
            "lane": check.lane, "from": check.from, "to": check.to, "passages": check.passages, "cows": check.cows,
        }),
    );
    text::wrapped(&mut out, "", &title);
    let unusable: Vec<String> = check
        .unusable
        .iter()
        .map(|(name, times)| format!("{} {times}", words.text(&format!("quality-{name}"))))
        .collect();
    let lines = [
        words.say("check-usable", json!({ "pct": check.usable_pct })),
        unusable.join(", "),
        words.say("check-identified", json!({ "pct": check.identified_pct, "a_day": check.a_day })),
        words.say("check-standing", json!({ "pct": check.standing_pct, "seconds": check.standing_s })),
    ];
    for line in lines.iter().filter(|line| !line.is_empty()) {
        text::wrapped(&mut out, "  ", line);
    }
    out.push_str(&text::render(&table(&check.repeated, words)));
    text::wrapped(&mut out, "", &words.text("check-explained"));
    for gain in &check.gains {
        text::wrapped(&mut out, "  - ", &words.finding(gain));
    }
    out
}

fn table(repeated: &[Repeated], words: &Words) -> comfy_table::Table {
    let columns = ["measure", "same_day", "days_apart", "day_1", "day_3", "day_7", "day_14"];
    let columns = columns.map(|id| words.text(&format!("check-column-{id}")));
    let mut table = text::table(&columns.each_ref().map(String::as_str));
    text::align_right(&mut table, &[1, 2, 3, 4, 5, 6]);
    let number = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| words.number(value, 1));
    for row in repeated {
        let mut cells = vec![
            words.text(&format!("check-measure-{}", row.measure.name())),
            number(row.within_day),
            number(row.between_days),
        ];
        cells.extend(row.changes().map(number));
        table.add_row(cells);
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented::passage;
    use crate::report::words::Language;
    use jiff::civil::date;
    use shared::analysis::Reason;

    /// The lines on the passages of two cows, of which so many cannot be used.
    fn lines(spoilt: usize) -> Vec<String> {
        let mut passages = ["1", "2"].map(|animal| passage(animal, date(2026, 3, 1)));
        passages.iter_mut().take(spoilt).for_each(|passage| passage.summary.quality.add(Reason::FootAcross));
        let text = render(&Check::of("lane", &passages).expect("a check"), &Words::new(Language::English));
        text.lines().skip(1).take(4).map(str::to_owned).collect()
    }

    // One of two is 50 %. Where all can be used there is nothing to say why not, and no empty line in its place.
    #[test]
    fn why_passages_cannot_be_used_is_a_line_only_where_there_are_such() {
        let one = lines(1);
        assert_eq!(one[..2], ["  usable: 50 % of the passages", "  a foot on two plates 1"]);
        assert!(one[2].starts_with("  named: 100 %"), "{one:?}");
        let none = lines(0);
        assert_eq!(none[0], "  usable: 100 % of the passages");
        assert!(none[1].starts_with("  named: 100 %"), "{none:?}");
        assert!(none[2].starts_with("  stood on all four plates: 0 %"), "{none:?}");
    }
}
