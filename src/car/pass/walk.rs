//! From a standstill to the finish: the way driven, piece by piece.
//!
//! Owns the order of traction, engine and shifts, and the search for the moment a place is passed.
//! Refuses beams: a place is a distance from where the car stood.

use super::forces::{Forces, Way};
use super::quadrature::{eight_points, widest_piece};

/// Closer than this to the speed it never quite reaches, a car is taken to drive at that speed.
const AT_TERMINAL: f64 = 1e-9;
/// The longest first piece, m/s; later ones at most double the speed. Chosen: longer ones would be
/// halved anyway.
const FIRST_PIECE_M_S: f64 = 8.0;

/// A piece driven one way: from speed, moment and place to the next piece's.
#[derive(Debug, Clone, Copy)]
struct Piece {
    way: Option<Way>,
    gear: usize,
    v: f64,
    t: f64,
    x: f64,
}

/// Where the energy of the engine went, J for each kilogram of car.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Energy {
    /// What the driven wheels gave: power × time, or force × way where the tyres set the limit.
    pub from_engine: f64,
    /// The car's motion, v²/2.
    pub motion: f64,
    /// Spinning up engine and wheels, in every gear anew.
    pub spinning: f64,
    /// Pushing the air aside.
    pub air: f64,
    /// Rolling.
    pub rolling: f64,
}

/// The whole way.
#[derive(Debug)]
pub(super) struct Walk<'a> {
    forces: &'a Forces,
    pieces: Vec<Piece>,
    energy: Energy,
}

impl<'a> Walk<'a> {
    /// Drives from a standstill until `end_m` is behind the car.
    pub(super) fn drive(forces: &'a Forces, end_m: f64) -> Self {
        let start = Piece { way: None, gear: 0, v: 0.0, t: 0.0, x: 0.0 };
        let mut walk = Self { forces, pieces: Vec::with_capacity(64), energy: Energy::default() };
        let mut here = start;
        while here.x < end_m {
            let top = forces.gear_top(here.gear);
            if here.v >= top {
                here = walk.shift(here);
                continue;
            }
            let traction = forces.traction_limits(here.gear, here.v);
            let (way, goal) = if traction {
                (Way::Traction, forces.end_of_traction(here.gear, here.v, top))
            } else {
                (Way::Power, top)
            };
            here = walk.accelerate(here, way, goal, end_m);
        }
        walk.pieces.push(here);
        walk.energy.motion = here.v * here.v / 2.0;
        walk
    }

    /// The moment the car has come `x_m` far, and its speed there; `x_m` lies on the way driven.
    pub(super) fn at(&self, x_m: f64) -> (f64, f64) {
        let next = self.pieces.partition_point(|piece| piece.x < x_m).max(1);
        let (from, to) = (self.pieces[next - 1], self.pieces[next.min(self.pieces.len() - 1)]);
        let Some(way) = from.way else {
            return (from.t + (x_m - from.x) / from.v, from.v);
        };
        self.solve(from, to, way, x_m)
    }

    /// The energy from the start to where the walk ends.
    pub(super) fn energy(&self) -> Energy {
        self.energy
    }

    /// Drives up to the speed `goal` or past `end_m`, whichever comes first.
    fn accelerate(&mut self, mut here: Piece, way: Way, goal: f64, end_m: f64) -> Piece {
        here.way = Some(way);
        let terminal = self.forces.terminal(way);
        while here.x < end_m && here.v < goal {
            if here.v >= terminal * (1.0 - AT_TERMINAL) {
                let t = here.t + (end_m - here.x) / here.v;
                return self.cruise(here, way, t);
            }
            let step = (here.v + FIRST_PIECE_M_S.max(here.v)).min(goal);
            // Half of what is left to a speed never reached.
            let step = step.min(here.v + (terminal - here.v) / 2.0);
            here = self.drive_to_speed(here, way, step);
        }
        here
    }

    /// One piece towards the speed `goal`, as long as the rule allows.
    fn drive_to_speed(&mut self, here: Piece, way: Way, goal: f64) -> Piece {
        let (forces, gear) = (self.forces, here.gear);
        let (v, [dt, dx, air]) = widest_piece(here.v, goal, &|v| {
            let (dt, dx) = forces.slowness(way, gear, v);
            [dt, dx, forces.drag_per_m * v * v * dx]
        });
        let spun = if way == Way::Coast {
            0.0
        } else {
            (forces.mass_factor(gear) - 1.0) * (v - here.v) * (v + here.v) / 2.0
        };
        self.energy.from_engine += match way {
            Way::Traction => (forces.launch_m_s2 + forces.rolling_m_s2) * dx + spun,
            Way::Power if forces.power_w_kg.is_finite() => forces.power_w_kg * dt,
            Way::Power | Way::Coast => 0.0,
        };
        self.energy.spinning += spun;
        self.energy.air += air;
        self.energy.rolling += forces.rolling_m_s2 * dx;
        self.pieces.push(here);
        Piece { v, t: here.t + dt, x: here.x + dx, ..here }
    }

    /// Drives on at an even speed until the moment `t`.
    fn cruise(&mut self, here: Piece, way: Way, t: f64) -> Piece {
        let forces = self.forces;
        let dx = here.v * (t - here.t);
        let (air, rolling) = (forces.drag_per_m * here.v * here.v * dx, forces.rolling_m_s2 * dx);
        self.energy.air += air;
        self.energy.rolling += rolling;
        if way != Way::Coast {
            self.energy.from_engine += air + rolling;
        }
        self.pieces.push(Piece { way: None, ..here });
        Piece { t, x: here.x + dx, ..here }
    }

    /// The power goes off, the car coasts, the next gear is in.
    fn shift(&mut self, here: Piece) -> Piece {
        let next = Piece { gear: here.gear + 1, ..here };
        if self.forces.shift_s <= 0.0 {
            return next;
        }
        let here = Piece { way: Some(Way::Coast), ..here };
        if self.forces.resistance(here.v) <= 0.0 {
            let after = self.cruise(here, Way::Coast, here.t + self.forces.shift_s);
            return Piece { gear: next.gear, ..after };
        }
        // The speed at the end: Newton on "how long down to v", of slope 1/a.
        let (forces, mut v) = (self.forces, here.v);
        let slowness = |v: f64| {
            let (dt, dx) = forces.slowness(Way::Coast, here.gear, v);
            [dt, dx]
        };
        for _ in 0..20 {
            let [t, _] = eight_points(here.v, v, &slowness);
            let step = (forces.shift_s - t) * forces.acceleration(Way::Coast, here.gear, v);
            v = (v + step).max(here.v / 2.0);
            if step.abs() <= 1e-14 * v {
                break;
            }
        }
        let mut after = here;
        while after.v > v {
            after = self.drive_to_speed(after, Way::Coast, v);
        }
        Piece { gear: next.gear, ..after }
    }

    /// Newton on "how far at speed v", of slope v/a, kept inside the piece.
    fn solve(&self, from: Piece, to: Piece, way: Way, x_m: f64) -> (f64, f64) {
        let slowness = |v: f64| {
            let (dt, dx) = self.forces.slowness(way, from.gear, v);
            [dt, dx]
        };
        let (mut low, mut high) = (from.v, to.v);
        let mut v = from.v + (to.v - from.v) * ((x_m - from.x) / (to.x - from.x)).clamp(0.0, 1.0);
        let mut t = from.t;
        for _ in 0..60 {
            let [dt, dx] = eight_points(from.v, v, &slowness);
            t = from.t + dt;
            let short = x_m - from.x - dx;
            if short > 0.0 {
                low = v
            } else {
                high = v
            }
            if short.abs() <= 1e-13 * x_m {
                break;
            }
            let [_, slope] = slowness(v);
            let newton = v + short / slope;
            let inside = (newton - low) * (newton - high) < 0.0;
            v = if inside { newton } else { low + (high - low) / 2.0 };
        }
        (t, v)
    }
}
