//! How one farm stands among farms of its size; the others stay unnamed.

use super::{Asked, WINDOW_DAYS, sums::Sums};
use anyhow::bail;
use host::arithmetic::bootstrap::quantile;
use host::report::output::Format;
use host::report::text;
use serde::Serialize;

/// Farms below which nobody is compared with: fewer could be told from each other. Our choice.
pub const FEWEST_FARMS: usize = 10;
/// Farms of half to twice as many cows are alike. Our choice.
const SIZE: f64 = 2.0;
/// Weeks that are looked at: three windows, so that a farm's own weeks even out. Our choice.
const DAYS: i32 = 3 * WINDOW_DAYS;

/// What is compared: its name in tables and for people.
const MEASURES: [(&str, &str); 4] = [
    ("lame_share_pct", "lame share, % (mean probability)"),
    ("new_flags_per_100_cows_a_week", "new flags per 100 cows a week"),
    ("flagged_days_before_treatment", "flagged days before a lesion is treated"),
    ("usable_passages_pct", "usable passages, %"),
];

/// One measure.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Standing {
    /// What.
    pub measure: &'static str,
    /// The farm's own value.
    pub own: Option<f64>,
    /// Other farms with one.
    pub farms: usize,
    /// 10, 25, 50, 75 and 90 % of them lie below.
    pub q10: Option<f64>,
    /// 25 %.
    pub q25: Option<f64>,
    /// Half.
    pub q50: Option<f64>,
    /// 75 %.
    pub q75: Option<f64>,
    /// 90 %.
    pub q90: Option<f64>,
}

/// A farm: its cows, and its measures in their order, NaN where it has none.
#[derive(Clone, Debug)]
struct Values {
    farm: String,
    cows: f64,
    values: [f64; MEASURES.len()],
}

fn standing(all: &[Values], farm: &str) -> anyhow::Result<Vec<Standing>> {
    let Some(own) = all.iter().find(|values| values.farm == farm) else { bail!("there is no farm {farm}") };
    let alike = |values: &&Values| {
        values.farm != farm && values.cows * SIZE >= own.cows && values.cows <= own.cows * SIZE
    };
    let others: Vec<&Values> = all.iter().filter(alike).collect();
    if others.len() + 1 < FEWEST_FARMS {
        bail!(
            "{} farms have about as many cows as {farm}; a comparison needs {FEWEST_FARMS}, so that none can be told from another",
            others.len() + 1
        );
    }
    let of = |(place, (measure, _)): (usize, &(&'static str, &str))| {
        let mut known: Vec<f64> =
            others.iter().map(|values| values.values[place]).filter(|value| !value.is_nan()).collect();
        known.sort_by(f64::total_cmp);
        // A measure that few of them have could be told from each other too.
        let at = |share| (known.len() + 1 >= FEWEST_FARMS).then(|| quantile(&known, share));
        Standing {
            measure,
            own: Some(own.values[place]).filter(|value| !value.is_nan()),
            farms: known.len(),
            q10: at(0.10),
            q25: at(0.25),
            q50: at(0.50),
            q75: at(0.75),
            q90: at(0.90),
        }
    };
    Ok(MEASURES.iter().enumerate().map(of).collect())
}

fn plan() -> String {
    format!(
        "WITH last AS (SELECT farm, max(CAST(date AS INT)) AS last FROM days GROUP BY farm),
              recent AS (SELECT d.*, CAST(d.date AS INT) AS day, l.last,
                                lag(d.flag) OVER (PARTITION BY d.farm, d.animal_id ORDER BY d.date) AS was
                         FROM days d JOIN last l ON l.farm = d.farm),
              herd AS (SELECT farm, count(DISTINCT animal_id) AS cows FROM recent
                       WHERE last - day < {WINDOW_DAYS} AND passages > 0 GROUP BY farm),
              lame AS (SELECT farm, 100 * avg(probability) AS lame_share_pct,
                              sum(CASE WHEN flag IN ('check', 'urgent')
                                        AND coalesce(was, '') NOT IN ('check', 'urgent') THEN 1.0 ELSE 0.0 END) AS flags,
                              count(*) AS cow_days
                       FROM recent WHERE last - day < {DAYS} GROUP BY farm),
              treated AS (SELECT c.farm, c.\"row\" AS number, c.animal_id, CAST(c.date AS INT) AS visit
                          FROM cases c JOIN last l ON l.farm = c.farm
                          WHERE c.lesion IS NOT NULL AND l.last - CAST(c.date AS INT) < {DAYS}),
              waited AS (SELECT t.farm, t.number,
                                sum(CASE WHEN d.flag IN ('check', 'urgent') THEN 1.0 ELSE 0.0 END) AS flagged
                         FROM treated t JOIN days d ON d.farm = t.farm AND d.animal_id = t.animal_id
                         WHERE t.visit - CAST(d.date AS INT) BETWEEN 1 AND {DAYS} GROUP BY t.farm, t.number),
              waits AS (SELECT farm, avg(flagged) AS flagged_days FROM waited GROUP BY farm),
              usable AS (SELECT p.farm, 100 * avg(CASE WHEN p.quality = 'unusable' THEN 0.0 ELSE 1.0 END) AS pct
                         FROM passages p JOIN last l ON l.farm = p.farm
                         WHERE CAST(CAST(p.time AS DATE) AS INT) > l.last - {DAYS} GROUP BY p.farm)
         SELECT h.farm, h.cows, l.lame_share_pct,
                700 * l.flags / l.cow_days AS new_flags_per_100_cows_a_week,
                w.flagged_days AS flagged_days_before_treatment, u.pct AS usable_passages_pct
         FROM herd h JOIN lame l ON l.farm = h.farm LEFT JOIN waits w ON w.farm = h.farm
              LEFT JOIN usable u ON u.farm = h.farm ORDER BY h.farm"
    )
}

/// Works it out.
///
/// # Errors
/// When there is no such farm, too few are like it, or the rows cannot be read.
pub async fn ask(asked: &Asked, farm: &str) -> anyhow::Result<Vec<Standing>> {
    let sums = Sums::of(&asked.session, &plan()).await?;
    let (farms, cows) = (sums.text("farm")?, sums.numbers("cows")?);
    let mut columns = Vec::new();
    for (name, _) in MEASURES {
        columns.push(sums.numbers(name)?);
    }
    let values = |row: usize| Values {
        farm: farms[row].clone(),
        cows: cows[row],
        values: std::array::from_fn(|place| columns[place][row]),
    };
    let all: Vec<Values> = (0..sums.len()).map(values).collect();
    let rows = standing(&all, farm)?;
    Ok(rows)
}

/// Prints it.
///
/// # Errors
/// When it cannot be written.
pub fn print(rows: &[Standing], farm: &str, format: Format) -> anyhow::Result<()> {
    format.print(&rows, |table| table.rows(rows), || {
        let mut table = text::table(&["", farm, "10 %", "25 %", "half", "75 %", "90 %", "farms"]);
        text::align_right(&mut table, &[1, 2, 3, 4, 5, 6, 7]);
        for (row, (_, words)) in rows.iter().zip(MEASURES) {
            let number = |number: Option<f64>| number.map_or_else(|| "-".to_owned(), |number| format!("{number:.1}"));
            let [own, q10, q25, q50, q75, q90] = [row.own, row.q10, row.q25, row.q50, row.q75, row.q90].map(number);
            table.add_row([words.to_owned(), own, q10, q25, q50, q75, q90, row.farms.to_string()]);
        }
        let alike = "Other farms of half to twice as many cows, the last 12 weeks of each: so many of them in a hundred \
                     lie below. Farms differ in floor, season and breed; a place in this table is no judgement.";
        Ok(format!("{}{}\n", text::render(&table), text::wrap(alike, 0)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn farms(many: u32, cows: f64) -> Vec<Values> {
        let values = |i: u32| Values {
            farm: format!("f{i}"),
            cows,
            values: [f64::from(i), 1.0, if i < 5 { 3.0 } else { f64::NAN }, 90.0],
        };
        (0..many).map(values).collect()
    }

    #[test]
    fn ten_farms_are_enough_and_nine_are_not() {
        assert!(standing(&farms(9, 100.0), "f0").is_err());
        let found = standing(&farms(10, 100.0), "f0").unwrap();
        // The others are 1 to 9: half of them lie below 5.
        assert_eq!((found[0].own, found[0].q50, found[0].farms), (Some(0.0), Some(5.0), 9));
        // Few have the third measure: nothing is said of them.
        assert_eq!((found[2].own, found[2].q50, found[2].farms), (Some(3.0), None, 4));
    }

    #[test]
    fn only_farms_of_its_size_count() {
        let mut all = farms(10, 100.0);
        all[9].cows = 200.0;
        assert!(standing(&all, "f0").is_ok());
        all[9].cows = 201.0;
        assert!(standing(&all, "f0").is_err());
        all[9].cows = 49.9;
        assert!(standing(&all, "f0").is_err());
    }

    #[test]
    fn no_other_farm_is_named() {
        let found = serde_json::to_string(&standing(&farms(12, 100.0), "f3").unwrap()).unwrap();
        assert!(!found.contains("f1") && !found.contains("f4"), "{found}");
        assert!(standing(&farms(12, 100.0), "f12").is_err());
    }
}
