//! Farms whose lame share moved: the last four weeks against the four before.

use super::{Asked, WINDOW_DAYS, sums::Sums};
use host::arithmetic::statistics::Z95;
use host::report::output::Format;
use host::report::text;
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};
use std::collections::BTreeMap;

/// Of the farms that are named as moved, this part may be chance (Benjamini and Hochberg 1995). Our choice.
const FALSE_PART: f64 = 0.10;
/// Cows below which a farm's spread says nothing. Our choice.
const FEWEST_COWS: usize = 5;

/// One farm.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Moved {
    /// Its code.
    pub farm: String,
    /// Cows judged in both windows together.
    pub cows: usize,
    /// Mean probability of lameness over cows and days, %: before, and now.
    pub before_pct: f64,
    /// Now.
    pub now_pct: f64,
    /// Now less before, percentage points.
    pub change_points: f64,
    /// Its 95 % interval, by cow.
    pub change_low: f64,
    /// Upper end.
    pub change_high: f64,
    /// Whether it is named, with the chance of all farms counted.
    pub moved: bool,
}

/// Sums of one cow: probabilities and days, before and now.
type Cow = [f64; 4];

/// Difference of the two shares and its standard error, days of one cow taken together.
fn change(cows: &[Cow]) -> Option<(f64, f64, f64)> {
    let sum = |place: usize| cows.iter().map(|cow| cow[place]).sum::<f64>();
    let [p0, n0, p1, n1] = [0, 1, 2, 3].map(sum);
    if cows.len() < FEWEST_COWS || n0 == 0.0 || n1 == 0.0 {
        return None;
    }
    let (before, now) = (p0 / n0, p1 / n1);
    let pull = |cow: &Cow| (cow[2] - now * cow[3]) / n1 - (cow[0] - before * cow[1]) / n0;
    let squares: f64 = cows.iter().map(|cow| pull(cow).powi(2)).sum();
    let many = cows.len() as f64;
    Some((before, now, (many / (many - 1.0) * squares).sqrt()))
}

/// Which of the probabilities of chance are named, so that of those at most the part is chance.
fn named(chance: &[f64]) -> Vec<bool> {
    let mut order: Vec<usize> = (0..chance.len()).collect();
    order.sort_by(|&a, &b| chance[a].total_cmp(&chance[b]));
    let most = order
        .iter()
        .enumerate()
        .rposition(|(rank, &at)| chance[at] <= FALSE_PART * (rank + 1) as f64 / chance.len() as f64);
    let mut named = vec![false; chance.len()];
    order.iter().take(most.map_or(0, |most| most + 1)).for_each(|&at| named[at] = true);
    named
}

fn rows(by_farm: BTreeMap<String, Vec<Cow>>) -> Vec<Moved> {
    let found: Vec<_> = by_farm
        .into_iter()
        .filter_map(|(farm, cows)| change(&cows).map(|change| (farm, cows.len(), change)))
        .collect();
    let normal = Normal::standard();
    let chance: Vec<f64> = found
        .iter()
        .map(
            |(_, _, (before, now, se))| {
                if *se > 0.0 { 2.0 * normal.sf((now - before).abs() / se) } else { 1.0 }
            },
        )
        .collect();
    let mut rows: Vec<Moved> = found
        .into_iter()
        .zip(named(&chance))
        .map(|((farm, cows, (before, now, se)), moved)| Moved {
            farm,
            cows,
            before_pct: 100.0 * before,
            now_pct: 100.0 * now,
            change_points: 100.0 * (now - before),
            change_low: 100.0 * (now - before - Z95 * se),
            change_high: 100.0 * (now - before + Z95 * se),
            moved,
        })
        .collect();
    rows.sort_by(|a, b| {
        (b.moved, b.change_points.abs())
            .partial_cmp(&(a.moved, a.change_points.abs()))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    rows
}

/// Works it out.
///
/// # Errors
/// When the rows cannot be read.
pub async fn ask(asked: &Asked) -> anyhow::Result<Vec<Moved>> {
    let plan = format!(
        "WITH last AS (SELECT farm, max(CAST(date AS INT)) AS last FROM days GROUP BY farm),
              judged AS (SELECT d.farm, d.animal_id, d.probability, l.last - CAST(d.date AS INT) AS ago
                         FROM days d JOIN last l ON l.farm = d.farm WHERE d.probability IS NOT NULL)
         SELECT farm, animal_id,
                sum(CASE WHEN ago >= {WINDOW_DAYS} THEN probability ELSE 0.0 END) AS p0,
                sum(CASE WHEN ago >= {WINDOW_DAYS} THEN 1.0 ELSE 0.0 END) AS n0,
                sum(CASE WHEN ago < {WINDOW_DAYS} THEN probability ELSE 0.0 END) AS p1,
                sum(CASE WHEN ago < {WINDOW_DAYS} THEN 1.0 ELSE 0.0 END) AS n1
         FROM judged WHERE ago < {both} GROUP BY farm, animal_id ORDER BY farm, animal_id",
        both = 2 * WINDOW_DAYS
    );
    let sums = Sums::of(&asked.session, &plan).await?;
    let (farms, p0, n0) = (sums.text("farm")?, sums.numbers("p0")?, sums.numbers("n0")?);
    let (p1, n1) = (sums.numbers("p1")?, sums.numbers("n1")?);
    let mut by_farm: BTreeMap<String, Vec<Cow>> = BTreeMap::new();
    for (row, farm) in farms.into_iter().enumerate() {
        by_farm.entry(farm).or_default().push([p0[row], n0[row], p1[row], n1[row]]);
    }
    let rows = rows(by_farm);
    Ok(rows)
}

/// Prints it.
///
/// # Errors
/// When it cannot be written.
pub fn print(rows: &[Moved], format: Format) -> anyhow::Result<()> {
    format.print(&rows, |table| table.rows(rows), || {
        let mut table = text::table(&["farm", "cows", "before %", "now %", "change", "95 %", ""]);
        text::align_right(&mut table, &[1, 2, 3, 4]);
        for row in rows {
            table.add_row([
                row.farm.clone(),
                row.cows.to_string(),
                format!("{:.1}", row.before_pct),
                format!("{:.1}", row.now_pct),
                format!("{:+.1}", row.change_points),
                format!("{:+.1} to {:+.1}", row.change_low, row.change_high),
                if row.moved { "moved".to_owned() } else { String::new() },
            ]);
        }
        let moved = rows.iter().filter(|row| row.moved).count();
        Ok(format!(
            "Lame share: mean probability over cows and days, the last {WINDOW_DAYS} days against the {WINDOW_DAYS} before\n{}{}\n",
            text::render(&table),
            text::wrap(
                &format!(
                    "{moved} of {} farms moved; of those named, one in ten may be chance. Interval by cow, of each farm alone.",
                    rows.len()
                ),
                0
            )
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_change_is_that_of_the_shares_with_days_of_a_cow_together() {
        // Five cows, 10 days each window: one goes from 0 to 1, the others stay at 0.
        let still: Cow = [0.0, 10.0, 0.0, 10.0];
        let cows = [still, still, still, still, [0.0, 10.0, 10.0, 10.0]];
        let (before, now, se) = change(&cows).unwrap();
        assert_eq!((before, now), (0.0, 0.2));
        // Pulls: -.04 four times and +.16; 5/4 of their squares' sum .032 is .04.
        assert!((se - 0.2).abs() < 1e-12, "{se}");
        assert_eq!(change(&cows[1..]), None);
        assert_eq!(change(&[[1.0, 5.0, 0.0, 0.0]; 6]), None);
    }

    // Benjamini and Hochberg 1995, by hand: ranks of five at .02, .04, .06, .08, .10.
    #[test]
    fn as_many_are_named_as_the_last_that_holds() {
        assert_eq!(named(&[0.5, 0.01, 0.059, 0.2, 0.05]), [false, true, true, false, true]);
        assert_eq!(named(&[0.5, 0.021, 0.3, 0.2, 0.9]), [false; 5]);
        assert_eq!(named(&[0.10]), [true]);
        assert!(named(&[]).is_empty());
    }

    #[test]
    fn a_farm_that_moved_comes_first() {
        let steady: Vec<Cow> =
            (0..20).map(|i| [f64::from(i % 3), 28.0, f64::from((i + 1) % 3), 28.0]).collect();
        let worse: Vec<Cow> =
            (0..20).map(|i| [1.0 + f64::from(i % 3), 28.0, 9.0 + f64::from(i % 3), 28.0]).collect();
        let found = rows([("a".into(), steady), ("b".into(), worse)].into());
        assert_eq!((found[0].farm.as_str(), found[0].moved, found[1].moved), ("b", true, false));
        assert!((found[0].change_points - 100.0 * 8.0 / 28.0).abs() < 1e-9);
        assert!(found[0].change_low > 0.0 && found[1].change_low < 0.0);
    }
}
