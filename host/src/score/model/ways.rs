//! The ways into her states over one night. Each is held against the day before the ways into a state are mixed: a cow
//! that got better overnight is to carry more today, or she did not get better.

use crate::score::model::baseline::{Baseline, Innovation, Mixture, Readings};
use crate::score::model::chain::Chain;
use crate::score::model::features::PerMeasure;
use crate::score::model::hypotheses::{Hypotheses, STATES};

/// Ways into a state below this share of it are left out: our choice. Ten times as much keeps the hard herd's AUC, but calls
/// cows in vain at the lane a sixth more often.
const NEGLIGIBLE: f64 = 1e-4;

/// So are ways less likely than this, but for the likeliest into each state: our choice. On eight hard herds nothing changed that
/// seeds do not change more; it halves the ways.
const UNLIKELY: f64 = 1e-6;

/// One way into a state.
#[derive(Clone, Copy, Debug)]
struct Way {
    source: usize,
    target: usize,
    /// Part of the target's probability that comes this way; once the day was seen, as much of it as the day left.
    share: f64,
    /// What the day says of it, as a logarithm.
    evidence: f64,
    innovation: Innovation,
}

impl Way {
    fn new([source, target]: [usize; 2], share: f64) -> Self {
        Self { source, target, share, evidence: 0.0, innovation: Innovation::default() }
    }
}

/// All ways, by target, and her baselines where they begin.
#[derive(Clone, Debug, Default)]
pub struct Ways {
    sources: Vec<Baseline>,
    all: Vec<Way>,
}

impl Ways {
    /// Each state comes from itself alone.
    #[must_use]
    pub fn of_newcomer(baselines: &[Baseline; STATES]) -> Self {
        let all = (0..STATES).map(|state| Way::new([state; 2], 1.0)).collect();
        Self { sources: baselines.to_vec(), all }
    }

    /// Today's probabilities become tomorrow's by the chain, and each state's baseline is mixed from where she may have
    /// come from.
    pub fn pass_night(
        &mut self,
        hypotheses: &Hypotheses,
        chain: &Chain<STATES>,
        [today, tomorrow]: [&[f64; STATES]; 2],
        baselines: &mut [Baseline; STATES],
    ) {
        self.sources.clear();
        self.sources.extend_from_slice(baselines);
        self.all.clear();
        for (target, &whole) in tomorrow.iter().enumerate() {
            let first = self.all.len();
            let sources = chain.sources(target).iter().map(|&(source, p)| (source, p * today[source]));
            let likeliest = sources.clone().map(|way| way.1).fold(0.0, f64::max);
            let least = (NEGLIGIBLE * whole).max(UNLIKELY.min(likeliest));
            let kept = sources.filter(|way| way.1 >= least && way.1 > 0.0);
            self.all.extend(kept.map(|(source, p)| Way::new([source, target], p)));
            let kept = &mut self.all[first..];
            let sum: f64 = kept.iter().map(|way| way.share).sum();
            kept.iter_mut().for_each(|way| way.share /= sum);
        }
        self.mix(baselines, |way| begun(&self.sources, hypotheses, way));
    }

    /// Each state's baseline is mixed from what has become of it on the ways into the state.
    fn mix(&self, baselines: &mut [Baseline; STATES], come_to: impl Fn(&Way) -> Baseline) {
        for ways in self.all.chunk_by(|a, b| a.target == b.target) {
            let baseline = &mut baselines[ways[0].target];
            let whole: f64 = ways.iter().map(|way| way.share).sum();
            let mixed = || ways.iter().filter(|way| way.share > NEGLIGIBLE * whole);
            let sum: f64 = mixed().map(|way| way.share).sum();
            let mut mixture = Mixture::about(*baseline);
            mixed().for_each(|way| mixture.add(way.share / sum, &come_to(way)));
            *baseline = mixture.whole();
        }
    }

    /// The same cow in other terms.
    pub fn shift(&mut self, by: &PerMeasure) {
        self.sources.iter_mut().for_each(|baseline| baseline.shift(by));
    }

    /// Nothing is seen of her.
    pub fn clear(&mut self) {
        self.all.clear();
    }

    /// A day's readings come in: baselines learn from them, each state from the ways into it. Gives the likelihood of the
    /// day in each state: `likelihood` makes it from what a way's logarithm, `counts` of its state included, falls short
    /// of the best way's.
    pub fn see(
        &mut self,
        hypotheses: &Hypotheses,
        readings: &Readings,
        counts: &[f64; STATES],
        likelihood: impl Fn(f64) -> f64,
        baselines: &mut [Baseline; STATES],
    ) -> [f64; STATES] {
        let Self { sources, all } = self;
        let mut best = f64::NEG_INFINITY;
        for way in &mut *all {
            let (evidence, innovation) =
                begun(sources, hypotheses, way).weigh(&hypotheses.shown[way.target], readings);
            (way.evidence, way.innovation) = (counts[way.target] + evidence, innovation);
            best = best.max(way.evidence);
        }
        let mut seen = [0.0; STATES];
        for way in all {
            way.share *= likelihood(way.evidence - best);
            seen[way.target] += way.share;
        }
        self.mix(baselines, |way| {
            let mut baseline = begun(&self.sources, hypotheses, way);
            baseline.see(&way.innovation);
            baseline
        });
        self.all.clear();
        seen
    }
}

/// Her baseline if she came this way.
#[inline]
fn begun(sources: &[Baseline], hypotheses: &Hypotheses, way: &Way) -> Baseline {
    let mut baseline = sources[way.source];
    baseline.wait(&hypotheses.unknown[way.target][way.source]);
    baseline
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::model::features::MEASURES;
    use crate::score::model::hypotheses::{LEVELS, SOUND};

    fn baselines() -> [Baseline; STATES] {
        [Baseline::new(&[1.0; MEASURES], &[2.0; MEASURES]); STATES]
    }

    // By hand: the counts alone speak, of the best state fully, of the others by e^-2, cut at e^-1 where asked.
    #[test]
    fn a_day_without_readings_weighs_states_by_their_counts_and_teaches_nothing() {
        let hypotheses = Hypotheses::new();
        let nothing = Readings::new(&[f64::NAN; MEASURES], &[f64::INFINITY; MEASURES]);
        let mut counts = [-2.0; STATES];
        counts[3] = 0.0;
        for (least, others) in [(f64::NEG_INFINITY, (-2.0f64).exp()), (-1.0, (-1.0f64).exp())] {
            let mut all = baselines();
            let mut ways = Ways::of_newcomer(&all);
            let seen = ways.see(&hypotheses, &nothing, &counts, |below| below.max(least).exp(), &mut all);
            for (state, seen) in seen.iter().enumerate() {
                let wanted = if state == 3 { 1.0 } else { others };
                assert!((seen - wanted).abs() < 1e-12, "{state}");
            }
            assert_eq!(all, baselines());
        }
    }

    // By hand: a cow surely sound stays so or falls ill; each sore state's baseline is hers with what its effect may
    // differ by, for all who come there come from sound.
    #[test]
    fn a_night_widens_the_baseline_of_what_she_may_have_come_to() {
        let hypotheses = Hypotheses::new();
        let mut today = [0.0; STATES];
        today[SOUND] = 1.0;
        let tomorrow = hypotheses.alone.predict(&today);
        let mut all = baselines();
        let mut ways = Ways::default();
        ways.pass_night(&hypotheses, &hypotheses.alone, [&today, &tomorrow], &mut all);
        for (state, baseline) in all.iter().enumerate() {
            for k in 0..MEASURES {
                assert!((baseline.mean[k] - 1.0).abs() < 1e-6);
                let wanted = 2.0 + hypotheses.spread[state][k];
                assert!((f64::from(baseline.variance[k]) / wanted - 1.0).abs() < 1e-6, "{state} {k}");
            }
        }
        // In other terms, what was hers at the night's beginning moves with her.
        ways.shift(&[3.0; MEASURES]);
        assert_eq!(ways.sources[SOUND].mean[0], 4.0);
    }

    fn sources_after(today: &[f64; STATES]) -> impl Fn(usize) -> Vec<usize> {
        let hypotheses = Hypotheses::new();
        let tomorrow = hypotheses.alone.predict(today);
        let mut ways = Ways::default();
        ways.pass_night(&hypotheses, &hypotheses.alone, [today, &tomorrow], &mut baselines());
        for ways in ways.all.chunk_by(|a, b| a.target == b.target) {
            let sum: f64 = ways.iter().map(|way| way.share).sum();
            assert!((sum - 1.0).abs() < 1e-12, "{}", ways[0].target);
        }
        move |target| ways.all.iter().filter(|way| way.target == target).map(|way| way.source).collect()
    }

    // By hand: of those lightly sore in the first place .001 times .10 are elsewhere the next day, those in the second. A
    // chance of .05 to be so makes .000_005 there beside the new cases, one of .005 half a millionth: left out, though it is a
    // hundredth of the new cases. Those cured, .063 of those who were sore, count by their part of the sound ones.
    #[test]
    fn ways_of_less_than_a_ten_thousandth_or_a_millionth_of_all_are_left_out() {
        for (lightly, of_second, of_sound) in [
            (0.05, &[SOUND, 1][..], &[SOUND, 1][..]),
            (0.005, &[SOUND], &[SOUND, 1]),
            (0.001, &[SOUND], &[SOUND]),
        ] {
            let mut today = [0.0; STATES];
            (today[SOUND], today[1]) = (1.0 - lightly, lightly);
            let sources = sources_after(&today);
            assert_eq!(sources(1 + LEVELS), of_second, "{lightly}");
            assert_eq!(sources(SOUND), of_sound, "{lightly}");
            assert_eq!(sources(1), [SOUND, 1], "{lightly}");
            assert!((0..STATES).all(|target| !sources(target).is_empty()), "{lightly}");
        }
    }

    // Lightly sore in the third place, with a billionth in the second. Into the next level of the second leads that billionth alone,
    // and it is kept; into the first the move from the third alone, a ten-thousandth; two levels up leads nothing at all.
    #[test]
    fn the_likeliest_way_into_a_state_is_kept_and_what_nothing_leads_to_has_none() {
        let mut today = [0.0; STATES];
        today[1 + LEVELS] = 1e-9;
        today[1 + 2 * LEVELS] = 1.0 - 1e-9;
        let sources = sources_after(&today);
        assert_eq!(sources(2 + LEVELS), [1 + LEVELS]);
        assert_eq!(sources(SOUND), [1 + 2 * LEVELS]);
        assert_eq!(sources(1), [1 + 2 * LEVELS]);
        assert!(sources(3 + LEVELS).is_empty());
    }
}
