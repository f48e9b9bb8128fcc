use crate::identity::*;
use crate::record::AnimalId;
use jiff::Timestamp;
use rand::{RngExt, SeedableRng, seq::SliceRandom};
use rand_chacha::ChaCha8Rng;

fn passages(spans: &[(f64, f64)]) -> Vec<Candidate> {
    let candidate = |(id, span): (usize, &(f64, f64))| Candidate {
        id: id as i64,
        start_ms: seconds(span.0),
        end_ms: seconds(span.1),
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

#[test]
fn the_order_of_import_does_not_matter() {
    use crate::store::{NewPassage, PassageFilter};
    use shared::analysis::{PassageKind, PassageSummary, Quality};
    use shared::{plate::PerLeg, units::Milliseconds};
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
                let time = Timestamp::from_millisecond(start).unwrap();
                let summary = PassageSummary {
                    start: Milliseconds(start.cast_unsigned()),
                    duration: Milliseconds(4000),
                    kind: PassageKind::Unclear,
                    quality: Quality::default(),
                    readings: 1,
                    lost_readings: 0,
                    body_weight: None,
                    standing: None,
                    walking: PerLeg::default(),
                };
                let new = NewPassage {
                    lane: "lane".into(),
                    time,
                    animal: None,
                    evidence: "no tag".into(),
                    summary,
                    trace: None,
                };
                store.insert_measured(&new, source).unwrap();
            }
            rematch(&store, "lane", start, start).unwrap();
        }
        let all = store.passages(&PassageFilter::default()).unwrap();
        results.push(all.into_iter().map(|p| (p.time, p.animal.map(|a| a.0))).collect::<Vec<_>>());
    }
    assert!(results.iter().all(|result| *result == results[0]));
    assert!(results[0].iter().zip(&cows).all(|(passage, cow)| passage.1.as_ref() == Some(cow)));
}
