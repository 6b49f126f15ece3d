//! Settings damaged at random and made to harm.
//!
//! Owns the promise of their reader: the settings, or first ones and a sentence with file and place, and
//! nothing of the file lost.

use super::{again_and_again, fuzz_support, hostile_names};
use lastamber::history::Settings;
use lastamber::seed::Generator;
use rand::RngExt;
use std::fs;
use std::path::Path;

fn seeds() -> Vec<Vec<u8>> {
    let mut settings = Settings::default();
    (settings.text_scale, settings.lane) = (Some(1.5), Some("left".to_owned()));
    settings.tick("belts");
    settings.choices.insert("odds opponent".to_owned(), "rt=.06,.03".to_owned());
    let place = tempfile::tempdir().unwrap();
    settings.save(place.path()).unwrap();
    let own = fs::read(place.path().join("settings.json")).unwrap();
    let newer = br#"{"drill":"roll-up","from_later":{"a":[1,{"b":null}]},"style":"react"}"#;
    vec![own, newer.to_vec(), b"{}".to_vec()]
}

/// Reads a file of these bytes as settings and holds the reader to its promise.
fn read(folder: &Path, bytes: &[u8]) -> bool {
    let (file, aside) = (folder.join("settings.json"), folder.join("settings.json.damaged"));
    fs::write(&file, bytes).unwrap();
    let read = Settings::read(folder);
    if let Some(trouble) = read.trouble {
        assert_eq!(read.settings, Settings::default());
        assert_eq!(fs::read(&aside).unwrap(), bytes, "it is set aside, byte for byte");
        assert!(trouble.contains(&file.display().to_string()) && trouble.contains("kept as"));
        assert!(trouble.lines().count() == 1 && trouble.len() < 700, "{trouble}");
        return false;
    }
    read.settings.save(folder).unwrap();
    let again = Settings::read(folder);
    assert!(again.trouble.is_none(), "{:?}", again.trouble);
    assert_eq!(again.settings, read.settings, "saved and read again");
    true
}

#[test]
fn settings_damaged_anywhere_are_read_or_set_aside_whole() {
    let place = tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap();
    let seeds = seeds();
    let (mut taken, mut refused) = (0, 0);
    again_and_again("settings", 2000, |_, random: &mut Generator| {
        let mut bytes = seeds[random.random_range(0..seeds.len())].clone();
        fuzz_support::damage(&mut bytes, &seeds, random);
        if read(place.path(), &bytes) { taken += 1 } else { refused += 1 }
    });
    assert!(taken > 100 && refused > 100, "{taken} {refused}");
}

#[test]
fn settings_cut_at_any_byte_or_with_any_byte_altered_are_read_or_set_aside() {
    let place = tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap();
    let whole = &seeds()[0];
    for cut in 0..whole.len() - 1 {
        assert_eq!(read(place.path(), &whole[..cut]), cut == whole.trim_ascii_end().len());
    }
    for at in 0..whole.len() {
        for bit in 0..8 {
            let mut bytes = whole.clone();
            bytes[at] ^= 1 << bit;
            read(place.path(), &bytes);
        }
    }
}

#[test]
fn settings_made_to_harm_are_set_aside() {
    let place = tempfile::tempdir().unwrap();
    let deep = format!("{{\"x\":{}", "[".repeat(100_000));
    let wrong = [
        "",
        "null",
        "[]",
        "\"settings\"",
        "{\"text_scale\":1e999}",
        "{\"text_scale\":\"big\"}",
        "{\"choices\":[[1]]}",
        "{\"ticked\":{\"a\":1}}",
        "{\"lane\":\"left\",\"lane\":\"right\"}",
        "{\"lane\":\"\\ud800\"}",
        &deep,
    ];
    for bytes in wrong {
        assert!(!read(place.path(), bytes.as_bytes()), "{:.60}", bytes);
    }
    for name in hostile_names() {
        let mut settings = Settings::default();
        settings.drill = Some(name.clone());
        settings.save(place.path()).unwrap();
        assert_eq!(Settings::read(place.path()).settings.drill, Some(name));
    }
    let large = [b"{\"note\":\"", &vec![b'x'; 10 << 20][..], b"\"}"].concat();
    assert!(!read(place.path(), &large));
}
