//! Whose controls do what, in force.
//!
//! Owns the driver's own binding, taken from the settings and kept in them, and the second person's,
//! which never meets it. Refuses the rules of binding (the controls room) and edges (`presses`).

use super::AppSystems;
use super::settings::InForce;
use crate::controls::{Act, Controls, ReadControls};
use crate::press::{Control, keys};
use bevy::prelude::*;

/// Whose control it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Who {
    /// Whose machine it is.
    Driver,
    /// The second person, in the other lane.
    Guest,
}

/// Which controls do what, and for whom.
#[derive(Resource, Debug, Clone, Default, PartialEq)]
pub struct Bindings {
    /// The driver's own.
    pub driver: Controls,
}

/// The second person's keys, in the order they are tried: one set for an act is always free, for the
/// driver's own controls are few.
const GUEST_KEYS: [(Act, [&str; 3]); 4] = [
    (Act::Launch, ["KeyF", "ControlRight", "KeyJ"]),
    (Act::Creep, ["KeyW", "ArrowUp", "KeyI"]),
    (Act::Brake, ["KeyS", "ArrowDown", "KeyK"]),
    (Act::Back, ["KeyX", "ArrowLeft", "KeyM"]),
];

impl Bindings {
    /// What a control does.
    pub fn act(&self, control: Control) -> Option<Act> {
        self.driver.act(control).or_else(|| {
            Act::ALL.into_iter().find(|act| self.controls_of(Who::Guest, *act).contains(&control))
        })
    }

    /// Whose a control is.
    pub fn who(&self, control: Control) -> Option<Who> {
        match self.driver.act(control) {
            Some(_) => Some(Who::Driver),
            None => self.act(control).map(|_| Who::Guest),
        }
    }

    /// What a person has for an act; the first is the one to name. The second person has keys the driver
    /// does not use, and on a second pad what the driver has on the first.
    pub fn controls_of(&self, who: Who, act: Act) -> Vec<Control> {
        let own: Vec<Control> = self.driver.controls_of(act).collect();
        if who == Who::Driver {
            return own;
        }
        let (_, tried) = GUEST_KEYS[act as usize];
        let keys = tried.into_iter().filter_map(keys::key_named);
        let key = { keys }.find(|key| self.driver.act(*key).is_none());
        let pad = own.into_iter().filter(|c| c.is_on_pad()).map(Control::on_second_pad);
        key.into_iter().chain(pad).collect()
    }

    /// All controls of both.
    pub fn controls(&self) -> Vec<Control> {
        let guest = Act::ALL.into_iter().flat_map(|act| self.controls_of(Who::Guest, act));
        self.driver.controls().into_iter().chain(guest).collect()
    }

    /// The control a prompt names for an act of the driver's: a key, where there is one.
    pub fn first(&self, act: Act) -> Option<Control> {
        let is_key = |control: &Control| matches!(control, Control::Key(_));
        let all = || self.driver.controls_of(act);
        all().find(is_key).or_else(|| all().next())
    }
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Bindings>()
        .add_systems(Startup, take_bindings)
        .add_systems(Update, keep.in_set(AppSystems::Record));
}

/// Puts the controls of the settings in force.
pub fn take_bindings(mut in_force: ResMut<InForce>, mut bindings: ResMut<Bindings>) {
    let ReadControls { controls, trouble } = Controls::from_choices(&in_force.settings.choices);
    if !trouble.is_empty() {
        in_force.trouble = Some(trouble.join(" "));
    }
    bindings.driver = controls;
}

/// What was bound anew stays so the next time.
fn keep(bindings: Res<Bindings>, mut in_force: ResMut<InForce>) {
    if !bindings.is_changed() || bindings.is_added() {
        return;
    }
    for (name, word) in bindings.driver.to_choices() {
        if in_force.choice(&name) != Some(&word) {
            in_force.choose(&name, word);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::controls::Set;

    #[test]
    fn the_second_person_never_has_a_control_of_the_drivers() {
        for set in Set::ALL {
            let bindings = Bindings { driver: Controls::of(set) };
            for act in Act::ALL {
                let guest = bindings.controls_of(Who::Guest, act);
                assert!(!guest.is_empty(), "{set:?} {act}");
                for control in guest {
                    assert_eq!(bindings.who(control), Some(Who::Guest), "{set:?} {act}");
                    assert_eq!(bindings.act(control), Some(act));
                }
            }
        }
    }

    #[test]
    fn the_drivers_first_controls_are_the_ones_prompts_name() {
        let name = |bindings: &Bindings, act| bindings.first(act).map(keys::key_name);
        let right = Bindings::default();
        assert_eq!(name(&right, Act::Launch).as_deref(), Some("Space"));
        assert_eq!(name(&right, Act::Creep).as_deref(), Some("ArrowUp"));
        let left = Bindings { driver: Controls::of(Set::LeftHand) };
        assert_eq!(name(&left, Act::Creep).as_deref(), Some("KeyW"));
    }
}
