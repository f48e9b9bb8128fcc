//! What became of treated feet over all farms, farms as clusters.

use super::{Asked, sums::Sums};
use clap::ValueEnum;
use host::arithmetic::statistics::wilson;
use host::report::output::Format;
use host::report::text;
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};
use std::collections::BTreeMap;

/// Days after the visit within which the last judged day is taken: about five weeks, when a recheck is common practice,
/// give or take one.
const FROM_DAY: i32 = 29;
const TO_DAY: i32 = 42;

/// What the cases are parted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum By {
    /// Lesion code.
    Lesion,
    /// Block, dressing, trim.
    Treatment,
    /// Who did the work.
    Trimmer,
}

/// One group of cases.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Group {
    /// What they have in common.
    pub group: String,
    /// Farms they come from.
    pub farms: usize,
    /// Cases with a lesion, and those of them that were judged about five weeks later.
    pub cases: u64,
    /// Judged.
    pub judged: u64,
    /// Clear then, and without a block, % of those judged.
    pub clear_pct: Option<f64>,
    /// 95 % interval, cases of one farm taken together.
    pub clear_low_pct: Option<f64>,
    /// Upper end.
    pub clear_high_pct: Option<f64>,
}

/// Of one farm: cases, judged, clear.
type Farm = [u64; 3];

/// A share over farms and its 95 % interval: the wider of that of the spread between farms and of Wilson's, since few
/// cases that all went alike spread too little.
fn share(farms: &[Farm]) -> Option<(f64, f64, f64)> {
    let (judged, clear) = farms.iter().fold((0, 0), |sum, farm| (sum.0 + farm[1], sum.1 + farm[2]));
    let of: Vec<&Farm> = farms.iter().filter(|farm| farm[1] > 0).collect();
    let many = of.len() as f64;
    // Of one farm nothing can be said about others.
    let spread = StudentsT::new(0.0, 1.0, many - 1.0).ok()?;
    let share = clear as f64 / judged as f64;
    let squares: f64 = of.iter().map(|farm| (farm[2] as f64 - share * farm[1] as f64).powi(2)).sum();
    let half = spread.inverse_cdf(0.975) * (many / (many - 1.0) * squares).sqrt() / judged as f64;
    let wilson = wilson(clear, judged);
    Some((share, wilson.lower.min(share - half).max(0.0), wilson.upper.max(share + half).min(1.0)))
}

fn groups(by_group: BTreeMap<String, BTreeMap<String, Farm>>) -> Vec<Group> {
    let group = |(group, farms): (String, BTreeMap<String, Farm>)| {
        let of: Vec<Farm> = farms.into_values().collect();
        let found = share(&of);
        let judged: u64 = of.iter().map(|farm| farm[1]).sum();
        let clear: u64 = of.iter().map(|farm| farm[2]).sum();
        Group {
            group,
            farms: of.len(),
            cases: of.iter().map(|farm| farm[0]).sum(),
            judged,
            clear_pct: (judged > 0).then(|| 100.0 * clear as f64 / judged as f64),
            clear_low_pct: found.map(|found| 100.0 * found.1),
            clear_high_pct: found.map(|found| 100.0 * found.2),
        }
    };
    let mut groups: Vec<_> = by_group.into_iter().map(group).collect();
    groups.sort_by(|a, b| b.cases.cmp(&a.cases).then_with(|| a.group.cmp(&b.group)));
    groups
}

fn plan(by: &[By]) -> String {
    let part = |by: &By| match by {
        By::Lesion => "lesion",
        By::Treatment => {
            "(CASE WHEN block AND dressing THEN 'block and dressing' WHEN block THEN 'block'
                   WHEN dressing THEN 'dressing' WHEN \"trim\" THEN 'trim alone' ELSE 'nothing written' END)"
        }
        By::Trimmer => "coalesce(trimmer, 'not written')",
    };
    let parts = by.iter().map(part).collect::<Vec<_>>().join(" || ', ' || ");
    format!(
        "WITH feet AS (SELECT farm, \"row\" AS number, animal_id, CAST(date AS INT) AS visit, {parts} AS part
                       FROM cases WHERE lesion IS NOT NULL),
              judged AS (SELECT f.farm, f.number, CAST(d.date AS INT) AS day,
                                CASE WHEN d.flag = 'clear' AND NOT d.block_on THEN 1 ELSE 0 END AS clear
                         FROM feet f JOIN days d ON d.farm = f.farm AND d.animal_id = f.animal_id
                         WHERE CAST(d.date AS INT) - f.visit BETWEEN {FROM_DAY} AND {TO_DAY}
                           AND d.flag NOT IN ('no_data', 'cannot_tell')),
              ends AS (SELECT farm, number, last_value(clear ORDER BY day) AS clear FROM judged GROUP BY farm, number)
         SELECT f.part, f.farm, count(*) AS cases, count(e.clear) AS judged, sum(coalesce(e.clear, 0)) AS clear
         FROM feet f LEFT JOIN ends e ON e.farm = f.farm AND e.number = f.number
         GROUP BY f.part, f.farm ORDER BY f.part, f.farm"
    )
}

/// Works it out.
///
/// # Errors
/// When the rows cannot be read.
pub async fn ask(asked: &Asked, by: &[By]) -> anyhow::Result<Vec<Group>> {
    let sums = Sums::of(&asked.session, &plan(by)).await?;
    let (parts, farms) = (sums.text("part")?, sums.text("farm")?);
    let counts = [sums.numbers("cases")?, sums.numbers("judged")?, sums.numbers("clear")?];
    let mut by_group: BTreeMap<String, BTreeMap<String, Farm>> = BTreeMap::new();
    for row in 0..sums.len() {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "counts")]
        let of = [0, 1, 2].map(|place: usize| counts[place][row] as u64);
        by_group.entry(parts[row].clone()).or_default().insert(farms[row].clone(), of);
    }
    let groups = groups(by_group);
    Ok(groups)
}

/// Prints it.
///
/// # Errors
/// When it cannot be written.
pub fn print(groups: &[Group], format: Format) -> anyhow::Result<()> {
    format.print(&groups, |table| table.rows(groups), || {
        let mut table = text::table(&["", "farms", "cases", "judged", "clear %", "95 %"]);
        text::align_right(&mut table, &[1, 2, 3, 4]);
        for group in groups {
            let pct = |pct: Option<f64>| pct.map_or_else(String::new, |pct| format!("{pct:.0}"));
            let interval = group.clear_low_pct.map_or_else(
                || if group.judged > 0 { "one farm".to_owned() } else { String::new() },
                |low| format!("{low:.0} to {}", pct(group.clear_high_pct)),
            );
            table.add_row([
                group.group.clone(),
                group.farms.to_string(),
                group.cases.to_string(),
                group.judged.to_string(),
                pct(group.clear_pct),
                interval,
            ]);
        }
        let caution = "Who is treated how is not drawn by lot: worse feet get more. A difference here is a question to \
                       ask, not what a treatment does. Feet still under a block count as not clear.";
        Ok(format!(
            "Feet with a lesion, {FROM_DAY} to {TO_DAY} days after the visit; interval over farms\n{}{}\n",
            text::render(&table),
            text::wrap(caution, 0)
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn farms_are_clusters() {
        // Two farms of 10, 8 and 2 clear: share .5, sums off by +3 and -3; 2 x 18 = 36, its root 6 by 20 is .3;
        // t of one degree of freedom is 12.706: the interval is cut at 0 and 1.
        let (share_, low, high) = share(&[[10, 10, 8], [10, 10, 2]]).unwrap();
        assert_eq!((share_, low, high), (0.5, 0.0, 1.0));
        // Eleven farms of 100 alike but for one: 50 each, one 61 -> off by 10 and -1 ten times.
        let mut farms = vec![[100, 100, 50]; 10];
        farms.push([100, 100, 61]);
        let (share_, low, high) = share(&farms).unwrap();
        assert!((share_ - 561.0 / 1100.0).abs() < 1e-12);
        // 11/10 x (10^2 + 10 x 1^2) = 121, its root 11 by 1100 is .01; t of 10 is 2.228; Wilson's is wider: +-.0295.
        let by_count = wilson(561, 1100);
        assert_eq!((low, high), (by_count.lower, by_count.upper));
        // Off by 30: the spread is wider than the count alone says.
        farms[10][2] = 80;
        let (share_, low, high) = share(&farms).unwrap();
        let off: f64 = 10.0 * (50.0 - 100.0 * share_).powi(2) + (80.0 - 100.0 * share_).powi(2);
        let half = 2.228_138_85 * (1.1 * off).sqrt() / 1100.0;
        assert!(
            (high - share_ - half).abs() < 1e-6 && (share_ - low - half).abs() < 1e-6,
            "{low} {high} {half}"
        );
    }

    #[test]
    fn one_farm_says_nothing_of_others() {
        assert_eq!(share(&[[10, 10, 8]]), None);
        assert_eq!(share(&[[10, 10, 8], [3, 0, 0]]), None);
        let found = groups([("WL".into(), [("a".into(), [12, 10, 8])].into())].into());
        assert_eq!((found[0].clear_pct, found[0].clear_low_pct, found[0].cases), (Some(80.0), None, 12));
    }
}
