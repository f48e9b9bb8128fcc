use crate::identity::*;
use crate::record::AnimalId;
use crate::store::Pattern;
use jiff::Timestamp;
use rand::{RngExt, SeedableRng, seq::SliceRandom};
use rand_chacha::ChaCha8Rng;

fn passages(spans: &[(f64, f64)]) -> Vec<Candidate> {
    let candidate = |(id, span): (usize, &(f64, f64))| Candidate {
        id: id as i64,
        start_ms: seconds(span.0),
        end_ms: seconds(span.1),
        pattern: [None; 4],
    };
    spans.iter().enumerate().map(candidate).collect()
}

fn reads(seen: &[(f64, &str)]) -> Vec<TagRead> {
    let read = |(time, animal): &(f64, &str)| TagRead {
        time: Timestamp::from_millisecond(seconds(*time)).unwrap(),
        animal: AnimalId((*animal).to_owned()),
    };
    seen.iter().map(read).collect()
}

/// Names passages of one lane by tag reads of that lane; both in order of time.
fn match_tags(passages: &[Candidate], reads: &[TagRead]) -> Vec<Assignment> {
    match_weighed(&TagPatterns::default(), passages, reads)
}

fn match_weighed(usual: &TagPatterns, passages: &[Candidate], reads: &[TagRead]) -> Vec<Assignment> {
    name_by(reader_clock::estimate(passages, &visits(reads), usual), usual, passages, reads)
}

fn names(spans: &[(f64, f64)], seen: &[(f64, &str)]) -> Vec<String> {
    let named = match_tags(&passages(spans), &reads(seen));
    named.into_iter().map(|one| one.animal.map_or_else(|| "-".to_owned(), |animal| animal.0)).collect()
}

#[test]
fn evidence_is_in_words() {
    let found = match_tags(&passages(&[(100.0, 104.0), (300.0, 304.0)]), &reads(&[(99.2, "1")]));
    assert_eq!(found[0].evidence, "tag read 0.8 s before first foot");
    assert_eq!(found[1].evidence, "no tag");
    let found = match_tags(&passages(&[(100.0, 104.0)]), &reads(&[(101.0, "1")]));
    assert_eq!(found[0].evidence, "tag read 1.0 s after first foot");
}

#[test]
fn the_order_of_the_cows_settles_what_time_alone_does_not() {
    // The second cow is read right behind the first, long before she steps on.
    assert_eq!(names(&[(100.0, 104.0), (108.0, 112.0)], &[(99.0, "a"), (99.5, "b")]), ["a", "b"]);
    // The first tag was missed; the second is read while the first cow is on.
    assert_eq!(names(&[(100.0, 104.0), (108.0, 112.0)], &[(106.0, "b")]), ["-", "b"]);
    // The second tag was missed: the first does not name two passages.
    assert_eq!(names(&[(100.0, 104.0), (108.0, 112.0)], &[(99.0, "a"), (101.0, "a")]), ["a", "-"]);
}

#[test]
fn duplicates_are_one_visit_and_a_later_visit_counts_again() {
    let seen = [(98.0, "a"), (98.5, "a"), (99.0, "a"), (101.0, "a"), (400.0, "a")];
    assert_eq!(names(&[(100.0, 104.0), (401.0, 405.0)], &seen), ["a", "a"]);
}

#[test]
fn two_tags_and_one_passage_leave_it_without_a_name() {
    let found = match_tags(&passages(&[(100.0, 104.0)]), &reads(&[(99.0, "a"), (99.4, "b")]));
    assert_eq!(found[0].animal, None);
    assert_eq!(found[0].evidence, "two tags in reach: b, a");
}

#[test]
fn far_tags_name_nobody() {
    assert_eq!(names(&[(100.0, 104.0)], &[(80.0, "a"), (120.0, "b")]), ["-"]);
}

/// A made-up milking: cows 5 to 60 s apart, reads 0.3 to 3 s before the first foot, some missed, some doubled.
#[test]
fn a_milking_is_named_without_a_wrong_name() {
    let mut random = ChaCha8Rng::seed_from_u64(4);
    let (mut spans, mut seen, mut truth) = (Vec::new(), Vec::new(), Vec::new());
    let mut time = 1000.0_f64;
    for cow in 0..300 {
        let animal: &'static str = Box::leak(format!("cow-{cow}").into_boxed_str());
        time += random.random_range(5.0..60.0);
        spans.push((time, time + 4.0));
        let missed = random.random_bool(0.05);
        if !missed {
            let lead = random.random_range(0.3..3.0);
            seen.push((time - lead, animal));
            if random.random_bool(0.3) {
                seen.push((time - lead + 0.2, animal));
            }
        }
        truth.push(if missed { "-" } else { animal });
        time += 4.0;
    }
    seen.sort_by(|a, b| a.0.total_cmp(&b.0));
    let found = names(&spans, &seen);
    let wrong = found.iter().zip(&truth).filter(|(found, truth)| *found != "-" && found != *truth).count();
    let named = found.iter().filter(|name| *name != "-").count();
    assert_eq!(wrong, 0);
    assert!(named >= truth.iter().filter(|name| **name != "-").count() * 98 / 100, "{named}");
}

/// A passage of 4 s that says nothing but its time.
fn unnamed(start_ms: i64) -> crate::store::NewPassage {
    use shared::analysis::{PassageKind, PassageSummary, Quality};
    use shared::{plate::PerLeg, units::Milliseconds};
    crate::store::NewPassage {
        lane: "lane".into(),
        time: Timestamp::from_millisecond(start_ms).unwrap(),
        animal: None,
        evidence: "no tag".into(),
        summary: PassageSummary {
            start: Milliseconds(start_ms.cast_unsigned()),
            duration: Milliseconds(4000),
            kind: PassageKind::Unclear,
            quality: Quality::default(),
            readings: 1,
            lost_readings: 0,
            body_weight: None,
            standing: None,
            walking: PerLeg::default(),
        },
        trace: None,
    }
}

#[test]
fn the_order_of_import_does_not_matter() {
    use crate::store::PassageFilter;
    let spans: Vec<_> = (0..40).map(|i| (1000.0 + 9.0 * f64::from(i), 1004.0 + 9.0 * f64::from(i))).collect();
    let cows: Vec<_> = (0..40).map(|i| format!("{i}")).collect();
    let seen: Vec<_> = spans.iter().zip(&cows).map(|(span, cow)| (span.0 - 2.5, cow.as_str())).collect();
    let mut results = Vec::new();
    for seed in 0..4 {
        let store = Store::in_memory().unwrap();
        let source = store.begin_source("test", "test", Timestamp::UNIX_EPOCH).unwrap();
        let mut steps: Vec<_> = (0..80).collect();
        steps.shuffle(&mut ChaCha8Rng::seed_from_u64(seed));
        for step in steps {
            let index = step / 2;
            let start = passages(&spans)[index].start_ms;
            if step % 2 == 0 {
                store.insert_tag_read("lane", &reads(&seen)[index]).unwrap();
            } else {
                store.insert_measured(&unnamed(start), source).unwrap();
            }
            rematch(&store, "lane", start, start).unwrap();
        }
        let all = store.passages(&PassageFilter::default()).unwrap();
        results.push(all.into_iter().map(|p| (p.time, p.animal.map(|a| a.0))).collect::<Vec<_>>());
    }
    assert!(results.iter().all(|result| *result == results[0]));
    assert!(results[0].iter().zip(&cows).all(|(passage, cow)| passage.1.as_ref() == Some(cow)));
}

/// How cows of a made-up milking follow one another.
#[derive(Clone, Copy, Debug)]
enum Flow {
    /// 3 s and more after the last, 12 s on average.
    Free,
    /// Ten at a time, 4 to 8 s apart, then some minutes of milking.
    Batches,
    /// One every 12 s, give or take half a second.
    Carousel,
}

/// Two milkings of 120 cows; which cow was on the plates when, and the reads of a clock that is `ahead` s at the start
/// and gains `drift` s an hour. Every passage is weighed, for [`usual`] to tell from.
fn day(flow: Flow, ahead: f64, drift: f64, seed: u64) -> (Vec<Candidate>, Vec<TagRead>, Vec<Option<usize>>) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let (mut spans, mut weights, mut seen, mut truth) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for milking in [0.0, 11.0 * 3600.0] {
        let mut cows: Vec<usize> = (0..120).collect();
        cows.shuffle(&mut random);
        let mut time = 1_000_000_000.0 + milking;
        for (place, cow) in cows.into_iter().enumerate() {
            let stays = random.random_range(2.5..6.0);
            spans.push((time, time + stays));
            weights.push(kg(cow) * random.random_range(0.94..1.06));
            let missed = random.random_bool(0.1);
            truth.push((!missed).then_some(cow));
            if !missed {
                let lead = random.random_range(0.3..3.0);
                let read = time - lead;
                let off = ahead + drift * (read - 1_000_000_000.0) / 3600.0;
                seen.push((read + off, cow));
            }
            time += match flow {
                Flow::Free => stays + 3.0 - 9.0 * random.random_range(f64::EPSILON..1.0).ln(),
                Flow::Batches if place % 10 == 9 => random.random_range(300.0..700.0),
                Flow::Batches => stays + random.random_range(0.5..4.0),
                Flow::Carousel => 12.0 + random.random_range(-0.5..0.5),
            };
        }
    }
    seen.sort_by(|a, b| a.0.total_cmp(&b.0));
    let names: Vec<_> = seen.iter().map(|(time, cow)| (*time, cow.to_string())).collect();
    let seen: Vec<_> = names.iter().map(|(time, name)| (*time, name.as_str())).collect();
    let mut weighed = passages(&spans);
    for (candidate, kg) in weighed.iter_mut().zip(weights) {
        candidate.pattern[0] = Some(kg.ln());
    }
    (weighed, reads(&seen), truth)
}

/// Spread over 480 to 800 kg without an order.
fn kg(cow: usize) -> f64 {
    480.0 + f64::from(u32::try_from(cow * 77 % 120).unwrap()) * 320.0 / 119.0
}

fn weighs(kg: f64) -> Pattern {
    [Some(kg.ln()), None, None, None]
}

/// What the cows of a made-up milking usually weigh.
fn usual() -> TagPatterns {
    TagPatterns::known((0..120).map(|cow| (cow.to_string(), weighs(kg(cow)))))
}

/// Wrong names, right names, and passages with a read, by milking.
fn trial(usual: &TagPatterns, flow: Flow, ahead: f64, drift: f64, seed: u64) -> (usize, usize, usize) {
    let (candidates, seen, truth) = day(flow, ahead, drift, seed);
    let (mut wrong, mut right) = (0, 0);
    for half in [0..120, 120..240] {
        let bounds =
            (candidates[half.start].start_ms - 3_600_000, candidates[half.end - 1].end_ms + 3_600_000);
        let near = |read: &&TagRead| (bounds.0..bounds.1).contains(&read.time.as_millisecond());
        let seen: Vec<_> = seen.iter().filter(near).cloned().collect();
        for (found, truth) in match_weighed(usual, &candidates[half.clone()], &seen).iter().zip(&truth[half])
        {
            let found = found.animal.as_ref().map(|animal| animal.0.clone());
            right += usize::from(found.is_some() && found == truth.map(|cow| cow.to_string()));
            wrong += usize::from(found.is_some() && found != truth.map(|cow| cow.to_string()));
        }
    }
    (wrong, right, truth.iter().flatten().count())
}

/// The clock is corrected in the store too, told of while it is off, and forgotten when the reads that said so go.
#[test]
fn a_clock_that_is_off_is_told_of_in_its_period() {
    use crate::record::finding::LaneRemark;
    let (candidates, seen, truth) = day(Flow::Free, -20.0, 0.0, 1);
    let store = Store::in_memory().unwrap();
    let source = store.begin_source("test", "test", Timestamp::UNIX_EPOCH).unwrap();
    for candidate in &candidates {
        store.insert_measured(&unnamed(candidate.start_ms), source).unwrap();
    }
    for read in &seen {
        store.insert_tag_read("lane", read).unwrap();
    }
    let (from, to) = (candidates[0].start_ms, candidates[239].start_ms);
    rematch(&store, "lane", from, to).unwrap();
    let all = store.passages(&crate::store::PassageFilter::default()).unwrap();
    let named = all.into_iter().map(|p| p.animal.map(|a| a.0)).collect::<Vec<_>>();
    let wrong =
        named.iter().zip(&truth).filter(|(name, cow)| **name != cow.map(|cow| cow.to_string())).count();
    assert_eq!(wrong, 0);
    let moment = |ms| Timestamp::from_millisecond(ms).unwrap();
    let off = || store.reader_offsets(moment(from - PERIOD_MS), moment(to)).unwrap();
    let said = off()["lane"].remark();
    assert!(matches!(said, LaneRemark::ReaderBehind { by_s } if (19.0..21.0).contains(&by_s)), "{said:?}");
    store.connection().execute("DELETE FROM tag_reads", []).unwrap();
    rematch(&store, "lane", from, to).unwrap();
    assert!(off().is_empty());
}

/// At most 1 % wrong, and at least 90 % right of those read where the cows' times or weights tell; nobody wrong where
/// neither does.
#[test]
fn a_readers_clock_that_is_off_names_no_wrong_cows() {
    let clocks = [0.0, 5.0, -5.0, 10.0, -10.0, 20.0, -20.0, 60.0, -60.0].map(|ahead| (ahead, 0.0));
    let weights = [(TagPatterns::default(), false), (usual(), true)];
    for (flow, (usual, weighed)) in [Flow::Free, Flow::Batches, Flow::Carousel]
        .into_iter()
        .flat_map(|f| weights.iter().map(move |w| (f, w)))
    {
        for (ahead, drift) in clocks.into_iter().chain([(0.0, 1.0), (30.0, -1.0)]) {
            for seed in 0..3 {
                let (wrong, right, read) = trial(usual, flow, ahead, drift, seed);
                let what = format!("{flow:?} {ahead} s {drift} s/h seed {seed}, weighed: {weighed}");
                assert!(wrong * 100 <= 240, "{what}: {wrong} wrong");
                let told = *weighed || !matches!(flow, Flow::Carousel);
                assert!(!told || right * 100 >= 90 * read, "{what}: {right} of {read}");
            }
        }
    }
}

/// Ten cows a minute apart, each weighing as `kg` says by her place.
fn weighed_names(kg: impl Fn(usize) -> f64) -> Vec<String> {
    let spans: Vec<_> =
        (0..10).map(|i| (60.0 * f64::from(i) + 1000.0, 60.0 * f64::from(i) + 1004.0)).collect();
    let tags: Vec<_> = (0..10).map(|i| i.to_string()).collect();
    let seen: Vec<_> = spans.iter().zip(&tags).map(|(span, tag)| (span.0 - 1.0, tag.as_str())).collect();
    let mut candidates = passages(&spans);
    for (place, candidate) in candidates.iter_mut().enumerate() {
        candidate.pattern[0] = Some(kg(place).ln());
    }
    let usual = TagPatterns::known((0..10).map(|i| (i.to_string(), weighs(600.0))));
    let named = match_weighed(&usual, &candidates, &reads(&seen));
    named.into_iter().map(|one| one.animal.map_or_else(|| one.evidence, |animal| animal.0)).collect()
}

#[test]
fn a_name_is_not_given_where_the_weight_cannot_be_hers() {
    let limit = 600.0 * 0.2_f64.exp();
    let at = |heavy: f64| weighed_names(|place| if place == 3 { heavy } else { 600.0 });
    assert_eq!(at(limit - 1.0)[3], "3");
    assert_eq!(at(limit + 1.0)[3], "the weight is not that of the tag's cow");
    assert_eq!(at(600.0 * (-0.2_f64).exp() + 1.0)[3], "3");
    assert_eq!(at(600.0 * (-0.2_f64).exp() - 1.0)[3], "the weight is not that of the tag's cow");
    assert_eq!(at(limit + 1.0)[4], "4");
    // A scale that is off as a whole takes nobody's name.
    assert_eq!(weighed_names(|_| 900.0)[3], "3");
}

#[test]
fn what_a_cow_usually_weighs_is_known_from_four_passages_of_three_weeks() {
    use shared::units::Estimate;
    let store = Store::in_memory().unwrap();
    let source = store.begin_source("test", "test", Timestamp::UNIX_EPOCH).unwrap();
    let day = 24 * 3600 * 1000;
    let usual = |before| store.usual_pattern("7", before).unwrap()[0].map(|log| log.exp().round());
    for (days, kg) in [(1, 580.0), (2, 600.0), (3, 610.0), (4, 640.0)] {
        assert_eq!(usual(days * day), None);
        let mut passage = unnamed(days * day);
        passage.animal = Some(AnimalId("7".to_owned()));
        passage.summary.body_weight = Some(Estimate { value: kg, se: 1.0 });
        store.insert_measured(&passage, source).unwrap();
    }
    assert_eq!(usual(4 * day), None);
    assert_eq!(usual(4 * day + 1), Some(605.0));
    assert_eq!(usual(22 * day), Some(605.0));
    assert_eq!(usual(22 * day + 1), None);
}

#[test]
fn how_she_stands_tells_her_from_another_of_her_weight() {
    let stands = |front: f64, rear: f64| [Some(600.0_f64.ln()), Some(front), Some(0.0), Some(rear)];
    let usual = TagPatterns::known(
        [("a".to_owned(), stands(52.0, 8.0)), ("b".to_owned(), stands(56.0, -8.0))].into_iter(),
    );
    let mut candidates = passages(&[(100.0, 104.0), (200.0, 204.0)]);
    (candidates[0].pattern, candidates[1].pattern) = (stands(52.5, 7.0), stands(56.0, -9.0));
    let seen = reads(&[(99.0, "a"), (199.0, "b")]);
    let odds = usual.odds(&candidates, &visits(&seen));
    let of = |visit: usize, passage: usize| odds[visit].as_ref().unwrap()[passage];
    assert!(of(0, 0) > 10.0 * of(0, 1) && of(1, 1) > 10.0 * of(1, 0), "{odds:?}");
    // What was not measured says nothing.
    candidates[0].pattern = [None; 4];
    assert_eq!(usual.odds(&candidates, &visits(&seen))[0].as_ref().unwrap()[0], 1.0);
}

#[test]
fn a_read_after_the_first_foot_costs_half_and_after_the_last_foot_all_of_its_seconds_more() {
    // First foot at -1 s, last at 0. A read at 2 s is 3 s behind the first and 2 s behind the last: 3 / 2 + 2 = 3.5.
    // At 6 s 7 / 2 + 6 = 9.5 is within the reach of 10 s, at 7 s 8 / 2 + 7 = 11 is not. Before the first foot a second
    // costs a second: 10 s at -11 s, and a millisecond earlier it is out of reach.
    let passage = &passages(&[(-1.0, 0.0)])[0];
    let costs = |ms: i64| TagVisit { animal: "a", times: vec![ms] }.nearest(passage, false);
    assert_eq!(costs(2_000), Some((3.5, -3.0)));
    assert_eq!((costs(6_000), costs(7_000)), (Some((9.5, -7.0)), None));
    assert_eq!((costs(-11_000), costs(-11_001)), (Some((10.0, 10.0)), None));
}
