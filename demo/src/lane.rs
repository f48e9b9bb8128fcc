//! The exit lane, reading by reading: who crosses when, what goes wrong, and what the plates say.

use crate::crossing::{Crossing, Way};
use crate::herd::Herd;
use crate::plates::{Deck, Fault, gains};
use crate::random::Random;
use shared::plate::{Leg, PerLeg, PerPlate, Plate};

/// Time between two cows, s: least, and mean beyond it. About 200 cows an hour, between the 62-75 of one operator
/// and the 300 and more of large parlours: AHDB.
const GAP_S: (f64, f64) = (4.0, 5.0);
/// How often things go wrong, per passage (our choice, but for missed tags: about what portals miss).
const TROUBLE: [(f64, Trouble); 9] = [
    (0.015, Trouble::TwoCows),
    (0.004, Trouble::Calf),
    (0.006, Trouble::Person),
    (0.010, Trouble::BackedOut),
    (0.030, Trouble::FootAcross),
    (0.004, Trouble::Saturated),
    (0.004, Trouble::StuckPlate),
    (0.012, Trouble::LostReadings),
    (0.012, Trouble::Ringing),
];
/// Tags missed, and tags of two neighbours swapped (our choice).
const TAG_MISSED: f64 = 0.03;
const TAG_SWAPPED: f64 = 0.006;
/// Part of the hosing time before and after the water, s.
const DRY_S: f64 = 2.0;
/// What may be planned: the trouble of a cow in a milking of today, or `None` for chance.
pub type Planned = Option<Option<Trouble>>;

/// What goes wrong with a passage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// The next cow comes before this one has gone.
    TwoCows,
    /// A calf crosses before her.
    Calf,
    /// A person crosses before her.
    Person,
    /// She turns back and comes again.
    BackedOut,
    /// A foot on the seam between the rows.
    FootAcross,
    /// A converter at its end.
    Saturated,
    /// A plate that does not move.
    StuckPlate,
    /// Readings missing.
    LostReadings,
    /// The deck is knocked.
    Ringing,
    /// No tag was read.
    TagMissed,
    /// Her tag and the next cow's were swapped.
    TagSwapped,
}

impl Trouble {
    /// Its name in the truth file.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::TwoCows => "two_cows",
            Self::Calf => "calf",
            Self::Person => "person",
            Self::BackedOut => "backed_out",
            Self::FootAcross => "foot_across",
            Self::Saturated => "saturated",
            Self::StuckPlate => "stuck_plate",
            Self::LostReadings => "lost_readings",
            Self::Ringing => "ringing",
            Self::TagMissed => "tag_missed",
            Self::TagSwapped => "tag_swapped",
        }
    }
}

/// Where readings and tags go.
pub trait Sink {
    /// One reading, kg per plate, at a moment in milliseconds since the Unix epoch.
    ///
    /// # Errors
    /// Where it cannot be written.
    fn reading(&mut self, millis: i64, loads: &PerPlate<f64>) -> anyhow::Result<()>;

    /// One tag read.
    ///
    /// # Errors
    /// Where it cannot be written.
    fn tag(&mut self, millis: i64, animal_id: &str) -> anyhow::Result<()>;
}

/// What truly happened in one passage.
#[derive(Clone, Debug)]
pub struct Truth {
    /// Who; `None` for a calf or a person.
    pub member: Option<usize>,
    /// First foot on and last foot off, ms since the Unix epoch.
    pub span: (i64, i64),
    /// `stance`, `walk_through`, or `unclear`: no whole crossing, or one whose prints lie across plates.
    pub kind: &'static str,
    /// Body weight, kg.
    pub body_weight_kg: f64,
    /// Mean share of each leg while she stood, %.
    pub share_pct: Option<PerLeg<f64>>,
    /// What went wrong.
    pub trouble: Option<Trouble>,
}

struct Visitor {
    start: i64,
    end: i64,
    crossing: Crossing,
    fault: Option<Fault>,
    stood: (PerLeg<f64>, u32),
    truth: Truth,
}

/// The lane over the days.
pub struct Lane {
    deck: Deck,
    sample: i64,
}

impl Lane {
    /// A clean lane.
    #[must_use]
    pub fn new(herd: &Herd) -> Self {
        let random = Random::new(herd.settings.seed, "deck", 0);
        Self { deck: Deck::new(random, herd.settings.rate_hz), sample: i64::MIN }
    }

    /// For a record without gaps: where it begins, ms since the Unix epoch.
    pub fn begin(&mut self, herd: &Herd, from: i64) {
        self.sample = libm::ceil(from as f64 * herd.settings.rate_hz / 1000.0) as i64;
    }

    /// One milking of today: writes readings and tags, gives the truth by time. `plan`, given the cow and
    /// the milking, may set what goes wrong.
    ///
    /// # Errors
    /// Where the sink fails.
    pub fn milking(
        &mut self,
        herd: &Herd,
        milking: usize,
        plan: impl Fn(&Herd, usize, usize) -> Planned,
        sink: &mut dyn Sink,
    ) -> anyhow::Result<Vec<Truth>> {
        let begin = f64::from(herd.day) + herd.settings.hours()[milking] / 24.0;
        let mut visitors = visitors(herd, milking, begin, plan);
        for (millis, id) in tags(herd, milking, &visitors) {
            sink.tag(millis, &id)?;
        }
        let margin = libm::round(herd.settings.margin_s * 1000.0) as i64;
        let mut next = 0;
        while next < visitors.len() {
            let from = visitors[next].start - margin;
            let mut until = visitors[next].end + margin;
            let first = next;
            while next < visitors.len()
                && (herd.settings.continuous || visitors[next].start - margin <= until)
            {
                until = until.max(visitors[next].end + margin);
                next += 1;
            }
            self.stretch(herd, &mut visitors[first..next], from, until, sink)?;
        }
        let done = visitors.iter().map(|v| v.end).max().unwrap_or(herd.settings.millis(begin));
        self.hosing(herd, done + 60_000, sink)?;
        Ok(visitors.into_iter().map(Visitor::truth).collect())
    }

    /// Writes the empty deck up to a moment, for a record without gaps.
    ///
    /// # Errors
    /// Where the sink fails.
    pub fn empty_until(&mut self, herd: &Herd, until: i64, sink: &mut dyn Sink) -> anyhow::Result<()> {
        self.stretch(herd, &mut [], until, until, sink)
    }

    fn stretch(
        &mut self,
        herd: &Herd,
        visitors: &mut [Visitor],
        from: i64,
        until: i64,
        sink: &mut dyn Sink,
    ) -> anyhow::Result<()> {
        let rate = herd.settings.rate_hz;
        let dt = 1.0 / rate;
        let from = libm::ceil(from as f64 * rate / 1000.0) as i64;
        let mut sample = if herd.settings.continuous && self.sample > i64::MIN { self.sample } else { from };
        let mut gone = 0;
        loop {
            let millis = libm::round(sample as f64 * 1000.0 / rate) as i64;
            if millis > until {
                break;
            }
            let mut loads = PerPlate([0.0; 4]);
            let mut fault = None;
            let mut since = 0.0;
            for visitor in visitors.iter_mut().skip(gone).take(4) {
                if millis >= visitor.start - 500 && millis <= visitor.end + 500 {
                    fault = visitor.fault;
                    since = (millis - visitor.start) as f64 / 1000.0;
                }
                if (visitor.start..=visitor.end).contains(&millis) {
                    visitor.add(millis, dt, &mut loads);
                }
            }
            let gains = gains(herd.settings.drift.as_ref(), days_since_start(herd, millis));
            let read = self.deck.read(loads, gains, fault, since, dt);
            if !self.deck.loses(fault) {
                sink.reading(millis, &read)?;
            }
            if visitors.get(gone).is_some_and(|v| millis > v.end) {
                self.deck.after_cow();
                gone += 1;
            }
            sample += 1;
        }
        self.sample = sample;
        Ok(())
    }

    fn hosing(&mut self, herd: &Herd, from: i64, sink: &mut dyn Sink) -> anyhow::Result<()> {
        let rate = herd.settings.rate_hz;
        if herd.settings.continuous {
            self.stretch(herd, &mut [], from, from, sink)?;
        }
        let first = libm::ceil(from as f64 * rate / 1000.0) as i64;
        let count = libm::round(herd.settings.hosing_s * rate) as i64;
        for sample in first.max(self.sample)..first + count {
            let t = (sample - first) as f64 / rate;
            let wet = t > DRY_S && t < herd.settings.hosing_s - DRY_S;
            let loads = if wet { self.deck.jet(t) } else { PerPlate([0.0; 4]) };
            if wet && sample == first + count / 2 {
                self.deck.hosed();
            }
            let millis = libm::round(sample as f64 * 1000.0 / rate) as i64;
            let gains = gains(herd.settings.drift.as_ref(), days_since_start(herd, millis));
            let read = self.deck.read(loads, gains, None, 0.0, 1.0 / rate);
            sink.reading(millis, &read)?;
        }
        self.sample = first + count;
        Ok(())
    }
}

impl Visitor {
    fn new(start: i64, crossing: Crossing, member: Option<usize>, trouble: Option<Trouble>) -> Self {
        let (on, off) = crossing.span();
        let end = start + libm::round((off - on) * 1000.0) as i64;
        let spoiled = matches!(trouble, Some(Trouble::BackedOut | Trouble::Calf | Trouble::Person));
        let kind = match crossing.stance() {
            _ if spoiled => "unclear",
            Some(_) => "stance",
            None if crossing.clean() => "walk_through",
            None => "unclear",
        };
        let body_weight_kg = crossing.bearing().body_weight_kg;
        let truth = Truth { member, span: (start, end), kind, body_weight_kg, share_pct: None, trouble };
        Self { start, end, crossing, fault: None, stood: (PerLeg([0.0; 4]), 0), truth }
    }

    fn add(&mut self, millis: i64, dt: f64, loads: &mut PerPlate<f64>) {
        let t = self.crossing.span().0 + (millis - self.start) as f64 / 1000.0;
        let own = self.crossing.loads(t, dt);
        if self.crossing.stance().is_some_and(|(from, to)| t >= from && t <= to) {
            // Standing, every foot is on the plate of its leg.
            let total: f64 = own.0.iter().sum();
            for leg in Leg::ALL {
                self.stood.0[leg] += 100.0 * own.0[leg as usize] / total;
            }
            self.stood.1 += 1;
        }
        for plate in Plate::ALL {
            loads[plate] += own[plate];
        }
    }

    fn truth(mut self) -> Truth {
        if self.stood.1 > 0 && self.truth.trouble != Some(Trouble::FootAcross) {
            self.truth.share_pct = Some(PerLeg(self.stood.0.0.map(|sum| sum / f64::from(self.stood.1))));
        }
        self.truth
    }
}

fn days_since_start(herd: &Herd, millis: i64) -> f64 {
    (millis - herd.settings.millis(0.0)) as f64 / 86_400_000.0
}

/// Draws what goes wrong with a passage, `scale` times as often as usual.
pub fn draw_trouble(random: &mut Random, scale: f64) -> Option<Trouble> {
    let mut left = random.uniform(0.0, 1.0);
    for (share, trouble) in TROUBLE {
        left -= share * scale;
        if left < 0.0 {
            return Some(trouble);
        }
    }
    if random.chance(TAG_MISSED * scale) {
        return Some(Trouble::TagMissed);
    }
    random.chance(TAG_SWAPPED * scale).then_some(Trouble::TagSwapped)
}

fn visitors(
    herd: &Herd,
    milking: usize,
    begin: f64,
    plan: impl Fn(&Herd, usize, usize) -> Planned,
) -> Vec<Visitor> {
    let flow = &mut Random::new(herd.settings.seed, "flow", herd.day as u64 * 8 + milking as u64);
    let mut visitors: Vec<Visitor> = Vec::new();
    let mut time = herd.settings.millis(begin) + 60_000;
    let mut gap = |time: i64| time + libm::round(1000.0 * (GAP_S.0 + flow.exponential(GAP_S.1))) as i64;
    let mut close = false;
    for member in herd.order(milking) {
        let random = &mut herd.passage_random(member, milking, "bearing");
        let drawn = draw_trouble(random, herd.settings.trouble);
        let trouble = plan(herd, member, milking).unwrap_or(drawn);
        let bearing = herd.bearing(member, days_since_start(herd, time), random);
        let stream = |purpose| herd.passage_random(member, milking, purpose);
        let guest = match trouble {
            Some(Trouble::Calf) => Some(Crossing::calf(bearing.clone(), stream("guest"))),
            Some(Trouble::Person) => Some(Crossing::person(bearing.clone(), stream("guest"))),
            Some(Trouble::BackedOut) => {
                let turn = bearing.gait.stride_s * random.uniform(0.7, 1.3);
                Some(Crossing::new(bearing.clone(), false, Way::BackedOut(turn), stream("guest")))
            }
            _ => None,
        };
        let own = if guest.is_some() { None } else { trouble };
        if let Some(guest) = guest {
            let who = (trouble == Some(Trouble::BackedOut)).then_some(member);
            let visitor = Visitor::new(time, guest, who, trouble);
            time = gap(visitor.end);
            visitors.push(visitor);
        }
        let across = own == Some(Trouble::FootAcross);
        let mut visitor = Visitor::new(
            time,
            Crossing::new(bearing, across, Way::Through, stream("steps")),
            Some(member),
            own,
        );
        visitor.fault = fault(own, random, &visitor);
        if close {
            visitor.truth.trouble = Some(Trouble::TwoCows);
        }
        close = own == Some(Trouble::TwoCows);
        time = if close { visitor.start + (visitor.end - visitor.start) * 6 / 10 } else { gap(visitor.end) };
        visitors.push(visitor);
    }
    if close && let Some(last) = visitors.last_mut() {
        last.truth.trouble = None;
    }
    mark_swaps(&mut visitors);
    visitors
}

/// A swap takes two: the cow behind has the wrong tag as well.
fn mark_swaps(visitors: &mut [Visitor]) {
    let mut cows: Vec<_> = visitors.iter_mut().filter(|v| v.truth.member.is_some()).collect();
    let mut i = 0;
    while i < cows.len() {
        if cows[i].truth.trouble == Some(Trouble::TagSwapped) {
            match cows.get_mut(i + 1) {
                Some(next) => next.truth.trouble = Some(Trouble::TagSwapped),
                None => cows[i].truth.trouble = None,
            }
            i += 1;
        }
        i += 1;
    }
}

fn fault(trouble: Option<Trouble>, random: &mut Random, visitor: &Visitor) -> Option<Fault> {
    let plate = Plate::ALL[random.below(4)];
    match trouble? {
        Trouble::Saturated => Some(Fault::Saturated(plate, 0.15 * visitor.truth.body_weight_kg)),
        Trouble::StuckPlate => Some(Fault::Stuck(plate)),
        Trouble::LostReadings => Some(Fault::Lost(random.uniform(0.05, 0.4))),
        Trouble::Ringing => {
            let (size, hz, decay) =
                (random.uniform(15.0, 50.0), random.uniform(8.0, 15.0), random.uniform(0.3, 0.9));
            Some(Fault::Ringing(size, hz, decay))
        }
        _ => None,
    }
}

/// The tag reads of a milking: one or two as each cow enters.
fn tags(herd: &Herd, milking: usize, visitors: &[Visitor]) -> Vec<(i64, String)> {
    let random = &mut Random::new(herd.settings.seed, "tags", herd.day as u64 * 8 + milking as u64);
    let mut reads: Vec<(i64, String)> = Vec::new();
    let mut swapped: Option<usize> = None;
    let cows: Vec<_> = visitors.iter().filter(|v| v.truth.member.is_some()).collect();
    for (i, visitor) in cows.iter().enumerate() {
        let Some(mut member) = visitor.truth.member else { continue };
        if let Some(other) = swapped.take() {
            member = other;
        } else if visitor.truth.trouble == Some(Trouble::TagSwapped)
            && let Some(next) = cows.get(i + 1).and_then(|v| v.truth.member)
        {
            swapped = Some(member);
            member = next;
        }
        let at = visitor.start + libm::round(random.uniform(-900.0, 600.0)) as i64;
        let again = random.chance(0.3);
        let later = at + libm::round(random.uniform(150.0, 700.0)) as i64;
        if visitor.truth.trouble == Some(Trouble::TagMissed) {
            continue;
        }
        let id = &herd.members[member].cow.id;
        reads.push((at, id.clone()));
        if again {
            reads.push((later, id.clone()));
        }
    }
    reads.sort();
    reads
}
