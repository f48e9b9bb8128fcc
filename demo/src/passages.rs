//! The herd at the level of passages: `passages.csv`, one row a passage.

use crate::files::{DayTruth, Out, TRUTH_PASSAGES, create, records, truth_row};
use crate::herd::{Herd, rfc3339};
use crate::lane::{Trouble, Truth, draw_trouble};
use crate::measured::measure;
use crate::plates::gains;
use shared::analysis::{PassageKind, PassageSummary};
use shared::plate::{Leg, Pair};
use std::io::Write;
use std::path::Path;

/// The lane's name in the table.
const LANE: &str = "exit";
/// Time from one cow to the next, s (see the lane).
const PITCH_S: f64 = 18.0;

/// The table's header.
#[must_use]
pub fn header() -> String {
    let legs = ["lf", "rf", "lr", "rr"];
    let mut names: Vec<String> =
        "animal_id,time,duration_s,kind,quality,quality_reasons,body_weight_kg,body_weight_se_kg"
            .split(',')
            .map(str::to_owned)
            .collect();
    for what in ["share_pct", "share_sd_pct", "share_se_pct"] {
        names.extend(legs.map(|leg| format!("{leg}_{what}")));
    }
    let standing = "front_lwr,rear_lwr,front_si_pct,rear_si_pct,front_share_pct,standing_s,shifts_per_min,\
                    lifts_per_min,front_shifts,rear_shifts";
    names.extend(standing.split(',').map(str::to_owned));
    names.extend(legs.map(|leg| format!("{leg}_lifts")));
    for leg in legs {
        let walking = ["contacts", "peak_pct", "contact_s", "impulse_pct_s", "step_s"];
        names.extend(walking.map(|what| format!("{leg}_{what}")));
    }
    names.extend(["lane", "readings", "lost_readings"].map(str::to_owned));
    names.join(",")
}

/// A row being written.
struct Row(Vec<u8>);

impl Row {
    fn text(&mut self, text: &str) -> &mut Self {
        if !self.0.is_empty() {
            self.0.push(b',');
        }
        self.0.extend_from_slice(text.as_bytes());
        self
    }

    fn empty(&mut self, count: usize) {
        self.0.extend(std::iter::repeat_n(b',', count));
    }

    fn whole(&mut self, value: u64) {
        self.0.push(b',');
        self.digits(value);
    }

    fn number(&mut self, value: f32, decimals: u32) {
        self.0.push(b',');
        let scale = 10_u64.pow(decimals);
        let scaled = libm::round(f64::from(value) * scale as f64) as i64;
        if scaled < 0 {
            self.0.push(b'-');
        }
        let scaled = scaled.unsigned_abs();
        self.digits(scaled / scale);
        self.0.push(b'.');
        let mut place = scale / 10;
        while place > 0 {
            self.0.push(b'0' + (scaled / place % 10) as u8);
            place /= 10;
        }
    }

    fn option(&mut self, value: Option<f32>, decimals: u32) {
        match value {
            Some(value) => self.number(value, decimals),
            None => self.empty(1),
        }
    }

    fn digits(&mut self, value: u64) {
        if value >= 10 {
            self.digits(value / 10);
        }
        self.0.push(b'0' + (value % 10) as u8);
    }
}

/// Writes one row of the table.
fn write_row(row: &mut Row, animal_id: &str, summary: &PassageSummary) {
    row.0.clear();
    row.text(animal_id);
    if animal_id.is_empty() {
        row.0.push(b',');
    }
    if animal_id.is_empty() {
        row.0.extend_from_slice(rfc3339(summary.start.0 as i64).as_bytes());
    } else {
        row.text(&rfc3339(summary.start.0 as i64));
    }
    row.number(summary.duration.seconds(), 2);
    row.text(match summary.kind {
        PassageKind::Stance => "stance",
        PassageKind::WalkThrough => "walk_through",
        PassageKind::Unclear => "unclear",
    });
    let reasons: Vec<&str> = summary.quality.reasons().map(|reason| reason.name()).collect();
    row.text(match (summary.quality.trusted(), reasons.is_empty()) {
        (true, true) => "good",
        (true, false) => "limited",
        (false, _) => "unusable",
    });
    row.text(&reasons.join(";"));
    row.option(summary.body_weight.map(|w| w.value), 1);
    row.option(summary.body_weight.map(|w| w.se), 1);
    match &summary.standing {
        Some(s) => {
            for values in [&s.share_pct, &s.share_sd_pct, &s.share_se_pct] {
                values.0.iter().for_each(|value| row.number(*value, 2));
            }
            row.option(s.lwr(Pair::Front), 3);
            row.option(s.lwr(Pair::Rear), 3);
            row.option(s.si_pct(Pair::Front), 2);
            row.option(s.si_pct(Pair::Rear), 2);
            row.number(s.front_pct(), 2);
            row.number(s.seconds, 2);
            row.option(s.shifts_per_min(), 2);
            row.option(s.lifts_per_min(), 2);
            row.whole(s.front_shifts.into());
            row.whole(s.rear_shifts.into());
            s.lifts.0.iter().for_each(|n| row.whole((*n).into()));
        }
        None => row.empty(12 + 10 + 4),
    }
    for leg in Leg::ALL {
        let contacts = &summary.walking[leg];
        row.whole(contacts.count.into());
        if contacts.count == 0 {
            row.empty(4);
            continue;
        }
        row.number(contacts.peak_pct, 2);
        row.number(contacts.stance_s, 3);
        row.number(contacts.impulse_pct_s, 2);
        row.number(contacts.step_s, 3);
    }
    row.text(LANE);
    row.whole(summary.readings.into());
    row.whole(summary.lost_readings.into());
    row.0.push(b'\n');
}

/// Writes a herd at the level of passages: every file of the folder but readings and tags. A passage with a missed
/// tag has no animal; swapped tags are swapped here too.
///
/// # Errors
/// Where a file cannot be written.
pub fn write_passages(mut herd: Herd, folder: &Path) -> anyhow::Result<()> {
    records(&herd, folder)?;
    let mut out = create(folder, "passages.csv", &header())?;
    let mut truth = create(folder, "truth_passages.csv", TRUTH_PASSAGES)?;
    let mut days = DayTruth::create(folder)?;
    for _ in 0..herd.settings.days {
        for milking in 0..herd.settings.hours().len() {
            write_milking(&herd, milking, &mut out, &mut truth)?;
        }
        days.day(&herd)?;
        herd.next_day();
    }
    out.flush()?;
    truth.flush()?;
    Ok(())
}

/// The passages of one milking of today: who truly, whose tag, what was measured, what went wrong.
pub fn milking(herd: &Herd, milking: usize) -> Vec<(usize, Option<usize>, PassageSummary, Truth)> {
    let settings = &herd.settings;
    let hour = settings.hours()[milking];
    let mut passages: Vec<(usize, Option<usize>, PassageSummary, Truth)> = Vec::new();
    let mut behind_two = false;
    for (place, member) in herd.order(milking).into_iter().enumerate() {
        let random = &mut herd.passage_random(member, milking, "bearing");
        let mut trouble = draw_trouble(random, settings.trouble);
        if behind_two {
            trouble = Some(Trouble::TwoCows);
        }
        behind_two = trouble == Some(Trouble::TwoCows) && !behind_two;
        let time = f64::from(herd.day) + hour / 24.0 + (60.0 + PITCH_S * place as f64) / 86_400.0;
        let bearing = herd.bearing(member, time, random);
        let start = settings.millis(time);
        let gains = gains(settings.drift.as_ref(), time);
        let summary = measure(&bearing, start, settings.rate_hz, gains, trouble, random);
        let read = match trouble {
            Some(Trouble::TagMissed | Trouble::Calf | Trouble::Person) => None,
            _ => Some(member),
        };
        let truth = true_passage(member, &bearing, &summary, trouble);
        passages.push((member, read, summary, truth));
        if matches!(trouble, Some(Trouble::Calf | Trouble::Person | Trouble::BackedOut)) {
            let summary = measure(&bearing, start + 9_000, settings.rate_hz, gains, None, random);
            let truth = true_passage(member, &bearing, &summary, None);
            passages.push((member, Some(member), summary, truth));
        }
    }
    swap_tags(&mut passages);
    passages
}

fn true_passage(
    member: usize,
    bearing: &crate::bearing::Bearing,
    summary: &PassageSummary,
    trouble: Option<Trouble>,
) -> Truth {
    let start = summary.start.0 as i64;
    let guest = matches!(trouble, Some(Trouble::Calf | Trouble::Person));
    Truth {
        member: (!guest).then_some(member),
        span: (start, start + summary.duration.0 as i64),
        kind: match summary.kind {
            PassageKind::Stance => "stance",
            PassageKind::WalkThrough => "walk_through",
            PassageKind::Unclear => "unclear",
        },
        body_weight_kg: bearing.body_weight_kg,
        share_pct: bearing.stance_s.map(|_| bearing.share_pct).filter(|_| !guest),
        trouble,
    }
}

fn swap_tags(passages: &mut [(usize, Option<usize>, PassageSummary, Truth)]) {
    let mut i = 0;
    while i + 1 < passages.len() {
        if passages[i].3.trouble == Some(Trouble::TagSwapped) && passages[i + 1].1.is_some() {
            (passages[i].1, passages[i + 1].1) = (passages[i + 1].1, passages[i].1);
            passages[i + 1].3.trouble.get_or_insert(Trouble::TagSwapped);
            i += 1;
        }
        i += 1;
    }
}

fn write_milking(herd: &Herd, index: usize, out: &mut Out, truth: &mut Out) -> anyhow::Result<()> {
    let mut row = Row(Vec::with_capacity(1024));
    for (_, read, summary, true_passage) in milking(herd, index) {
        let id = read.map_or("", |member| herd.members[member].cow.id.as_str());
        write_row(&mut row, id, &summary);
        out.write_all(&row.0)?;
        truth_row(truth, herd, &true_passage)?;
    }
    Ok(())
}
