//! One passage: four traces, and how she shifted her weight; and the latest ones as cows leave.

use crate::record::Passage;
use crate::report::cow::trace::Trace;
use crate::report::farm::Farm;
use crate::report::live::Passing;
use crate::report::pages::picture::BROKEN;
use crate::report::pages::query::query_value;
use crate::report::pages::render::{Page, View};
use crate::store::Store;
use serde_json::json;
use shared::plate::Leg;

/// Size of the pictures, in their own units; points drawn of a trace at most; and the highest frequency drawn, Hz.
const WIDTH: f64 = 680.0;
const HEIGHT: f64 = 240.0;
const POINTS: usize = 400;
const HIGHEST_HZ: f64 = 3.0;

fn line(points: impl Iterator<Item = (f64, f64)>) -> String {
    points.map(|(x, y)| format!("{x:.1},{y:.1}")).collect::<Vec<_>>().join(" ")
}

impl View<'_> {
    /// Cows as they leave.
    #[must_use]
    pub fn live(&self, passings: &[Passing], just_left: &[String]) -> Page {
        self.page("live.html", json!({ "passings": passings, "just_left": just_left }))
    }

    /// By cow and the time of its first foot, ms since the Unix epoch.
    pub(super) fn passage(&self, farm: &Farm, store: &Store, query: &str) -> Page {
        let animal = match self.animal(farm, query_value(query, "id").as_deref(), "/cow/") {
            Ok(animal) => animal,
            Err(page) => return page,
        };
        let at = query_value(query, "at").and_then(|at| at.parse::<i64>().ok());
        let found = farm.passages.iter().find(|passage| {
            passage.animal.as_ref() == Some(&animal) && Some(passage.time.as_millisecond()) == at
        });
        let Some(passage) = found else { return self.problem(404, "page-no-page") };
        let trace = store.trace(passage.id).ok().flatten().and_then(|bytes| Trace::read(&bytes));
        let (words, zone) = (self.words(), store.time_zone().unwrap_or(jiff::tz::TimeZone::UTC));
        let at = zone.to_datetime(passage.time);
        let mut values = json!({
            "id": animal.0,
            "animal": farm.directory.names.long(&animal),
            "time": format!("{}, {}", words.long_day(at.date()), at.strftime("%H:%M:%S")),
            "facts": facts(passage, self),
            "width": WIDTH,
            "height": HEIGHT,
        });
        if let Some(trace) = trace {
            let seconds = trace.samples.last().map_or(1.0, |last| last.0).max(0.1);
            let most = trace.samples.iter().flat_map(|(_, loads)| loads.0).fold(1.0_f32, f32::max);
            let x = |time: f64| 40.0 + (WIDTH - 80.0) * time / seconds;
            let y = |kg: f32| HEIGHT - 24.0 - (HEIGHT - 34.0) * f64::from(kg.max(0.0) / most);
            let step = trace.samples.len().div_ceil(POINTS);
            let lines = Leg::ALL.map(|leg| {
                json!({
                    "leg": leg.name(),
                    "broken": BROKEN[leg as usize],
                    "points": line(trace.samples.iter().step_by(step).map(|(time, loads)| (x(*time), y(loads[leg])))),
                })
            });
            let stance = &trace.samples[trace.stance.clone()];
            values["lines"] = lines.to_vec().into();
            values["stance"] = stance
                .first()
                .zip(stance.last())
                .map(|(first, last)| json!([x(first.0), x(last.0) - x(first.0)]))
                .into();
            values["seconds"] = words.number(seconds, 1).into();
            values["most_kg"] = words.number(f64::from(most), 0).into();
            let spectra = trace.shifting();
            let highest =
                spectra.iter().flatten().flat_map(|of| of.density.bins()).filter(|bin| bin.0 <= HIGHEST_HZ);
            let highest = highest.map(|bin| bin.1).fold(f64::MIN_POSITIVE, f64::max);
            values["shifting"] = [("front", &spectra[0]), ("rear", &spectra[1])]
                .into_iter()
                .filter_map(|(pair, of)| {
                    let of = of.as_ref()?;
                    let bins = of.density.bins().filter(|bin| bin.0 <= HIGHEST_HZ);
                    let place = |(hz, density): (f64, f64)| {
                        (
                            40.0 + (WIDTH - 80.0) * hz / HIGHEST_HZ,
                            HEIGHT - 24.0 - (HEIGHT - 34.0) * density / highest,
                        )
                    };
                    Some(json!({
                        "pair": words.text(&format!("page-pair-{pair}")),
                        "broken": if pair == "front" { "2 5" } else { "none" },
                        "points": line(bins.map(place)),
                        "power": words.number(of.band_power, 1),
                        "hz": of.dominant_hz.map(|hz| words.number(hz, 1)),
                    }))
                })
                .collect();
        }
        self.page("passage.html", values)
    }
}

/// Weight and shares.
fn facts(passage: &Passage, view: &View<'_>) -> Vec<(String, String)> {
    let words = view.words();
    let weight =
        passage.summary.body_weight.map(|kg| ("kg".to_owned(), words.number(f64::from(kg.value), 0)));
    let shares = passage.summary.standing.into_iter().flat_map(|standing| {
        Leg::ALL.map(|leg| {
            let share = words.number(f64::from(standing.share_pct[leg]), 1);
            (words.leg_letters(leg), format!("{share} %"))
        })
    });
    weight.into_iter().chain(shares).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::cow::trace::tests::walked_and_stood;
    use crate::report::invented::stance;
    use crate::report::pages::{Pages, Viewer};
    use crate::report::words::{Language, Words};
    use crate::store::{NewPassage, PassageFilter};
    use jiff::civil::date;

    /// The page of a cow's only passage.
    fn shown(trace: Option<Vec<u8>>) -> String {
        let day = date(2026, 3, 2);
        let store = Store::in_memory().expect("a store");
        let made = stance("1042", day, [27.5, 27.0, 21.0, 24.5]);
        let source = store.begin_source("passages", "invented", made.time).expect("a source");
        let url = format!("/passage?id=1042&at={}", made.time.as_millisecond());
        let new = NewPassage {
            lane: made.lane,
            time: made.time,
            animal: made.animal,
            evidence: "tag".into(),
            summary: made.summary,
            trace,
        };
        store.insert_listed(&new, source).expect("put in");
        let passages = store.passages(&PassageFilter::default()).expect("read");
        let farm = Farm { passages, ..Farm::empty(day) };
        let pages = Pages::new(Words::new(Language::English)).expect("pages");
        let page = pages.view(Viewer::default()).answer(&url, Some(&farm), &store);
        assert_eq!(page.status, 200, "{}", page.body);
        page.body
    }

    #[test]
    fn weight_and_shares_stand_on_the_page_of_a_passage_without_a_trace_too() {
        let body = shown(None);
        assert!(body.contains("<p>kg 640; LF 27.5 %; RF 27.0 %; LR 21.0 %; RR 24.5 %</p>"), "{body}");
        assert!(!body.contains("<polyline"), "{body}");
    }

    // By hand: 300 kg on one plate are the most, at the top: 240 - 24 - 206 = 10; an empty plate is at 216. 160 kg are at
    // 216 - 206 * 160 / 300 = 106.1. Of 1,200 samples over 11.99 s each third is drawn, the last at 11.97 s, which is at
    // 40 + 600 * 11.97 / 11.99 = 639.0.
    #[test]
    fn a_trace_is_drawn_from_its_first_to_its_last_sample_and_up_to_its_most() {
        let body = shown(Some(walked_and_stood()));
        assert!(body.contains("points=\"40.0,10.0 "), "{body}");
        assert!(body.contains("points=\"40.0,216.0 "), "{body}");
        assert!(body.contains(" 639.0,106.1\""), "{body}");
        assert!(body.contains(">300</text>") && body.contains(">12.0 s</text>"), "{body}");
    }

    // By hand: ten seconds have bins 0.1 Hz apart, 20 units each of 600 for 3 Hz. A sway of 1 Hz is in bin 10, at
    // 40 + 600 / 3 = 240, and the highest: 216 - 206 = 10. The Hann window leaves a quarter of it in the bins beside, at
    // 216 - 206 / 4 = 164.5, and nothing elsewhere.
    #[test]
    fn the_sway_of_a_second_is_a_peak_at_one_hertz() {
        let body = shown(Some(walked_and_stood()));
        assert!(body.contains(" 200.0,216.0 220.0,164.5 240.0,10.0 260.0,164.5 280.0,216.0 "), "{body}");
        assert!(body.contains("points=\"40.0,216.0 60.0,216.0 "), "{body}");
    }
}
