//! The wall clock, for lines a sub-command writes.
//!
//! Owns the one reading of it on the command line. Refuses time keeping.

/// Now, ISO 8601 with zone.
pub fn now() -> jiff::ZonedDateTime {
    jiff::ZonedDateTime::now()
}
