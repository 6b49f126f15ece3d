//! All lines on disk, and how they get there and back.
//!
//! Owns the data folder and its lock, the shape of every line, the append-only log, its reader and
//! the one writer thread. Refuses to change or delete a line once written, and to give back a line
//! whose checksum does not fit. Knows no engine, no clock and no network.
//!
//! # The file
//!
//! `history.jsonl` in the data folder: UTF-8, one JSON object a line, each ended by `\n`.
//!
//! ```text
//! {"sum":"<8 hex digits>","line":{"kind":"trial","v":1,"id":"<id>", <facts of the run> }}
//! ```
//!
//! `sum` is the CRC-32 (ISO-HDLC, the one of gzip and PNG) of the exact bytes of the value of
//! `line`, as eight lower-case hexadecimal digits. `kind` and `v` say how to read the value: now
//! `trial` 1 (a finished run, [`TrialLine`]), `car` 1 (answers about a car, [`CarLine`]), `rig` 1 (a
//! self test of the rig, [`RigLine`]), `film` 1 (a constant delay measured by film, [`FilmLine`]),
//! `forecast` 1 (what was expected of launches to come, [`ForecastLine`]), `slip` 1 (a time slip,
//! [`SlipLine`]) and `exclusion` 1 (a run left out or taken in again, [`ExclusionLine`]).
//! Times of a run are whole nanoseconds, other numbers carry their unit last in the name, words are
//! kebab-case.
//!
//! - Unknown fields are ignored. A line of an unknown kind or a newer version is counted and left
//!   where it is ([`Found::Newer`]); an older program never loses what a newer one wrote.
//! - A line that does not fit its sum is set aside and reported ([`Found::Damaged`]), and all
//!   lines after it are read. Nothing is ever rewritten: what cannot be read stays in the file.
//! - The same line twice (a write repeated after a failure) counts once. The same id with other
//!   content is reported, and the first stays in force.
//!
//! ```
//! use lastamber::history::{Line, load};
//!
//! let file = br#"{"sum":"f16e72d9","line":{"kind":"car","v":1,"id":"c1","saved_at":"2026-05-01T10:00:00+02:00[Europe/Oslo]","name":"Bracket car","sixty_foot_s":1.62}}
//! {"sum":"0badc0de","line":{"kind":"car","v":1,"id":"c2","saved_at":"","name":"Bracket car"}}
//! "#;
//! let loaded = load(&file[..])?;
//! assert_eq!(loaded.cars.len(), 1);
//! assert_eq!(loaded.cars[0].sixty_foot_s, Some(1.62));
//! assert_eq!(loaded.damaged[0].line_number, 2);
//! # Ok::<(), lastamber::history::HistoryError>(())
//! ```

mod car_convert;
mod car_line;
mod chop;
mod demo;
mod digest;
mod envelope;
mod error;
mod exchange;
mod exchange_out;
mod exclusion_line;
mod export_rows;
mod film_line;
mod folder;
mod forecast_line;
mod ids;
mod known;
mod line;
mod load;
mod log;
mod opening;
mod parts;
mod profiles;
mod quick;
mod read;
mod rig_line;
mod session;
mod settings;
mod slip_line;
mod summed;
mod table;
mod trial_convert;
mod trial_line;
mod whole_line;
mod words;
mod writer;

pub use car_convert::limb_word;
pub use car_line::{BeamsLine, CarLine, DetailsLine, FilmedPartLine, TractionLine, cars_in_force};
pub use demo::{DEMO_FILE, default_demo_path, is_demo, mark_demo, write_demo, write_demo_with};
pub use envelope::MAX_LINE_BYTES;
pub use error::HistoryError;
pub use exchange::{EXPORT_FORMAT, EXPORT_SCHEMA, WholeHistory};
pub use exclusion_line::{ExclusionLine, exclusions_in_force};
pub use film_line::FilmLine;
pub use folder::{
    DataFolder, LockedFile, default_path, history_file, load_with_all_processors,
    load_without_lock, load_without_lock_with,
};
pub use forecast_line::{ForecastLine, RateLine};
pub use ids::new_id;
pub use line::{Line, SealedLine};
pub use load::{Loaded, MAX_REPORTED, load, load_with};
pub use log::{Log, Saved, Sink};
pub use profiles::{DRIVERS_FOLDER, Profile, ProfileError, add_profile, home_of, profiles};
pub use read::{Damaged, Found, Reader, Why};
pub use rig_line::{ClockBase, LoopLine, PollLine, RigLine, WakeUpLine};
pub use session::Tally;
pub use settings::{ReadSettings, Settings};
pub use slip_line::{SlipLine, slip_object, slips_in_force};
pub use trial_line::{
    CarFactsLine, LampLine, LaunchLine, MeasuredLine, OffsetLine, PartsLine, RigPrintLine,
    SetupLine, StagingLine, TrialLine,
};
pub use whole_line::WholeLine;
pub use writer::{Finished, SaveEvent, Writer};
