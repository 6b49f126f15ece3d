//! Power cuts at every moment of a write, on a disk in memory that keeps what was synced and does with the
//! rest what disks do.
//!
//! Owns what may be on such a disk afterwards: of what was not synced any beginning, the length with
//! nothing but zeros, garbage, sectors out of order. That bytes that were synced before stay is what SQLite
//! calls powersafe overwrite and assumes as well; that a file may have grown before its bytes are there is
//! from "Atomic Commit In SQLite", section 2.

use super::support::{self, Disk, Happened, Plan};
use lastamber::history::{Line, Loaded, Log, load};
use lastamber::seed::{Generator, generator};
use rand::RngExt;
use std::fs;

/// What a disk writes at one time.
const SECTOR: usize = 512;

/// A diary of some lines written, with failures between.
fn diary() -> (Vec<Line>, Vec<Happened>) {
    let mut lines: Vec<Line> = support::some_runs(4).into_iter().map(Line::from).collect();
    lines.insert(1, support::some_car("car-0").into());
    lines.push(support::some_film("film-0").into());
    let plans = [Plan::Work, Plan::Work, Plan::FailAfter(700), Plan::Work, Plan::FailSync];
    let disk = Disk::with_plans(plans);
    let mut log = Log::resume(disk.clone(), true);
    for line in &lines {
        // As the writer thread does it: again until it works.
        while log.append(line).is_err() {}
        disk.note(Happened::Saved(line.id().to_owned()));
    }
    (lines, disk.diary())
}

/// What is on the disk for certain, what may be, and what was acknowledged, after so much happened.
fn after(diary: &[Happened]) -> (Vec<u8>, Vec<u8>, Vec<String>) {
    let (mut certain, mut pending, mut acknowledged) = (Vec::new(), Vec::new(), Vec::new());
    for happened in diary {
        match happened {
            Happened::Wrote(bytes) => pending.extend_from_slice(bytes),
            Happened::Synced => certain.append(&mut pending),
            Happened::Saved(id) => acknowledged.push(id.clone()),
            Happened::Failed => {}
        }
    }
    (certain, pending, acknowledged)
}

/// What may stand where the pending bytes were to go.
fn leftovers(at: usize, pending: &[u8], random: &mut Generator) -> Vec<Vec<u8>> {
    let mut all: Vec<Vec<u8>> = (0..=pending.len()).map(|n| pending[..n].to_vec()).collect();
    for length in [1, pending.len() / 2, pending.len()].map(|length| length.min(pending.len())) {
        all.push(vec![0; length]);
        all.push((0..length).map(|_| random.random()).collect());
    }
    for _ in 0..40 {
        let mut sectors = pending.to_vec();
        let mut kept = random.random::<bool>();
        for (i, byte) in sectors.iter_mut().enumerate() {
            if (at + i).is_multiple_of(SECTOR) {
                kept = random.random();
            }
            if !kept {
                *byte = 0;
            }
        }
        all.push(sectors);
    }
    all
}

fn ids(loaded: &Loaded) -> Vec<String> {
    let trials = loaded.trials.iter().map(|run| run.id.to_string());
    let cars = loaded.cars.iter().map(|car| car.id.clone());
    trials.chain(cars).chain(loaded.films.iter().map(|film| film.id.clone())).collect()
}

#[test]
fn a_power_cut_at_any_moment_costs_no_acknowledged_line() {
    let _alone = crate::alone();
    let (lines, diary) = diary();
    let mut random = generator(7);
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("history.jsonl");
    let (mut states, mut torn) = (0, 0);
    for moment in 0..=diary.len() {
        let (certain, pending, acknowledged) = after(&diary[..moment]);
        for rest in leftovers(certain.len(), &pending, &mut random) {
            let disk = [&certain[..], &rest[..]].concat();
            let loaded = load(&disk[..]).unwrap();
            let found = ids(&loaded);
            for id in &acknowledged {
                assert!(found.contains(id), "{id} was acknowledged; cut at {moment}");
            }
            assert!(loaded.trials.iter().all(|run| lines.contains(&Line::from(run.clone()))));
            assert!(loaded.cars.iter().all(|car| lines.contains(&Line::from(car.clone()))));
            torn += usize::from(loaded.damaged_count > 0);
            states += 1;
            // The next line is whole, whatever was left: every state is tried that is not a mere cut.
            if rest.len().is_multiple_of(397) || rest != pending[..rest.len()] {
                fs::write(&path, &disk).unwrap();
                let next = Line::from(support::some_car("next"));
                Log::open(&path).unwrap().append(&next).unwrap();
                let again = load(&fs::read(&path).unwrap()[..]).unwrap();
                assert!(ids(&again).iter().any(|id| id == "next"), "cut at {moment}");
                assert!(found.iter().all(|id| ids(&again).contains(id)));
            }
        }
    }
    println!("{states} states of the disk, {torn} with a line set aside");
    assert!(states > 10_000 && torn > states / 2);
}
