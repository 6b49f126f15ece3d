//! What the driver would launch now.
//!
//! Owns the set-up of the next run as the strategy room names it. Refuses what was launched before.

use super::garage::Garage;
use super::lane::Session;
use crate::car::EdgeAnswer;
use crate::rules::TreeKind;
use crate::strategy::own::OwnSetup;

/// The set-up of the next run.
pub fn setup_now(session: &Session, garage: &Garage) -> OwnSetup {
    let tree = TreeKind::full();
    let edge = match garage.edge() {
        EdgeAnswer::Press => "press",
        EdgeAnswer::Release => "release",
    };
    OwnSetup {
        driver: session.driver.clone(),
        car: garage.name().to_owned(),
        tree: tree.name().to_owned(),
        ambers: tree.ambers(),
        amber_gap: tree.amber_gap(),
        interval: tree.green_gap(),
        launch_edge: edge.to_owned(),
        style: session.style(),
    }
}
