//! What the form of a car takes, refuses and gives.

use super::*;
use crate::car::{DepthHabit, FilmedPart, PressAnswer, Traction};
use crate::units::Inches;

fn type_in(form: &mut CarForm, key: CarField, text: &str) {
    form.go_to(key);
    form.take(Key::Clear);
    text.chars().for_each(|letter| form.take(Key::Letter(letter)));
}

/// Goes to a choice by its arrows.
fn choose(form: &mut CarForm, key: CarField, value: &str) {
    form.go_to(key);
    for _ in 0..12 {
        if form.active().text() == value {
            return;
        }
        form.take(Key::Right);
    }
    panic!("{value} is no choice of {key:?}");
}

#[test]
fn a_car_of_which_nothing_is_told_is_a_car() {
    let car = CarForm::unknown().enter().unwrap();
    assert_eq!((car.name.as_str(), &car.answers), ("my car", &Answers::default()));
    assert_eq!((&car.details, car.beams), (&Details::default(), BeamLine::default()));
    assert!(car.model().unwrap().assumed());
}

#[test]
fn a_car_is_told_in_the_units_its_owner_has() {
    let mut form = CarForm::unknown();
    for (key, text) in [
        (CarField::Name, "the blue one"),
        (CarField::Tyre, "64.77 cm"),
        (CarField::Deflection, "1 cm"),
        (CarField::FrontPressure, "2.2 bar"),
        (CarField::Lag, "60 ± 10 ms"),
        (CarField::Weight, "1540kg"),
        (CarField::Power, "230 kW"),
        (CarField::Dial, "13,40"),
    ] {
        type_in(&mut form, key, text);
    }
    choose(&mut form, CarField::Leave, "clutch");
    choose(&mut form, CarField::StrengthBy, "sixty-foot");
    type_in(&mut form, CarField::SixtyFoot, "2.05");
    choose(&mut form, CarField::DepthBy, "measured");
    type_in(&mut form, CarField::Depth, "1.5");
    type_in(&mut form, CarField::DepthSpread, ".4");
    let car = form.enter().unwrap();
    let TyreAnswer::Diameter(tyre) = car.answers.tyre else { panic!() };
    assert!((tyre.0 - 25.5).abs() < 1e-9);
    let details = &car.details;
    assert_eq!(details.lag_s, Some(Measured::new(0.06, 0.01)));
    assert!((details.weight_lb.unwrap() - 3395.1).abs() < 0.1);
    assert!((details.power_hp.unwrap() - 308.4).abs() < 0.1);
    assert_eq!(details.dial_s, Some(13.4));
    assert_eq!(
        details.depth,
        Some(DepthHabit { mean_in: Measured::new(1.5, 0.3), spread_in: 0.4 })
    );
    assert_eq!(car.answers.strength, StrengthAnswer::SixtyFoot { seconds: 2.05 });
    assert_eq!(car.answers.leave, LeaveAnswer::Clutch);
}

#[test]
fn what_the_form_shows_of_a_car_it_reads_back() {
    let strengths = [
        Strength::SixtyFoot(Measured::new(1.98, 0.02)),
        Strength::Launch(Measured::new(0.7, 0.05)),
        Strength::Traction(Traction::new(1.1, DrivenEnd::Front, 0.6, 0.2).unwrap()),
        Strength::Slips(vec![2.01, 1.98, 2.05]),
    ];
    for strength in strengths {
        let car = Described {
            name: "the old one".to_owned(),
            answers: Answers {
                tyre: TyreAnswer::Size("225/45R17".parse().unwrap()),
                leave: LeaveAnswer::Button,
                press: PressAnswer { limb: Limb::LeftFoot },
                ..Answers::default()
            },
            details: Details {
                deflection_in: Some(Measured::new(0.4, 0.1)),
                front_pressure_psi: Some(32.0),
                strength: Some(strength),
                lag_s: Some(Measured::new(0.06, 0.01)),
                depth: Some(DepthHabit { mean_in: Measured::new(1.5, 0.3), spread_in: 0.6 }),
                weight_lb: Some(3400.0),
                power_hp: Some(310.0),
                dial_s: Some(13.4),
                filmed: Some(FilmedPart {
                    seconds: Measured::new(0.31, 0.017),
                    fps: 240.0,
                    frames: vec![74.0],
                }),
            },
            beams: BeamLine::new(Inches(6.0), Inches(16.0), Inches(1.5625), Inches(9.0)).unwrap(),
        };
        assert_eq!(CarForm::new(&car).enter(), Some(car));
    }
    let kind = Answers {
        strength: StrengthAnswer::Kind(CarKind::Slicks),
        depth: DepthAnswer::Deeper,
        ..Answers::default()
    };
    let mut form =
        CarForm::new(&Described { answers: kind, ..CarForm::unknown().enter().unwrap() });
    assert_eq!(form.enter().unwrap().answers, kind);
}

#[test]
fn only_the_fields_of_the_chosen_way_are_on_show() {
    let mut form = CarForm::unknown();
    let shows = |form: &CarForm, key| form.fields().any(|field| field.key == key);
    assert!(!shows(&form, CarField::SixtyFoot) && !shows(&form, CarField::Film));
    choose(&mut form, CarField::StrengthBy, "traction");
    assert!(shows(&form, CarField::Grip) && !shows(&form, CarField::SixtyFoot));
    for (key, text) in
        [(CarField::Grip, "1.0"), (CarField::WeightShare, "48 %"), (CarField::Height, ".2")]
    {
        type_in(&mut form, key, text);
    }
    let Some(Strength::Traction(traction)) = form.enter().unwrap().details.strength else {
        panic!()
    };
    assert!((traction.launch_g() - 0.6).abs() < 1e-12);
}

#[test]
fn what_is_no_car_is_told_beside_its_field() {
    let mut form = CarForm::unknown();
    type_in(&mut form, CarField::Weight, "heavy");
    form.take(Key::Next);
    let wrong = |form: &CarForm, key| {
        form.fields().find(|field| field.key == key).unwrap().wrong.clone().unwrap_or_default()
    };
    assert!(wrong(&form, CarField::Weight).contains("is not a number"));
    assert_eq!(form.enter(), None);
    assert_eq!(form.active().key, CarField::Weight);
    type_in(&mut form, CarField::Weight, "35");
    form.take(Key::Next);
    assert_eq!(wrong(&form, CarField::Weight), "the weight is 35 lb; give 300 to 12000 lb");
    assert_eq!(form.so_far(), None);
    type_in(&mut form, CarField::Weight, "3500");
    type_in(&mut form, CarField::Tyre, "900");
    form.take(Key::Next);
    assert!(wrong(&form, CarField::Tyre).contains("900"));
}

#[test]
fn a_film_can_be_forgotten() {
    let filmed = FilmedPart { seconds: Measured::new(0.31, 0.017), fps: 240.0, frames: vec![74.0] };
    let known = CarForm::unknown().enter().unwrap();
    let car = Described { details: Details { filmed: Some(filmed), ..known.details }, ..known };
    let mut form = CarForm::new(&car);
    assert!(form.enter().unwrap().details.filmed.is_some());
    form.go_to(CarField::Film);
    form.take(Key::Right);
    assert!(form.enter().unwrap().details.filmed.is_none());
}
