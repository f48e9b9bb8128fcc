//! What the pages ask of a lane, and what is on the desk for it.

use crate::record::person::Role;
use crate::report::pages::{PlatesNow, View, Viewer, query_value};
use crate::serve::{Refused, answers::Reply, answers::go_to};
use crate::store::desk::{Desk, StepEnd};
use crate::store::{Device, Store, device_number};
use jiff::Timestamp;
use shared::{
    plate::Plate,
    units::Kilograms,
    wire::{CalibrationStep, DeviceId},
};
use std::path::Path;

/// A page that is shown once keeps the lane weighing for so long, ms: until its script asks again, or somebody reloads it.
const WATCH_MS: i64 = 15_000;

const BUSY: Refused = (503, "page-busy");
const BAD: Refused = (400, "page-bad-form");

/// The device of an address or a form: the one it names, or the only one.
fn device(devices: &[Device], query: &str) -> Result<Option<Device>, Refused> {
    let Some(named) = query_value(query, "lane") else {
        return Ok(devices.first().filter(|_| devices.len() == 1).cloned());
    };
    let id = u64::from_str_radix(&named, 16).ok();
    devices.iter().find(|device| Some(device.id.0) == id).cloned().map(Some).ok_or((404, "page-no-page"))
}

/// What is on the plates of a device now; whoever asks is taken to go on looking.
pub(super) fn now(
    desk: &Desk,
    device: DeviceId,
    at: Timestamp,
    view: &View<'_>,
) -> Result<PlatesNow, Refused> {
    let now_ms = at.as_millisecond();
    let asked = desk.is_watched(device, now_ms).map_err(|_| BUSY)?;
    desk.watch(device, now_ms + WATCH_MS).map_err(|_| BUSY)?;
    let loads = desk.loads(device).map_err(|_| BUSY)?;
    let steps = desk.steps(device, now_ms).map_err(|_| BUSY)?;
    Ok(PlatesNow::of(loads.as_ref(), &steps, asked, now_ms, view.words()))
}

/// The device whose plates an address names, where there is such a one.
pub(super) fn named(store: &Store, url: &str) -> Option<DeviceId> {
    let query = url.split_once('?').map_or("", |(_, query)| query);
    device(&store.devices().ok()?, query).ok().flatten().map(|device| device.id)
}

/// The plates now, or a calibration.
pub(super) fn show(
    path: &Path,
    store: &Store,
    url: &str,
    view: &View<'_>,
    at: Timestamp,
) -> Result<Reply, Refused> {
    let (page, query) = url.split_once('?').unwrap_or((url, ""));
    if page == "/calibrate" && !may(view.viewer()) {
        return Err((403, "page-may-not-calibrate"));
    }
    let devices = store.devices().map_err(|_| BUSY)?;
    let Some(device) = device(&devices, query)? else { return Ok(view.which_lane(&devices, page).into()) };
    let desk = Desk::open(path).map_err(|_| BUSY)?;
    let now = now(&desk, device.id, at, view)?;
    if page == "/plates" {
        return Ok(view.plates(&device, &now, store, at).into());
    }
    let steps = desk.steps(device.id, at.as_millisecond()).map_err(|_| BUSY)?;
    Ok(view.calibrate(&device, &now, &steps, at.as_millisecond()).into())
}

/// Asks for a step of a calibration; where to go then, and what is noted of it.
pub(super) fn calibrate(
    path: &Path,
    store: &Store,
    form: &str,
    viewer: &Viewer,
    at: Timestamp,
) -> Result<(Reply, String), Refused> {
    if !may(viewer) {
        return Err((403, "page-may-not-calibrate"));
    }
    let devices = store.devices().map_err(|_| BUSY)?;
    let device = device(&devices, form)?.ok_or(BAD)?;
    let value = |name| query_value(form, name).unwrap_or_default();
    let weight = Kilograms(value("weight").replace(',', ".").parse().map_err(|_| BAD)?);
    let plate = || Plate::ALL.into_iter().find(|plate| plate.name() == value("plate")).ok_or(BAD);
    let name = value("step");
    let step = match name.as_str() {
        "empty_deck" => CalibrationStep::EmptyDeck,
        "known_weight" => CalibrationStep::KnownWeight { plate: plate()?, weight },
        "check" => CalibrationStep::Check { plate: plate()?, weight },
        "finish" => CalibrationStep::Finish,
        "abort" => CalibrationStep::Abort,
        _ => return Err(BAD),
    };
    if !weight.0.is_finite() {
        return Err(BAD);
    }
    let skipped = matches!(step, CalibrationStep::Check { .. }) && !value("skip").is_empty();
    let end = skipped.then_some(StepEnd::Skipped);
    let desk = Desk::open(path).map_err(|_| BUSY)?;
    desk.ask(device.id, weight.0, step, end, at.as_millisecond()).map_err(|_| BUSY)?;
    let deed = format!("calibrate {} {name}", device.lane());
    Ok((go_to(format!("/calibrate?lane={}", device_number(device.id))), deed))
}

/// Who may calibrate.
fn may(viewer: &Viewer) -> bool {
    viewer.role == Some(Role::Administer) && viewer.token.is_some()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::pages::Pages;
    use crate::report::words::{Language, Words};

    // 1,000 ms and the 15,000 of a look: watched at 15,999 ms, no more at 16,000.
    #[test]
    fn whoever_asks_once_is_taken_to_look_on_for_fifteen_seconds() {
        let folder = tempfile::tempdir().expect("a folder");
        let desk = Desk::open(&folder.path().join("store.sqlite")).expect("a desk");
        let pages = Pages::new(Words::new(Language::English)).expect("pages");
        let at = Timestamp::from_millisecond(1_000).expect("a time");
        now(&desk, DeviceId(1), at, &pages.view(Viewer::default())).expect("the plates");
        let watched = |at_ms| desk.is_watched(DeviceId(1), at_ms).expect("read");
        assert!(watched(15_999) && !watched(16_000));
        assert!(!desk.is_watched(DeviceId(2), 1_000).expect("read"), "nobody asked for the other");
    }
}
