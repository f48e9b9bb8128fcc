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
