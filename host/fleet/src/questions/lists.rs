//! How well the morning list does on each farm, by what was found in lifted feet.

use super::{Asked, sums::Sums};
use host::arithmetic::statistics::wilson;
use host::report::output::Format;
use host::report::text;
use serde::Serialize;

/// Days before a visit in which a flag counts as having told of it, and after a flag in which a look counts as of it.
/// Our choice.
const TOLD_DAYS: i32 = 7;
const LOOKED_DAYS: i32 = 14;

/// One farm.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct List {
    /// Its code.
    pub farm: String,
    /// Lesions that were treated.
    pub lesions: u64,
    /// Those of them that the list had told of in the week before.
    pub told: u64,
    /// Flags (check or urgent) after which the feet were looked at within two weeks.
    pub looked_at: u64,
    /// Those of them with a lesion found.
    pub found: u64,
    /// Flags after which nothing was entered within two weeks.
    pub not_looked_at: u64,
}

fn plan() -> String {
    format!(
        "WITH flagged AS (SELECT farm, animal_id, CAST(date AS INT) AS day FROM days WHERE flag IN ('check', 'urgent')),
              again AS (SELECT farm, animal_id, day,
                               lag(day) OVER (PARTITION BY farm, animal_id ORDER BY day) AS before FROM flagged),
              flags AS (SELECT farm, animal_id, day FROM again WHERE before IS NULL OR day - before > 1),
              done AS (SELECT farm, animal_id, CAST(date AS INT) AS day, lesion FROM work WHERE known_until IS NULL),
              lesions AS (SELECT DISTINCT farm, animal_id, day FROM done WHERE lesion),
              told AS (SELECT DISTINCT l.farm, l.animal_id, l.day FROM lesions l
                       JOIN flagged f ON f.farm = l.farm AND f.animal_id = l.animal_id
                       WHERE l.day - f.day BETWEEN 1 AND {TOLD_DAYS}),
              looks AS (SELECT f.farm, f.animal_id, f.day, max(CASE WHEN d.lesion THEN 1 ELSE 0 END) AS found
                        FROM flags f JOIN done d ON d.farm = f.farm AND d.animal_id = f.animal_id
                        WHERE d.day - f.day BETWEEN 0 AND {LOOKED_DAYS} GROUP BY f.farm, f.animal_id, f.day),
              a AS (SELECT farm, count(*) AS n FROM lesions GROUP BY farm),
              b AS (SELECT farm, count(*) AS n FROM told GROUP BY farm),
              c AS (SELECT farm, count(*) AS n, sum(found) AS found FROM looks GROUP BY farm),
              e AS (SELECT farm, count(*) AS n FROM flags GROUP BY farm)
         SELECT f.farm, coalesce(a.n, 0) AS lesions, coalesce(b.n, 0) AS told, coalesce(c.n, 0) AS looked_at,
                coalesce(c.found, 0) AS found, coalesce(e.n, 0) - coalesce(c.n, 0) AS not_looked_at
         FROM farms f LEFT JOIN a ON a.farm = f.farm LEFT JOIN b ON b.farm = f.farm LEFT JOIN c ON c.farm = f.farm
              LEFT JOIN e ON e.farm = f.farm ORDER BY f.farm"
    )
}

/// Works it out.
///
/// # Errors
/// When the rows cannot be read.
pub async fn ask(asked: &Asked) -> anyhow::Result<Vec<List>> {
    let sums = Sums::of(&asked.session, &plan()).await?;
    let farms = sums.text("farm")?;
    let mut counts = Vec::new();
    for name in ["lesions", "told", "looked_at", "found", "not_looked_at"] {
        counts.push(sums.numbers(name)?);
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "counts")]
    let row = |row: usize| {
        let [lesions, told, looked_at, found, not_looked_at] =
            std::array::from_fn(|place| counts[place][row] as u64);
        List { farm: farms[row].clone(), lesions, told, looked_at, found, not_looked_at }
    };
    let rows: Vec<List> = (0..sums.len()).map(row).collect();
    Ok(rows)
}

/// Prints it.
///
/// # Errors
/// When it cannot be written.
pub fn print(rows: &[List], format: Format) -> anyhow::Result<()> {
    format.print(&rows, |table| table.rows(rows), || {
        let mut table = text::table(&["farm", "lesions", "told before", "95 %", "flags looked at", "lesion found", "95 %", "not looked at"]);
        text::align_right(&mut table, &[1, 2, 4, 5, 7]);
        for row in rows {
            table.add_row([
                row.farm.clone(),
                row.lesions.to_string(),
                row.told.to_string(),
                interval(row.told, row.lesions),
                row.looked_at.to_string(),
                row.found.to_string(),
                interval(row.found, row.looked_at),
                row.not_looked_at.to_string(),
            ]);
        }
        let words = "Told before: a flag of check or urgent in the week before the visit. Looked at: work or a look \
                     entered within two weeks of a flag. A lesion that nobody wrote down counts as none.";
        Ok(format!("{}{}\n", text::render(&table), text::wrap(words, 0)))
    })
}

fn interval(count: u64, of: u64) -> String {
    if of == 0 {
        return String::new();
    }
    let interval = wilson(count, of);
    format!("{:.0}-{:.0} %", 100.0 * interval.lower, 100.0 * interval.upper)
}
