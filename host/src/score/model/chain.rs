//! A hidden Markov chain over days: forward filter, backward smoother, and since when.

/// Transition probabilities, kept by target and by source without the zeros.
#[derive(Clone, Debug)]
pub struct Chain {
    /// For each target, its sources and their probabilities.
    into: Vec<Vec<(usize, f64)>>,
    /// For each source, its targets and their probabilities.
    out: Vec<Vec<(usize, f64)>>,
}

impl Chain {
    /// From rows: `rows[a][b]` is the probability of `b` tomorrow given `a` today.
    #[must_use]
    pub fn new(rows: &[Vec<f64>]) -> Self {
        let states = rows.len();
        let positive = |a: usize, b: usize| rows[a][b] > 0.0;
        let into = (0..states)
            .map(|b| (0..states).filter(|&a| positive(a, b)).map(|a| (a, rows[a][b])).collect())
            .collect();
        let out = (0..states)
            .map(|a| (0..states).filter(|&b| positive(a, b)).map(|b| (b, rows[a][b])).collect())
            .collect();
        Self { into, out }
    }

    /// The sources of a state with their probabilities.
    #[must_use]
    pub fn sources(&self, target: usize) -> &[(usize, f64)] {
        &self.into[target]
    }

    /// Tomorrow's probabilities before anything is seen.
    #[must_use]
    pub fn predict(&self, today: &[f64]) -> Vec<f64> {
        self.into.iter().map(|sources| sources.iter().map(|&(a, p)| p * today[a]).sum()).collect()
    }

    /// One step back: the likelihood of what came after today, for each state of today, up to a factor.
    /// `tomorrow` is the same for tomorrow and `seen` the likelihood of tomorrow's data.
    #[must_use]
    pub fn back(&self, tomorrow: &[f64], seen: &[f64]) -> Vec<f64> {
        let mut back: Vec<f64> = self
            .out
            .iter()
            .map(|targets| targets.iter().map(|&(b, p)| p * seen[b] * tomorrow[b]).sum())
            .collect();
        normalise(&mut back);
        back
    }

    /// Smoothed probabilities of every day from filtered ones and the days' likelihoods.
    #[must_use]
    pub fn smooth(&self, filtered: &[Vec<f64>], seen: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let Some(last) = filtered.last() else { return Vec::new() };
        let mut after = vec![1.0; last.len()];
        let mut smoothed = vec![Vec::new(); filtered.len()];
        for day in (0..filtered.len()).rev() {
            if day + 1 < filtered.len() {
                after = self.back(&after, &seen[day + 1]);
            }
            let mut now: Vec<f64> = filtered[day].iter().zip(&after).map(|(a, b)| a * b).collect();
            normalise(&mut now);
            smoothed[day] = now;
        }
        smoothed
    }

    /// For each day, the probability that the cow has been out of the `well` states from that day to the last without
    /// a break, given that she is out of them on the last day; 0 from where it falls below `least`, for it falls on.
    /// `filtered` and `seen` as in [`Self::smooth`].
    #[must_use]
    pub fn away_since(
        &self,
        filtered: &[&[f32]],
        seen: &[&[f32]],
        least: f64,
        well: impl Fn(usize) -> bool,
    ) -> Vec<f64> {
        let leave_out = |states: &mut [f64]| {
            states.iter_mut().enumerate().filter(|(s, _)| well(*s)).for_each(|(_, v)| *v = 0.0);
        };
        let days = filtered.len();
        let mut away = vec![0.0; days];
        let Some(last) = filtered.last() else { return away };
        // `held` keeps the path out of the well states; `free` does not. Scaled alike, so that their ratio holds.
        let mut held: Vec<f64> = vec![1.0; last.len()];
        leave_out(&mut held);
        let mut free = held.clone();
        for day in (0..days).rev() {
            if day + 1 < days {
                for later in [&mut held, &mut free] {
                    later.iter_mut().zip(seen[day + 1]).for_each(|(later, &seen)| *later *= f64::from(seen));
                    let before =
                        |targets: &Vec<(usize, f64)>| targets.iter().map(|&(b, p)| p * later[b]).sum();
                    *later = self.out.iter().map(before).collect();
                }
                leave_out(&mut held);
                let scale: f64 = free.iter().sum();
                if scale <= 0.0 {
                    return away;
                }
                held.iter_mut().chain(&mut free).for_each(|v| *v /= scale);
            }
            let sum =
                |later: &[f64]| filtered[day].iter().zip(later).map(|(&a, b)| f64::from(a) * b).sum::<f64>();
            let part = sum(&held) / sum(&free).max(f64::MIN_POSITIVE);
            if part < least {
                return away;
            }
            away[day] = part;
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

    fn example() -> (Chain, Vec<f64>, Vec<Vec<f64>>) {
        let chain = Chain::new(&[vec![0.9, 0.07, 0.03], vec![0.2, 0.7, 0.1], vec![0.05, 0.15, 0.8]]);
        let seen: Vec<Vec<f64>> = (0..DAYS)
            .map(|d| (0..3).map(|s| 0.05 + (((d * 7 + s * 5 + d * s * 3) % 11) as f64) / 11.0).collect())
            .collect();
        (chain, vec![0.6, 0.3, 0.1], seen)
    }

    fn filter(chain: &Chain, start: &[f64], seen: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let mut filtered: Vec<Vec<f64>> = Vec::new();
        for day in seen {
            let prior = filtered.last().map_or_else(|| start.to_vec(), |today| chain.predict(today));
            let mut now: Vec<f64> = prior.iter().zip(day).map(|(p, l)| p * l).collect();
            normalise(&mut now);
            filtered.push(now);
        }
        filtered
    }

    /// Every path with its probability: the slow obvious algorithm.
    fn paths(chain: &Chain, start: &[f64], seen: &[Vec<f64>]) -> Vec<(Vec<usize>, f64)> {
        let mut all: Vec<(Vec<usize>, f64)> = (0..3).map(|s| (vec![s], start[s] * seen[0][s])).collect();
        for day in &seen[1..] {
            all = all
                .into_iter()
                .flat_map(|(path, p)| {
                    let from = path[path.len() - 1];
                    chain.out[from].clone().into_iter().map(move |(to, t)| {
                        let mut longer = path.clone();
                        longer.push(to);
                        (longer, p * t * day[to])
                    })
                })
                .collect();
        }
        all
    }

    #[test]
    fn filter_and_smoother_agree_with_the_enumeration_of_all_paths() {
        let (chain, start, seen) = example();
        let filtered = filter(&chain, &start, &seen);
        let smoothed = chain.smooth(&filtered, &seen);
        let all = paths(&chain, &start, &seen);
        assert_eq!(all.len(), 3usize.pow(DAYS as u32));
        let total: f64 = all.iter().map(|(_, p)| p).sum();
        for day in 0..DAYS {
            for (s, found) in smoothed[day].iter().enumerate() {
                let exact =
                    all.iter().filter(|(path, _)| path[day] == s).map(|(_, p)| p).sum::<f64>() / total;
                assert!((found - exact).abs() < 1e-12, "day {day} state {s}");
            }
        }
        for s in 0..3 {
            assert!((filtered[DAYS - 1][s] - smoothed[DAYS - 1][s]).abs() < 1e-12);
        }
    }

    #[test]
    fn since_when_agrees_with_the_enumeration_of_all_paths() {
        let (chain, start, seen) = example();
        let filtered = filter(&chain, &start, &seen);
        let narrow = |rows: &[Vec<f64>]| -> Vec<Vec<f32>> {
            rows.iter().map(|row| row.iter().map(|&v| v as f32).collect()).collect()
        };
        let (narrow_filtered, narrow_seen) = (narrow(&filtered), narrow(&seen));
        let filtered: Vec<&[f32]> = narrow_filtered.iter().map(Vec::as_slice).collect();
        let seen_slices: Vec<&[f32]> = narrow_seen.iter().map(Vec::as_slice).collect();
        let away = chain.away_since(&filtered, &seen_slices, 0.0, |s| s == 0);
        let latest = chain.away_since(&filtered, &seen_slices, away[DAYS - 3], |s| s == 0);
        assert_eq!(latest[DAYS - 3..], away[DAYS - 3..]);
        assert_eq!(latest[..DAYS - 3], [0.0; DAYS - 3]);
        assert!(away[DAYS - 4] > 0.0);
        let all = paths(&chain, &start, &seen);
        let ill: f64 = all.iter().filter(|(path, _)| path[DAYS - 1] != 0).map(|(_, p)| p).sum();
        for (day, found) in away.iter().enumerate() {
            let exact = all
                .iter()
                .filter(|(path, _)| path[day..].iter().all(|&s| s != 0))
                .map(|(_, p)| p)
                .sum::<f64>()
                / ill;
            assert!((found - exact).abs() < 1e-6, "day {day}: {found} {exact}");
        }
    }
}
