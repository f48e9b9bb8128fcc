//! A hidden Markov chain over days: forward filter, backward smoother, and since when.

use std::ops::{AddAssign, Mul};

/// Transition probabilities.
#[derive(Clone, Debug)]
pub struct Chain<const STATES: usize> {
    /// By state today, then tomorrow.
    rows: [[f64; STATES]; STATES],
    /// By state tomorrow, then today.
    columns: [[f32; STATES]; STATES],
    /// For each target, its sources and their probabilities without the zeros.
    sources: Vec<Vec<(usize, f64)>>,
}

/// Vectors, each as often as its weight says; states side by side, so that a processor takes several in one go.
fn weighted<T, const STATES: usize>(weights: &[T; STATES], vectors: &[[T; STATES]; STATES]) -> [T; STATES]
where
    T: Copy + Default + PartialEq + AddAssign + Mul<Output = T>,
{
    let mut sum = [T::default(); STATES];
    for (&weight, vector) in weights.iter().zip(vectors).filter(|(weight, _)| **weight != T::default()) {
        sum.iter_mut().zip(vector).for_each(|(sum, &value)| *sum += weight * value);
    }
    sum
}

/// In parts, as a processor adds.
fn total<const STATES: usize>(values: impl Fn(usize) -> f32) -> f32 {
    let mut parts = [0.0; 8];
    for begin in (0..STATES).step_by(parts.len()) {
        let here = parts.iter_mut().zip(begin..STATES);
        here.for_each(|(part, s)| *part += values(s));
    }
    parts.iter().sum()
}

impl<const STATES: usize> Chain<STATES> {
    /// From rows: `rows[a][b]` is the probability of `b` tomorrow given `a` today.
    #[must_use]
    pub fn new(rows: [[f64; STATES]; STATES]) -> Self {
        let into = |b: usize| rows.map(|row| row[b]);
        let positive = |b| (0..).zip(into(b)).filter(|(_, p)| *p > 0.0).collect();
        let columns = std::array::from_fn(|b| into(b).map(|p| p as f32));
        Self { rows, columns, sources: (0..STATES).map(positive).collect() }
    }

    /// The sources of a state with their probabilities.
    #[must_use]
    pub fn sources(&self, target: usize) -> &[(usize, f64)] {
        &self.sources[target]
    }

    /// Tomorrow's probabilities before anything is seen.
    #[must_use]
    pub fn predict(&self, today: &[f64; STATES]) -> [f64; STATES] {
        weighted(today, &self.rows)
    }

    /// One step back: the likelihood of what came after today, for each state of today, up to a factor.
    /// `tomorrow` is the same for tomorrow and `seen` the likelihood of tomorrow's data.
    fn back(&self, tomorrow: &[f32; STATES], seen: &[f32; STATES]) -> [f32; STATES] {
        weighted(&std::array::from_fn(|b| tomorrow[b] * seen[b]), &self.columns)
    }

    /// Smoothed probabilities of every day from its filtered ones and its data's likelihoods.
    #[must_use]
    pub fn smooth(&self, days: &[(&[f32; STATES], &[f32; STATES])]) -> Vec<[f64; STATES]> {
        let mut after = [1.0; STATES];
        let mut smoothed = vec![[0.0; STATES]; days.len()];
        for (day, (filtered, _)) in days.iter().enumerate().rev() {
            if let Some((_, seen)) = days.get(day + 1) {
                after = self.back(&after.map(|later| later as f32), seen).map(f64::from);
                normalise(&mut after);
            }
            smoothed[day] = std::array::from_fn(|s| f64::from(filtered[s]) * after[s]);
            normalise(&mut smoothed[day]);
        }
        smoothed
    }

    /// For each day, the probability that the cow has been out of the `well` states from that day to the last without
    /// a break, given that she is out of them on the last day; 0 from where it falls below `least`, for it falls on.
    /// `days` as in [`Self::smooth`], from the last on back; the answer alike.
    #[must_use]
    pub fn away_since<'a>(
        &self,
        days: impl Iterator<Item = (&'a [f32; STATES], &'a [f32; STATES])>,
        least: f32,
        well: impl Fn(usize) -> bool,
    ) -> Vec<f32> {
        let ill: [f32; STATES] = std::array::from_fn(|s| if well(s) { 0.0 } else { 1.0 });
        // `held` keeps the path out of the well states; `free` does not. Scaled alike, so that their ratio holds.
        let (mut held, mut free) = (ill, ill);
        let mut tomorrow: Option<&[f32; STATES]> = None;
        let mut away = Vec::new();
        for (filtered, seen) in days {
            if let Some(tomorrow) = tomorrow {
                [held, free] = [&held, &free].map(|later| self.back(later, tomorrow));
                let scale = total::<STATES>(|s| free[s]);
                if scale <= 0.0 {
                    return away;
                }
                held.iter_mut().zip(ill).for_each(|(held, ill)| *held *= ill / scale);
                free.iter_mut().for_each(|free| *free /= scale);
            }
            let sum = |later: &[f32; STATES]| total::<STATES>(|s| filtered[s] * later[s]);
            let part = sum(&held) / sum(&free).max(f32::MIN_POSITIVE);
            if part < least {
                return away;
            }
            away.push(part);
            tomorrow = Some(seen);
        }
        away
    }
}

/// Scales to a sum of 1; evenly where all are 0.
pub fn normalise(values: &mut [f64]) {
    let sum: f64 = values.iter().sum();
    if sum > 0.0 {
        values.iter_mut().for_each(|v| *v /= sum);
    } else {
        let even = 1.0 / values.len().max(1) as f64;
        values.fill(even);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAYS: usize = 6;
    type Row = [f32; 3];

    /// A chain, the likelihoods of its days, and its filtered probabilities.
    fn example() -> (Chain<3>, [f64; 3], [Row; DAYS], [Row; DAYS]) {
        let chain = Chain::new([[0.9, 0.07, 0.03], [0.2, 0.7, 0.1], [0.05, 0.15, 0.8]]);
        let start = [0.6, 0.3, 0.1];
        let seen: [Row; DAYS] = std::array::from_fn(|d| {
            std::array::from_fn(|s| 0.05 + (((d * 7 + s * 5 + d * s * 3) % 11) as f32) / 11.0)
        });
        let mut now: [f64; 3] = start;
        let filtered = std::array::from_fn(|day| {
            if day > 0 {
                now = chain.predict(&now);
            }
            now.iter_mut().zip(seen[day]).for_each(|(p, l)| *p *= f64::from(l));
            normalise(&mut now);
            now.map(|p| p as f32)
        });
        (chain, start, seen, filtered)
    }

    /// Every path with its probability: the slow obvious algorithm.
    fn paths(chain: &Chain<3>, start: &[f64; 3], seen: &[Row]) -> Vec<(Vec<usize>, f64)> {
        let mut all: Vec<(Vec<usize>, f64)> =
            (0..3).map(|s| (vec![s], start[s] * f64::from(seen[0][s]))).collect();
        for day in &seen[1..] {
            all = all
                .into_iter()
                .flat_map(|(path, p)| {
                    let from = path[path.len() - 1];
                    (0..3).map(move |to| {
                        let mut longer = path.clone();
                        longer.push(to);
                        (longer, p * chain.rows[from][to] * f64::from(day[to]))
                    })
                })
                .collect();
        }
        all
    }

    #[test]
    fn filter_and_smoother_agree_with_the_enumeration_of_all_paths() {
        let (chain, start, seen, filtered) = example();
        let days: Vec<_> = filtered.iter().zip(&seen).collect();
        let smoothed = chain.smooth(&days);
        let all = paths(&chain, &start, &seen);
        assert_eq!(all.len(), 3usize.pow(DAYS as u32));
        let total: f64 = all.iter().map(|(_, p)| p).sum();
        for day in 0..DAYS {
            for (s, found) in smoothed[day].iter().enumerate() {
                let exact =
                    all.iter().filter(|(path, _)| path[day] == s).map(|(_, p)| p).sum::<f64>() / total;
                assert!((found - exact).abs() < 1e-6, "day {day} state {s}");
            }
        }
        for s in 0..3 {
            assert!((f64::from(filtered[DAYS - 1][s]) - smoothed[DAYS - 1][s]).abs() < 1e-6);
        }
        assert_eq!(chain.smooth(&[]), Vec::<[f64; 3]>::new());
    }

    #[test]
    fn since_when_agrees_with_the_enumeration_of_all_paths() {
        let (chain, start, seen, filtered) = example();
        let away = |least| chain.away_since(filtered.iter().zip(&seen).rev(), least, |s| s == 0);
        let whole = away(0.0);
        assert_eq!(away(whole[2]), whole[..3]);
        assert!(whole[3] > 0.0);
        let all = paths(&chain, &start, &seen);
        let ill: f64 = all.iter().filter(|(path, _)| path[DAYS - 1] != 0).map(|(_, p)| p).sum();
        assert_eq!(whole.len(), DAYS);
        for (back, found) in whole.iter().enumerate() {
            let held = |path: &[usize]| path[DAYS - 1 - back..].iter().all(|&s| s != 0);
            let exact = all.iter().filter(|(path, _)| held(path)).map(|(_, p)| p).sum::<f64>() / ill;
            assert!((f64::from(*found) - exact).abs() < 1e-6, "{back} days back: {found} {exact}");
        }
    }

    // By hand: from the last day on, nothing the chain may come from was seen.
    #[test]
    fn an_impossible_day_ends_the_look_back() {
        let chain = Chain::new([[0.5, 0.5], [0.5, 0.5]]);
        let (even, never) = ([0.5, 0.5], [0.0, 0.0]);
        let away = chain.away_since([(&even, &never), (&even, &even)].into_iter(), 0.0, |s| s == 0);
        assert_eq!(away, [1.0]);
    }
}
