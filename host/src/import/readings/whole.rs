//! What a file of readings looks like as a whole, where no passage of it can be used: another unit, the sign turned,
//! front and rear plates changed about, a dead plate. Left and right changed about cannot be seen in loads alone.

use crate::import::layout::Unit;
use shared::plate::Plate;
use std::ops::Range;

/// Weights of cows, kg. Our choice: from a small heifer to beyond the heaviest.
const COW_KG: Range<f64> = 200.0..1250.0;
/// Loads below this are an empty plate, as a part of the largest total.
const EMPTY: f64 = 0.1;
/// A plate that moves less than this part of the largest total is dead. Our choice.
const DEAD: f64 = 0.01;
/// Part of all crossings that begin on the front plates from which on they are taken to be the rear ones. Our choice.
const TURNED: f64 = 0.8;
/// Fewest crossings of which that is said.
const FEWEST: u32 = 4;

/// What was seen of the loads so far.
#[derive(Clone, Debug)]
pub(super) struct Whole {
    least: [f64; 4],
    most: [f64; 4],
    least_total: f64,
    most_total: f64,
    /// Whether somebody is on.
    on: bool,
    /// Crossings that began on the front plates, and on the rear ones.
    began: [u32; 2],
}

impl Default for Whole {
    fn default() -> Self {
        Self {
            least: [f64::INFINITY; 4],
            most: [f64::NEG_INFINITY; 4],
            least_total: f64::INFINITY,
            most_total: f64::NEG_INFINITY,
            on: false,
            began: [0; 2],
        }
    }
}

/// The least and the most with one value more, which is a number: `f64::min` would look for others at every reading.
#[inline]
fn widened(least: f64, most: f64, value: f64) -> (f64, f64) {
    (if value < least { value } else { least }, if value > most { value } else { most })
}

impl Whole {
    /// A reading: LF, RF, LR, RR.
    pub(super) fn push(&mut self, loads: [f32; 4]) {
        let loads = loads.map(f64::from);
        let total: f64 = loads.iter().sum();
        for (plate, load) in loads.into_iter().enumerate() {
            (self.least[plate], self.most[plate]) = widened(self.least[plate], self.most[plate], load);
        }
        (self.least_total, self.most_total) = widened(self.least_total, self.most_total, total);
        let empty = EMPTY * self.most_total;
        if !self.on && total > 2.0 * empty && self.most_total > self.least_total + 1.0 {
            self.on = true;
            self.began[usize::from(loads[2] + loads[3] > loads[0] + loads[1])] += 1;
        } else if self.on && total < empty {
            self.on = false;
        }
    }

    /// What the file looks like; `None` where nothing explains it. `unit` is what it was said to hold.
    pub(super) fn looks_like(&self, unit: Unit) -> Option<String> {
        let cow = |kg: f64| COW_KG.contains(&kg);
        if cow(-self.least_total) && self.most_total < COW_KG.start {
            return Some(
                "loads are negative where a cow stands; is the sign of the cells turned? Turn it where the file is written"
                    .to_owned(),
            );
        }
        if self.most_total < COW_KG.start {
            return None;
        }
        if !cow(self.most_total) {
            let as_said = self.most_total / unit.kg();
            let fits: Vec<Unit> = [Unit::Kg, Unit::Lb, Unit::G, Unit::N]
                .into_iter()
                .filter(|unit| cow(as_said * unit.kg()))
                .collect();
            let weight = group(self.most_total);
            return Some(match fits[..] {
                [Unit::Lb] => format!("a cow would weigh {weight} kg; pounds? Say --unit lb"),
                [Unit::G] => format!("a cow would weigh {weight} kg; grams? Say --unit g"),
                [Unit::N] => format!("a cow would weigh {weight} kg; newtons? Say --unit n"),
                [Unit::Kg] => format!("a cow would weigh {weight} kg; are these kilograms after all?"),
                _ => format!(
                    "a cow would weigh {weight} kg; raw counts of the cells? Calibrate the lane, or have kilograms written"
                ),
            });
        }
        let dead = (0..4).find(|&plate| self.most[plate] - self.least[plate] < DEAD * self.most_total);
        if let Some(plate) = dead {
            let name = Plate::ALL[plate].name();
            return Some(format!("plate {name} never moves; look at its cable and cell"));
        }
        let [front, rear] = self.began.map(f64::from);
        if self.began[0] + self.began[1] >= FEWEST && front >= TURNED * (front + rear) {
            return Some(
                "cows step on the front plates first; are front and rear changed about? Say --swap front-rear".to_owned(),
            );
        }
        None
    }
}

/// `1400` as `1,400`.
fn group(value: f64) -> String {
    let digits = format!("{value:.0}");
    let mut text = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Five cows of 600 kg that step on the rear plates first, each load changed by `of`.
    fn seen(of: impl Fn([f32; 4]) -> [f32; 4]) -> Whole {
        let mut whole = Whole::default();
        for _ in 0..5 {
            for loads in [[0.0, 0.0, 0.0, 0.0], [10.0, 0.0, 150.0, 100.0], [170.0, 160.0, 130.0, 140.0]] {
                whole.push(of(loads));
            }
        }
        whole.push([0.0; 4]);
        whole
    }

    fn said(of: impl Fn([f32; 4]) -> [f32; 4]) -> String {
        seen(of).looks_like(Unit::Kg).unwrap_or_default()
    }

    #[test]
    fn each_way_of_being_wrong_is_told() {
        assert_eq!(said(|loads| loads), "");
        assert!(said(|loads| loads.map(|load| load * 2.2046)).contains("1,323 kg; pounds? Say --unit lb"));
        assert!(said(|loads| loads.map(|load| load * 1000.0)).contains("600,000 kg; grams? Say --unit g"));
        assert!(said(|loads| loads.map(|load| load * 9.81)).contains("newtons? Say --unit n"));
        assert!(said(|loads| loads.map(|load| load * 20_000.0)).contains("raw counts"));
        assert!(said(|loads| loads.map(|load| -load)).contains("sign"));
        assert!(said(|[lf, rf, lr, rr]| [lr, rr, lf, rf]).contains("--swap front-rear"));
        assert!(said(|[lf, rf, _, rr]| [lf, rf, 3.0, rr]).contains("plate LR never moves"));
        assert_eq!(said(|loads| loads.map(|load| load / 10.0)), "", "a calf explains nothing");
    }

    #[test]
    fn the_unit_that_was_said_is_taken_out_first() {
        let whole = seen(|loads| loads.map(|load| load * 0.3));
        assert_eq!(whole.looks_like(Unit::Lb), None, "too light for anything");
        let whole = seen(|loads| loads.map(|load| load * 4.0));
        assert!(
            whole.looks_like(Unit::Lb).unwrap().contains("newtons"),
            "5,291 of what was said to be pounds"
        );
    }
}
