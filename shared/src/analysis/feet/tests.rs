//! Feet by hand, one plate after another.

use super::*;

/// Holds loads for 200 ms from a time on.
fn hold(feet: &mut Feet, from_ms: u64, loads: [f32; 4]) {
    (0..20).for_each(|n| feet.push(Milliseconds(from_ms + 10 * n), 0.01, loads, loads));
}

#[test]
fn another_foot_may_be_on_where_one_came_down_since_or_a_stance_is_known() {
    let mut feet = Feet::default();
    assert!(!feet.may_part(Plate::LF), "nothing is on");
    hold(&mut feet, 0, [300.0, 0.0, 0.0, 0.0]);
    assert!(!feet.may_part(Plate::LF));
    hold(&mut feet, 200, [300.0, 300.0, 0.0, 0.0]);
    assert!(feet.may_part(Plate::LF), "the right foot came down since");
    assert!(!feet.may_part(Plate::RF), "the left foot came down before");
    hold(&mut feet, 400, [300.0, 0.0, 0.0, 0.0]);
    hold(&mut feet, 600, [300.0, 300.0, 0.0, 0.0]);
    assert!(feet.may_part(Plate::RF), "its last stance is known");
}

#[test]
fn only_whole_contacts_of_a_walk_that_are_no_longer_than_two_seconds_count() {
    let counted = |contact: Contact| {
        let mut feet = Feet::default();
        feet.count(Leg::LF, &contact);
        feet.walked[Leg::LF].count
    };
    let walked = Contact { end: Milliseconds(2000), peak: 300.0, whole: true, ..Contact::default() };
    assert_eq!(counted(walked), 1);
    assert_eq!(counted(Contact { end: Milliseconds(2001), ..walked }), 0);
    assert_eq!(counted(Contact { stood: true, ..walked }), 0);
    assert_eq!(counted(Contact { whole: false, ..walked }), 0);
}

// By hand: front and rear plate of the left side. Her fore foot was on the rear one, then on the front one with a hind
// foot behind it; that leaves last, 400 ms after the fore foot, and no hind foot came to the front.
#[test]
fn who_was_last_on_the_rear_plate_backed_out_if_her_fore_foot_had_come_over_it() {
    const FRONT: [f32; 4] = [300.0, 0.0, 0.0, 0.0];
    const REAR: [f32; 4] = [0.0, 0.0, 300.0, 0.0];
    const BOTH: [f32; 4] = [300.0, 0.0, 300.0, 0.0];
    let after = |entry: [f32; 4], rear_longer_ms: u64| {
        let mut feet = Feet::default();
        let steps = [
            (400, entry),
            (200, [0.0; 4]),
            (600, FRONT),
            (1000, BOTH),
            (rear_longer_ms, REAR),
            (400, [0.0; 4]),
        ];
        let mut at = 0;
        for (ms, loads) in steps {
            (0..ms / 200).for_each(|n| hold(&mut feet, at + 200 * n, loads));
            at += ms;
        }
        feet.finish(Milliseconds(at));
        feet.backed_out()
    };
    assert!(after(REAR, 400));
    assert!(!after([0.0; 4], 400), "her fore foot was never on the rear plate");
    assert!(!after(REAR, 200), "both left at once, within the slack");
}
