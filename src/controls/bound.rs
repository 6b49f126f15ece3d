//! Which controls do what.
//!
//! Owns the binding and its rules: a control does one thing, launch and creep can always be done, and a
//! car that rolls by itself can be held. Refuses sentences (`error`) and the file (`choices`).

use crate::controls::{Act, ControlsError, Offer, Set, reserved};
use crate::press::{Control, keys};

/// Which controls do what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Controls {
    /// For every act its controls in the order they were bound; a control is there once in all.
    bound: [Vec<Control>; Act::ALL.len()],
    hold_to_brake: bool,
}

impl Default for Controls {
    /// [`Set::RightHand`], and a car that stands unless it is told to roll.
    fn default() -> Self {
        Self::of(Set::default())
    }
}

impl Controls {
    /// The controls of a set.
    pub fn of(set: Set) -> Self {
        let mut controls = Self::none();
        set.controls().into_iter().for_each(|(control, act)| controls.give(act, control));
        controls
    }

    /// Nothing bound yet, while a file is read.
    pub(super) fn none() -> Self {
        Self { bound: Default::default(), hold_to_brake: false }
    }

    /// Whether every act that must have a control has one.
    pub(super) fn works(&self) -> bool {
        Act::ALL.into_iter().all(|act| !self.needs(act) || self.controls_of(act).next().is_some())
    }

    /// What a control does.
    pub fn act(&self, control: Control) -> Option<Act> {
        Act::ALL.into_iter().find(|act| self.controls_of(*act).any(|bound| bound == control))
    }

    /// All bound controls, act by act.
    pub fn controls(&self) -> Vec<Control> {
        self.bound.concat()
    }

    /// The controls of an act in the order they were bound: the first is the one to name in a prompt,
    /// the last the newest.
    pub fn controls_of(&self, act: Act) -> impl Iterator<Item = Control> {
        self.bound[act as usize].iter().copied()
    }

    /// The car rolls by itself, as an automatic does in gear, and only the brake holds it.
    pub fn holds_to_brake(&self) -> bool {
        self.hold_to_brake
    }

    /// The set these are, if nothing was changed.
    pub fn set(&self) -> Option<Set> {
        let sorted = |controls: &Self| {
            let mut bound = controls.bound.clone();
            bound.iter_mut().for_each(|of_act| of_act.sort_unstable());
            bound
        };
        Set::ALL.into_iter().find(|set| sorted(&Self::of(*set)) == sorted(self))
    }

    /// Whether an act must have a control.
    fn needs(&self, act: Act) -> bool {
        match act {
            Act::Launch | Act::Creep => true,
            Act::Brake => self.hold_to_brake,
            Act::Back => false,
        }
    }

    /// Gives an act one control more; what is there already stays.
    ///
    /// # Errors
    /// [`ControlsError::Reserved`], or [`ControlsError::Taken`] with an offer if it does something else.
    pub fn bind(&mut self, act: Act, control: Control) -> Result<(), ControlsError> {
        if let Some(why) = reserved(control) {
            return Err(ControlsError::Reserved { control, why });
        }
        match self.act(control) {
            Some(has) if has != act => {
                let offer = self.offer(control, has, act);
                Err(ControlsError::Taken { control, has, wants: act, offer })
            }
            Some(_) => Ok(()),
            None => {
                self.give(act, control);
                Ok(())
            }
        }
    }

    /// The same, and does what was offered if the control does something else.
    ///
    /// # Errors
    /// [`ControlsError::Reserved`], or [`ControlsError::Taken`] with [`Offer::Nothing`].
    pub fn swap(&mut self, act: Act, control: Control) -> Result<(), ControlsError> {
        let taken = self.bind(act, control);
        let Err(ControlsError::Taken { has, offer, .. }) = taken else { return taken };
        match offer {
            Offer::Nothing => return taken,
            Offer::TakeOver { .. } => {}
            Offer::Swap(other) => {
                // Each takes the other's place, so that the first to be named is still the first.
                self.replace(act, other, control);
                self.replace(has, control, other);
                return Ok(());
            }
        }
        self.take(control);
        self.give(act, control);
        Ok(())
    }

    /// Takes a control from its act, which is handed back.
    ///
    /// # Errors
    /// [`ControlsError::NotBound`], or [`ControlsError::Last`] for the last one of an act that is needed.
    pub fn unbind(&mut self, control: Control) -> Result<Act, ControlsError> {
        let act = self.act(control).ok_or(ControlsError::NotBound { control })?;
        if self.needs(act) && self.is_last(control, act) {
            return Err(ControlsError::Last { control, act });
        }
        self.take(control);
        Ok(act)
    }

    /// Has the car roll by itself unless the brake is held, or stand unless it is told to roll.
    ///
    /// # Errors
    /// [`ControlsError::NoBrake`] if nothing is bound to the brake.
    pub fn set_hold_to_brake(&mut self, on: bool) -> Result<(), ControlsError> {
        if on && self.controls_of(Act::Brake).next().is_none() {
            return Err(ControlsError::NoBrake);
        }
        self.hold_to_brake = on;
        Ok(())
    }

    /// The controls of a set again; whether the car rolls by itself stays.
    pub fn reset(&mut self, set: Set) {
        self.bound = Self::of(set).bound;
    }

    fn give(&mut self, act: Act, control: Control) {
        self.bound[act as usize].push(control);
    }

    fn take(&mut self, control: Control) {
        self.bound.iter_mut().for_each(|of_act| of_act.retain(|bound| *bound != control));
    }

    fn replace(&mut self, act: Act, old: Control, new: Control) {
        let of_act = self.bound[act as usize].iter_mut();
        of_act.filter(|bound| **bound == old).for_each(|bound| *bound = new);
    }

    fn is_last(&self, control: Control, act: Act) -> bool {
        self.controls_of(act).all(|other| other == control)
    }

    /// A control of the same device goes the other way; one of another device only where the act would
    /// be left without any.
    fn offer(&self, control: Control, has: Act, wants: Act) -> Offer {
        let device = keys::device_word(control);
        let alike = self.controls_of(wants).find(|other| keys::device_word(*other) == device);
        let last = self.is_last(control, has);
        match alike.or_else(|| self.controls_of(wants).next().filter(|_| last)) {
            Some(other) => Offer::Swap(other),
            None if last && self.needs(has) => Offer::Nothing,
            None => Offer::TakeOver { leaves_none: last },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn control(name: &str) -> Control {
        keys::key_named(name).unwrap()
    }

    #[test]
    fn at_first_space_launches_the_arrows_roll_and_a_pad_works_as_well() {
        let controls = Controls::default();
        for (name, act) in [
            ("Space", Act::Launch),
            ("ArrowUp", Act::Creep),
            ("ArrowDown", Act::Brake),
            ("ArrowLeft", Act::Back),
            ("PadButton304", Act::Launch),
            ("PadButton311", Act::Creep),
            ("PadButton310", Act::Brake),
            ("PadButton308", Act::Back),
            ("PadAxis5", Act::Launch),
            ("PadAxis9", Act::Launch),
        ] {
            assert_eq!(controls.act(control(name)), Some(act), "{name}");
        }
        assert_eq!(controls.controls().len(), 10);
        assert_eq!((controls.set(), controls.holds_to_brake()), (Some(Set::RightHand), false));
        assert_eq!(controls.controls_of(Act::Launch).next(), Some(control("Space")));
    }

    #[test]
    fn an_act_may_have_several_controls_and_one_may_be_a_mouse_button() {
        let mut controls = Controls::default();
        controls.bind(Act::Launch, control("MouseLeft")).unwrap();
        controls.bind(Act::Launch, control("KeyF")).unwrap();
        controls.bind(Act::Launch, control("KeyF")).expect("a second time changes nothing");
        let launch: Vec<Control> = controls.controls_of(Act::Launch).collect();
        let names: Vec<String> = launch.into_iter().map(keys::key_name).collect();
        assert_eq!(names, ["Space", "PadButton304", "PadAxis5", "PadAxis9", "MouseLeft", "KeyF"]);
        assert_eq!(controls.set(), None);
        for added in ["MouseLeft", "KeyF", "Space"] {
            controls.unbind(control(added)).unwrap();
        }
        controls.bind(Act::Launch, control("Space")).unwrap();
        assert_eq!(controls.set(), Some(Set::RightHand), "in whatever order");
        controls.reset(Set::LeftHand);
        assert_eq!(controls.set(), Some(Set::LeftHand));
    }

    #[test]
    fn a_taken_control_names_both_acts_and_is_swapped_with_one_of_the_same_device() {
        let mut controls = Controls::default();
        let refused = controls.bind(Act::Brake, control("Space")).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "Space is for launch already. Swap them: Space for brake, \u{2193} for launch."
        );
        assert_eq!(controls, Controls::default(), "nothing is done unasked");
        controls.swap(Act::Brake, control("Space")).unwrap();
        assert_eq!(controls.act(control("Space")), Some(Act::Brake));
        assert_eq!(controls.act(control("ArrowDown")), Some(Act::Launch));
        let pad = controls.bind(Act::Back, control("PadAxis5")).unwrap_err().to_string();
        assert!(
            pad.contains("pad's right trigger for roll back, pad's left button for launch"),
            "{pad}"
        );
    }

    #[test]
    fn a_control_of_another_device_is_taken_over_and_the_last_one_is_swapped_for_it() {
        let mut controls = Controls::default();
        controls.bind(Act::Back, control("MouseRight")).unwrap();
        let refused = controls.bind(Act::Creep, control("MouseRight")).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "right mouse button is for roll back already. Take it over: right mouse button for creep, no \
             longer for roll back."
        );
        controls.swap(Act::Creep, control("MouseRight")).unwrap();
        for name in ["ArrowUp", "PadButton311"] {
            controls.unbind(control(name)).unwrap();
        }
        let refused = controls.bind(Act::Back, control("MouseRight")).unwrap_err();
        let offer = Offer::Swap(control("ArrowLeft"));
        let (has, wants) = (Act::Creep, Act::Back);
        assert_eq!(
            refused,
            ControlsError::Taken { control: control("MouseRight"), has, wants, offer }
        );
    }

    #[test]
    fn where_there_is_nothing_to_give_for_the_last_launch_control_it_stays() {
        let mut controls = Controls::default();
        for name in ["PadButton304", "PadAxis5", "PadAxis9", "ArrowLeft", "PadButton308"] {
            controls.unbind(control(name)).unwrap();
        }
        let refused = controls.swap(Act::Back, control("Space")).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "Space is for launch already. It is the last one for launch, and roll back has none to give for \
             it: bind another control to launch first."
        );
        assert_eq!(controls.act(control("Space")), Some(Act::Launch));
        controls.unbind(control("PadButton310")).unwrap();
        let refused = controls.bind(Act::Back, control("ArrowDown")).unwrap_err().to_string();
        assert!(
            refused.ends_with("\u{2193} for roll back; brake then has no control."),
            "{refused}"
        );
    }

    #[test]
    fn reserved_keys_are_refused_with_their_reason() {
        let mut controls = Controls::default();
        for (name, reason) in [
            ("Escape", "Escape can't be bound: it always leads out of a run and to the settings."),
            ("F1", "F1 can't be bound: it always shows the help."),
            ("Digit0", "0 can't be bound: the numbers lead to the rooms."),
            ("KeyG", "G can't be bound: between runs the lane has this key for something else."),
        ] {
            assert_eq!(controls.bind(Act::Launch, control(name)).unwrap_err().to_string(), reason);
            assert_eq!(controls.swap(Act::Launch, control(name)).unwrap_err().to_string(), reason);
        }
        assert_eq!(controls, Controls::default());
    }

    #[test]
    fn the_last_control_for_launch_and_creep_stays_and_other_acts_may_have_none() {
        let mut controls = Controls::default();
        for name in ["PadButton304", "PadAxis5", "PadAxis9", "PadButton311"] {
            controls.unbind(control(name)).unwrap();
        }
        let refused = controls.unbind(control("Space")).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "Space is the last control for launch: bind another one first."
        );
        assert!(controls.unbind(control("ArrowUp")).is_err());
        for name in ["ArrowDown", "PadButton310", "ArrowLeft", "PadButton308"] {
            controls.unbind(control(name)).unwrap();
        }
        let nothing = controls.unbind(control("ArrowLeft")).unwrap_err().to_string();
        assert_eq!(nothing, "\u{2190} is not bound to anything.");
        assert_eq!(controls.set_hold_to_brake(true), Err(ControlsError::NoBrake));
    }

    #[test]
    fn a_car_that_rolls_by_itself_keeps_its_last_brake() {
        let mut controls = Controls::default();
        controls.set_hold_to_brake(true).unwrap();
        controls.unbind(control("PadButton310")).unwrap();
        let act = Act::Brake;
        let last = ControlsError::Last { control: control("ArrowDown"), act };
        assert_eq!(controls.unbind(control("ArrowDown")), Err(last));
        controls.reset(Set::LeftHand);
        assert!(controls.holds_to_brake());
        controls.set_hold_to_brake(false).unwrap();
        for brake in controls.controls_of(Act::Brake).collect::<Vec<_>>() {
            controls.unbind(brake).unwrap();
        }
    }
}
