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
