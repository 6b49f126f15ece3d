//! What the form of a slip takes, asks and gives.

use super::*;
use crate::rules::{RtScale, TrackLength};
use crate::slips::{Doubt, LaneSlip, LaunchFeel, Manner, SlipTree, read_column};
use crate::tree::Lane;
use jiff::civil::date;

fn last() -> Slip {
    Slip {
        date: Some(date(2026, 5, 1)),
        driver: "me".to_owned(),
        car: "the old one".to_owned(),
        track: "our strip".to_owned(),
        tree: Some(SlipTree::Full),
        lane: Some(Lane::Left),
        front_psi: Some(32.0),
        rear_psi: Some(26.0),
        launch_rpm: Some(3200.0),
        own: read_column(".045 1.963 5.678 8.637 83.95 - 13.464 105.04").unwrap(),
        ..Slip::default()
    }
}

/// Types and counts the keys.
fn type_in(form: &mut SlipForm, words: &str) -> usize {
    let mut keys = 0;
    for word in words.split(' ') {
        for letter in word.chars() {
            form.take(Key::Letter(letter));
        }
        form.take(Key::Next);
        keys += word.chars().count() + 1;
    }
    keys
}

#[test]
fn a_quarter_mile_slip_takes_less_than_half_a_minute_of_keys() {
    let mut form = SlipForm::new(Some(date(2026, 5, 1)), &Slip::default(), Some(&last()));
    // The printed run again: lane, the column from top to bottom, how it was left, whether the day's
    // first, rpm, depth.
    let keys = type_in(&mut form, "r 45 1963 5678 8637 8395  13464 10504  r c  3400 1") + 1;
    let Entered::Slip(slip) = form.enter() else { panic!("{:?}", form.questions()) };
    assert_eq!(slip.own, last().own);
    assert_eq!((slip.lane, slip.launch_rpm), (Some(Lane::Right), Some(3400.0)));
    assert_eq!((slip.manner, slip.feel), (Some(Manner::Reacted), Some(LaunchFeel::Clean)));
    assert_eq!((slip.first_of_day, slip.depth_in), (Some(false), Some(1.0)));
    assert_eq!((slip.track.as_str(), slip.rear_psi), ("our strip", Some(26.0)));
    assert_eq!((slip.driver, slip.car), (String::new(), "the old one".to_owned()));
    // Five keys a second are common typing of figures; half a minute has 150.
    assert!(keys <= 60, "{keys} keys");
}

#[test]
fn enter_saves_from_anywhere_once_there_is_a_time() {
    let mut form = SlipForm::new(Some(date(2026, 5, 2)), &Slip::default(), Some(&last()));
    assert_eq!(form.enter(), Entered::NotYet);
    assert_eq!(form.active().key, EntryField::Cell(Cell::Own(InLane::Rt)));
    assert!(form.active().wrong.as_ref().unwrap().contains("at least"));
    type_in(&mut form, "-12");
    let Entered::Slip(slip) = form.enter() else { panic!() };
    assert!(slip.is_red());
    assert_eq!((slip.first_of_day, slip.date), (Some(true), Some(date(2026, 5, 2))));
}

#[test]
fn a_red_lamp_without_a_time_is_a_slip() {
    let mut form = SlipForm::after(&last());
    form.go_to(EntryField::Cell(Cell::Own(InLane::Red)));
    form.take(Key::Letter('y'));
    let Entered::Slip(slip) = form.enter() else { panic!() };
    assert!(slip.is_red() && slip.own.rt.is_none());
}

#[test]
fn what_does_not_go_together_is_asked_once_and_then_taken() {
    let mut form = SlipForm::after(&last());
    form.go_to(EntryField::Cell(Cell::Own(InLane::T60)));
    type_in(&mut form, "2.5 2.4");
    assert_eq!(form.enter(), Entered::Asked);
    assert!(form.questions().iter().any(|q| matches!(q.doubt, Doubt::Order { .. })));
    assert!(matches!(form.enter(), Entered::Slip(_)));
    // A change asks anew.
    form.take(Key::Letter('9'));
    assert!(form.questions().is_empty());
}

#[test]
fn what_cannot_be_read_is_said_at_its_field_when_it_is_left() {
    let mut form = SlipForm::after(&last());
    form.go_to(EntryField::Cell(Cell::Own(InLane::T60)));
    form.take(Key::Letter('x'));
    assert_eq!(form.active().wrong, None);
    form.take(Key::Next);
    let field = form.fields().find(|f| f.key == EntryField::Cell(Cell::Own(InLane::T60))).unwrap();
    assert_eq!(field.wrong.as_deref(), Some("`x` is not a time like 13.464 or -.033"));
    assert_eq!(form.enter(), Entered::NotYet);
    assert_eq!(form.active().key, EntryField::Cell(Cell::Own(InLane::T60)));
}

#[test]
fn an_eighth_mile_has_no_fields_of_a_quarter() {
    let mut form = SlipForm::new(None, &Slip::default(), None);
    assert_eq!(form.active().key, EntryField::Cell(Cell::Date));
    let quarter = form.fields().count();
    form.go_to(EntryField::Cell(Cell::Length));
    form.take(Key::Letter('e'));
    assert_eq!(form.fields().count(), quarter - 3);
    form.go_to(EntryField::Cell(Cell::Own(InLane::Rt)));
    type_in(&mut form, "45 1963 5678 8637 8395");
    // Without a date it asks.
    assert_eq!(form.enter(), Entered::Asked);
    let Entered::Slip(slip) = form.enter() else { panic!() };
    assert_eq!((slip.length, slip.own.t660.unwrap().seconds()), (TrackLength::Eighth, 8.637));
}

#[test]
fn the_other_lane_is_typed_in_where_it_is_wanted() {
    let mut form = SlipForm::after(&last());
    form.go_to(EntryField::Cell(Cell::Own(InLane::Rt)));
    type_in(&mut form, "45");
    assert!(form.fields().all(|f| !matches!(f.key, EntryField::Cell(Cell::Other(_)))));
    form.go_to(EntryField::OtherLane);
    form.take(Key::Right);
    form.take(Key::Next);
    type_in(&mut form, "1250 -3 1850");
    let Entered::Slip(slip) = form.enter() else { panic!("{:?}", form.questions()) };
    let other = slip.other.unwrap();
    assert_eq!(other.dial.unwrap().to_string(), "12.500");
    assert_eq!(
        (other.rt.unwrap().to_string(), other.t60.unwrap().seconds()),
        ("-.003".into(), 1.85)
    );
}

#[test]
fn a_slip_typed_again_corrects_it_and_keeps_what_no_field_shows() {
    let own = LaneSlip { car_number: "117".to_owned(), class: "ST".to_owned(), ..last().own };
    let slip = Slip { own, scale: RtScale::Old500, first_of_day: Some(false), ..last() };
    let mut form = SlipForm::edit("id-1", &slip);
    assert_eq!(form.corrects(), Some("id-1"));
    let Entered::Slip(same) = form.enter() else {
        assert!(!form.questions().is_empty());
        let Entered::Slip(same) = form.enter() else { panic!() };
        assert_eq!(*same, slip);
        return;
    };
    assert_eq!(*same, slip);
}

#[test]
fn a_field_that_is_emptied_says_nothing_any_more() {
    let mut form = SlipForm::edit("id-1", &last());
    form.go_to(EntryField::Cell(Cell::RearPsi));
    form.take(Key::Clear);
    let Entered::Slip(slip) = form.enter() else { panic!("{:?}", form.questions()) };
    assert_eq!((slip.rear_psi, slip.front_psi), (None, Some(32.0)));
}

#[test]
fn the_ditto_mark_copies_the_last_slip() {
    let mut form = SlipForm::after(&last());
    form.go_to(EntryField::Cell(Cell::LaunchRpm));
    form.take(Key::Letter(DITTO));
    assert_eq!(form.active().text(), "3200");
    form.go_to(EntryField::Cell(Cell::Own(InLane::Rt)));
    type_in(&mut form, "45");
    let Entered::Slip(slip) = form.enter() else { panic!() };
    assert_eq!(slip.launch_rpm, Some(3200.0));
}
