use super::*;
use crate::store::PassageFilter;

#[test]
fn every_column_of_a_leg_is_found() {
    let columns = [
        (SHARE, "share_pct"),
        (SHARE_SD, "share_sd_pct"),
        (SHARE_ERROR, "share_se_pct"),
        (LIFTS, "lifts"),
        (CONTACTS, "contacts"),
        (PEAK, "peak_pct"),
        (CONTACT_TIME, "contact_s"),
        (IMPULSE, "impulse_pct_s"),
        (STEP, "step_s"),
    ];
    for (places, what) in columns {
        for leg in Leg::ALL {
            let name = format!("{}_{what}", leg.name().to_ascii_lowercase());
            assert_eq!(PASSAGE_COLUMNS[places[leg]], name);
        }
    }
}

/// The one passage of a table of one row, and the notes on it.
fn only(header: &str, row: &str) -> (PassageSummary, Vec<String>) {
    let store = Store::in_memory().expect("memory");
    let file = format!("animal_id,time,{header}\n412,2026-03-01T06:00:00Z,{row}\n");
    let input = Input::of("a file", Box::new(std::io::Cursor::new(file)), None);
    let outcome = passages(&store, input, "exit").expect("read");
    assert_eq!((outcome.added, outcome.bad), (1, 0), "{:?}", outcome.problems);
    let kept = store.passages(&PassageFilter::default()).expect("readable");
    (kept[0].summary, outcome.notes)
}

const STOOD: &str = "lf_share_pct,rf_share_pct,lr_share_pct,rr_share_pct,standing_s,shifts_per_min";

#[test]
fn weight_shifts_a_minute_are_taken_as_so_many_of_the_rear_pair() {
    // 4 a minute for 90 s are 6.
    let (summary, notes) = only(STOOD, "28,28,22,22,90,4");
    let standing = summary.standing.expect("she stood");
    assert_eq!((standing.front_shifts, standing.rear_shifts), (0, 6));
    assert!(notes.iter().any(|note| note.contains("rear pair's")), "{notes:?}");
    // Where either pair is counted, the count says it.
    let (summary, notes) = only(&format!("{STOOD},front_shifts"), "28,28,22,22,90,4,5");
    let standing = summary.standing.expect("she stood");
    assert_eq!((standing.front_shifts, standing.rear_shifts), (5, 0));
    assert!(notes.is_empty(), "{notes:?}");
}

#[test]
fn the_contacts_of_each_leg_are_taken_as_they_stand() {
    let header =
        "lf_contacts,lf_peak_pct,lf_contact_s,lf_impulse_pct_s,lf_step_s,rf_peak_pct,lr_contacts,lr_peak_pct";
    // The left fore with all it has; the right fore has a peak, so one contact; the left hind none, whatever its peak.
    let (summary, _) = only(header, "2,55.5,0.75,30.25,1.5,48,0,40");
    let left_fore =
        LegContacts { count: 2, peak_pct: 55.5, stance_s: 0.75, impulse_pct_s: 30.25, step_s: 1.5 };
    let right_fore = LegContacts { count: 1, peak_pct: 48.0, ..LegContacts::default() };
    let none = LegContacts::default();
    assert_eq!(summary.walking.0, [left_fore, right_fore, none, none]);
    assert_eq!(summary.kind, PassageKind::WalkThrough);
    // No leg at all: nobody knows what it was.
    assert_eq!(only("lr_contacts,lr_peak_pct", "0,40").0.kind, PassageKind::Unclear);
}
