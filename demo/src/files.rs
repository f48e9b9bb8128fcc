//! The files of the invented herd, each written as it comes.

use crate::course::{true_leg, true_score};
use crate::herd::{Herd, rfc3339};
use crate::lane::{Lane, Planned, Sink, Trouble, Truth};
use crate::observer;
use anyhow::Context;
use shared::plate::PerPlate;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

/// A text file being written.
pub type Out = BufWriter<File>;

/// Opens a file for writing and writes its header.
///
/// # Errors
/// Where the file cannot be made.
pub fn create(folder: &Path, name: &str, header: &str) -> anyhow::Result<Out> {
    let path = folder.join(name);
    let file = File::create(&path).with_context(|| format!("cannot write {}", path.display()))?;
    let mut out = BufWriter::with_capacity(1 << 16, file);
    if !header.is_empty() {
        writeln!(out, "{header}")?;
    }
    Ok(out)
}

/// Readings and tags as CSV.
pub struct CsvSink {
    readings: Out,
    tags: Out,
}

impl CsvSink {
    /// `readings.csv` and `tags.csv` in a folder.
    ///
    /// # Errors
    /// Where they cannot be made.
    pub fn create(folder: &Path) -> anyhow::Result<Self> {
        let readings = create(folder, "readings.csv", "time,lf,rf,lr,rr")?;
        Ok(Self { readings, tags: create(folder, "tags.csv", "time,animal_id")? })
    }

    /// Writes what is still held.
    ///
    /// # Errors
    /// Where the disk is full.
    pub fn finish(mut self) -> anyhow::Result<()> {
        self.readings.flush()?;
        self.tags.flush()?;
        Ok(())
    }
}

impl Sink for CsvSink {
    fn reading(&mut self, millis: i64, loads: &PerPlate<f64>) -> anyhow::Result<()> {
        write!(self.readings, "{}.{:03}", millis / 1000, millis % 1000)?;
        for load in loads.0 {
            write!(self.readings, ",{}", one_decimal(load))?;
        }
        writeln!(self.readings)?;
        Ok(())
    }

    fn tag(&mut self, millis: i64, animal_id: &str) -> anyhow::Result<()> {
        writeln!(self.tags, "{},{animal_id}", rfc3339(millis))?;
        Ok(())
    }
}

/// A number with one decimal and no minus before a zero.
fn one_decimal(value: f64) -> String {
    let tenths = libm::round(value * 10.0) as i64;
    let sign = if tenths < 0 { "-" } else { "" };
    format!("{sign}{}.{}", tenths.abs() / 10, tenths.abs() % 10)
}

/// The truth of every cow and day.
pub struct DayTruth(Out);

impl DayTruth {
    /// `truth_days.csv` in a folder.
    ///
    /// # Errors
    /// Where it cannot be made.
    pub fn create(folder: &Path) -> anyhow::Result<Self> {
        Ok(Self(create(folder, "truth_days.csv", "animal_id,date,true_score,true_leg")?))
    }

    /// Writes today's rows: every cow in milk.
    ///
    /// # Errors
    /// Where the disk is full.
    pub fn day(&mut self, herd: &Herd) -> anyhow::Result<()> {
        let date = herd.settings.date(herd.day);
        for (i, member) in herd.members.iter().enumerate() {
            if member.cow.lactation(herd.day).is_some() {
                let sore = herd.noon(i);
                writeln!(self.0, "{},{date},{},{}", member.cow.id, true_score(&sore), true_leg(&sore))?;
            }
        }
        self.0.flush()?;
        Ok(())
    }
}

/// Writes the herd register, the scores and the trims.
///
/// # Errors
/// Where they cannot be written.
pub fn records(herd: &Herd, folder: &Path) -> anyhow::Result<()> {
    let settings = &herd.settings;
    let days = settings.days as i32;
    let mut out = create(folder, "herd.csv", "animal_id,number,parity,calving_date")?;
    for member in &herd.members {
        for calving in member.cow.calvings.iter().filter(|c| c.day < days) {
            let id = &member.cow.id;
            // The farm's own number: the last digits of the tag, as on most farms.
            let number = id.trim_start_matches("999").trim_start_matches('0');
            writeln!(out, "{id},{number},{},{}", calving.parity, settings.date(calving.day))?;
        }
    }
    out.flush()?;
    let mut out = create(folder, "scores.csv", "date,animal_id,score")?;
    for (day, member, score) in observer::rounds(herd) {
        writeln!(out, "{},{},{score}", settings.date(day), herd.members[member].cow.id)?;
    }
    out.flush()?;
    let header = "date,animal_id,leg,claw,lesion,zone,treatment,block_claw,note,block_off";
    let mut out = create(folder, "trims.csv", header)?;
    for (day, row) in trim_rows(herd) {
        if (0..days).contains(&day) {
            writeln!(out, "{},{row}", settings.date(day))?;
        }
    }
    out.flush()?;
    Ok(())
}

/// Rows of the trims file by day, without their date.
fn trim_rows(herd: &Herd) -> Vec<(i32, String)> {
    let mut rows = Vec::new();
    for member in &herd.members {
        let id = &member.cow.id;
        for work in &member.cow.course.work {
            let day = work.time.floor() as i32;
            let (Some(leg), Some(lesion)) = (work.leg, work.lesion) else {
                rows.push((day, format!("{id},,,,,trim,,routine trim of all feet,")));
                continue;
            };
            let (code, zone) = lesion.code_and_zone();
            // Hind feet are mostly sore on the outer claw, front feet on the inner one (common practice).
            let hind = matches!(leg.pair(), shared::plate::Pair::Rear);
            let (sore, sound) = if hind { ("outer", "inner") } else { ("inner", "outer") };
            let name = leg.name();
            if code == "DD" {
                rows.push((day, format!("{id},{name},,{code},{zone},dressing,,,")));
            } else if let Some(block) = &work.block {
                let off = herd.settings.date(block.off_recorded.floor() as i32);
                let note = if block.off < block.off_recorded { "block lost before its day" } else { "" };
                rows.push((day, format!("{id},{name},{sore},{code},{zone},trim;block,{sound},{note},{off}")));
            } else {
                rows.push((day, format!("{id},{name},{sore},{code},{zone},trim,,,")));
            }
        }
    }
    rows.sort();
    rows
}

/// Writes one row of `truth_passages.csv`.
///
/// # Errors
/// Where the disk is full.
pub fn truth_row(out: &mut Out, herd: &Herd, truth: &Truth) -> anyhow::Result<()> {
    let id = truth.member.map_or("", |m| herd.members[m].cow.id.as_str());
    let (start, end) = (rfc3339(truth.span.0), rfc3339(truth.span.1));
    write!(out, "{id},{start},{end},{},{:.1}", truth.kind, truth.body_weight_kg)?;
    for leg in 0..4 {
        match &truth.share_pct {
            Some(share) => write!(out, ",{:.2}", share.0[leg])?,
            None => write!(out, ",")?,
        }
    }
    writeln!(out, ",{}", truth.trouble.map_or("", Trouble::name))?;
    Ok(())
}

/// Header of `truth_passages.csv`.
pub const TRUTH_PASSAGES: &str =
    "animal_id,start,end,kind,body_weight_kg,lf_share_pct,rf_share_pct,lr_share_pct,rr_share_pct,problem";

/// Writes a herd at the level of readings: every file of the folder.
///
/// # Errors
/// Where a file cannot be written.
pub fn write_readings(
    mut herd: Herd,
    folder: &Path,
    sink: &mut dyn Sink,
    plan: impl Fn(&Herd, usize, usize) -> Planned + Copy,
) -> anyhow::Result<()> {
    records(&herd, folder)?;
    let mut passages = create(folder, "truth_passages.csv", TRUTH_PASSAGES)?;
    let mut days = DayTruth::create(folder)?;
    let mut lane = Lane::new(&herd);
    let midnight = |herd: &Herd, day: i32| herd.settings.millis(f64::from(day));
    if herd.settings.continuous {
        lane.begin(&herd, midnight(&herd, 0));
    }
    for day in 0..herd.settings.days as i32 {
        for milking in 0..herd.settings.hours().len() {
            for truth in lane.milking(&herd, milking, plan, sink)? {
                truth_row(&mut passages, &herd, &truth)?;
            }
        }
        days.day(&herd)?;
        if herd.settings.continuous {
            lane.empty_until(&herd, midnight(&herd, day + 1) - 1, sink)?;
        }
        herd.next_day();
    }
    passages.flush()?;
    Ok(())
}
