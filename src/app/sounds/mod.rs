//! What is heard in the lane, and when.
//!
//! Owns the step from the run as it stands to what is to be heard, and the levels in force. It hands
//! that to a thread of its own and never waits for it: no lamp and no stamp is later for a sound, and
//! without a sound device everything else is as it was. Refuses the samples (the sound room), and any
//! sound of the tree: lamps light in silence, so that the eye is trained and not the ear.

mod player;

use super::lane::{Live, Phase};
use super::settings::InForce;
use super::trace_file::TraceFile;
use super::{AppSystems, Screen};
use crate::sound::{Kind, Levels};
use bevy::prelude::*;
use player::Player;

/// Names of the choices begin so; the kind's name follows.
const LEVEL: &str = "sound-";

/// What is heard round and round.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Heard {
    /// Idle, or held for the launch.
    engine: Option<Kind>,
    /// People beside the strip.
    crowd: bool,
}

/// The player and what it was told last.
#[derive(Resource, Default)]
pub struct Sounds {
    player: Option<Player>,
    heard: Heard,
    launched: bool,
    levels: Option<Levels>,
    has_device: bool,
}

impl Sounds {
    /// With a thread that plays, where there is a device.
    pub fn playing() -> Self {
        Self { player: Player::start(), ..Self::default() }
    }

    /// How sound is doing here, in a sentence.
    pub fn state(&self) -> String {
        match &self.player {
            Some(player) => player.state(),
            None => "No sound is played here.".to_owned(),
        }
    }

    /// Plays a sound once, to be judged while its level is set.
    pub fn try_out(&self, kind: Kind) {
        if let Some(player) = &self.player {
            player.once(kind);
        }
    }
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Sounds>().add_systems(Update, play.in_set(AppSystems::Present));
}

/// The levels in force.
pub fn levels(in_force: &InForce) -> Levels {
    let mut levels = Levels::default();
    for kind in Kind::ALL {
        let set = in_force.choice(&choice_name(kind)).and_then(|percent| percent.parse().ok());
        if let Some(percent) = set {
            let percent: f64 = percent;
            levels.set(kind, percent / 100.0);
        }
    }
    levels
}

/// Sets the level of a kind, percent.
pub fn set_level(in_force: &mut InForce, kind: Kind, percent: u32) {
    in_force.choose(&choice_name(kind), percent.min(100).to_string());
}

fn choice_name(kind: Kind) -> String {
    format!("{LEVEL}{}", kind.name())
}

/// Tells the player what changed; sending costs no time, and nothing is waited for.
fn play(
    screen: Res<State<Screen>>,
    phase: Res<Phase>,
    in_force: Res<InForce>,
    mut sounds: ResMut<Sounds>,
    mut trace: ResMut<TraceFile>,
) {
    let sounds = sounds.bypass_change_detection();
    let Some(player) = &sounds.player else { return };
    if sounds.levels.is_none() || in_force.is_changed() {
        let wanted = levels(&in_force);
        if sounds.levels != Some(wanted) {
            player.levels(wanted);
            sounds.levels = Some(wanted);
        }
    }
    if !sounds.has_device && player.plays() {
        sounds.has_device = true;
        trace.event("sound-device yes");
    }
    let live = phase.live().filter(|_| **screen == Screen::Lane);
    let heard = Heard { engine: live.and_then(engine), crowd: **screen == Screen::Lane };
    if heard != sounds.heard {
        sounds.heard = heard;
        player.heard(heard);
        trace.event(format_args!("sound {}", heard.engine.map_or("off", Kind::name)));
    }
    let launched = live.is_some_and(|live| live.machine.launch(live.you).is_some());
    if launched && !sounds.launched {
        player.once(Kind::Launch);
        player.once(Kind::Tyre);
    }
    sounds.launched = launched;
}

/// The engine follows what the driver does, never the tree: idle on the way in, held once staged, gone
/// with the launch.
fn engine(live: &Live) -> Option<Kind> {
    if !live.is_running() || live.machine.launch(live.you).is_some() {
        return None;
    }
    let staged = live.machine.beams(live.you).is_some_and(|beams| beams.lights_stage());
    Some(if staged { Kind::LaunchRpm } else { Kind::Idle })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_that_is_set_is_in_force_and_nonsense_is_not() {
        let mut in_force = InForce::default();
        assert_eq!(levels(&in_force), Levels::default());
        set_level(&mut in_force, Kind::Crowd, 0);
        set_level(&mut in_force, Kind::Launch, 250);
        in_force.choose(&choice_name(Kind::Idle), "loud");
        let levels = levels(&in_force);
        assert_eq!((levels.of(Kind::Crowd), levels.of(Kind::Launch)), (0.0, 1.0));
        assert_eq!(levels.of(Kind::Idle), Levels::default().of(Kind::Idle));
    }
}
