//! Noise for every file argument: random bytes, and good files with bytes knocked out. The program
//! takes it or refuses it with a documented code; it never panics, and what it refuses leaves no
//! trace.

mod cli_common;

use cli_common::{Shop, data};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed, TestRunner};
use std::fs;

/// Commands that read a file, each with a good one.
const READERS: [(&[&str], &str); 6] = [
    (&["add", "head"], "heads/gorsefold.toml"),
    (&["add", "player"], "players/bastian-lune.toml"),
    (&["add", "build"], "builds/if-d1.toml"),
    (&["mass", "--head-file"], "heads/bramblecote.toml"),
    (&["log", "--build", "IF-D1"], "sessions/if-fade.csv"),
    (
        &["log", "map.csv", "--build", "IF-D1", "--mapping"],
        "foreign.toml",
    ),
];

/// Bytes that stand in for good ones: what numbers, tables, strings and lists are made of.
const SPITE: &[&str] = &[
    "",
    "\0",
    "-",
    "9",
    "e",
    ".",
    "\"",
    "[",
    "]",
    "{",
    "}",
    "=",
    ",",
    ";",
    "\n",
    "nan",
    "inf",
    "1e308",
    "-1e-308",
    "99999999999999999999",
    "é",
    "\u{feff}",
    "\r",
    "\t",
    "'''",
    "[[",
    "#",
    "\\u",
];

fn noise() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        prop::collection::vec(any::<u8>(), 0..300),
        "[\\[\\]={}\",;.#a-z0-9_ \n-]{0,200}".prop_map(String::into_bytes),
    ]
}

#[test]
fn prop_random_files_are_refused_in_words() {
    let shop = Shop::stocked();
    fs::copy(data("sessions/foreign.csv"), shop.path("map.csv")).unwrap();
    let config = Config {
        cases: 12,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(3),
        ..Config::default()
    };
    TestRunner::new(config)
        .run(&noise(), |bytes| {
            for (args, _) in READERS {
                let file = shop.write("noise", &bytes);
                let ran = shop.run(&[args, &[&file]].concat());
                prop_assert!(
                    ran.code == 3,
                    "{args:?} on {bytes:?}: {} {}",
                    ran.code,
                    ran.err
                );
                prop_assert!(
                    ran.err.contains("noise"),
                    "{args:?} names the file: {}",
                    ran.err
                );
            }
            let bench = shop.write("noise.trimtab", &bytes);
            let ran = shop.run(&["list", "heads", "--bench", &bench]);
            prop_assert!(matches!(ran.code, 3 | 7), "{bytes:?}: {}", ran.err);
            Ok(())
        })
        .unwrap();
    assert_eq!(shop.json(&["list", "sessions"]), serde_json::json!([]));
    assert_eq!(shop.json(&["list", "heads"]).as_array().unwrap().len(), 2);
}

#[test]
fn prop_knocked_files_are_taken_or_refused() {
    let config = Config {
        cases: 25,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(3),
        ..Config::default()
    };
    let mut taken = 0;
    let mut refused = 0;
    for (args, good) in READERS {
        let text = fs::read_to_string(data(good)).unwrap();
        let places: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
        let spots = prop::collection::vec(
            (0..places.len(), 0..4usize, prop::sample::select(SPITE)),
            1..4,
        );
        let shop = Shop::stocked();
        fs::copy(data("sessions/foreign.csv"), shop.path("map.csv")).unwrap();
        let counts = std::cell::Cell::new((0, 0));
        TestRunner::new(config.clone())
            .run(&spots, |mut spots| {
                spots.sort_by_key(|s| std::cmp::Reverse(s.0));
                let mut knocked = text.clone();
                for (n, length, spite) in spots {
                    let to = places.get(n + length).copied().unwrap_or(text.len());
                    let (from, to) = (places[n].min(knocked.len()), to.min(knocked.len()));
                    if knocked.is_char_boundary(from) && knocked.is_char_boundary(to) && from <= to
                    {
                        knocked.replace_range(from..to, spite);
                    }
                }
                let file = shop.write("knocked", &knocked);
                let ran = shop.run(&[args, &[&file]].concat());
                let (mut yes, mut no) = counts.get();
                match ran.code {
                    0 => yes += 1,
                    3..=5 => no += 1,
                    code => prop_assert!(false, "{code}: {}\n{knocked}", ran.err),
                }
                counts.set((yes, no));
                Ok(())
            })
            .unwrap();
        taken += counts.get().0;
        refused += counts.get().1;
    }
    assert!(
        taken > 5 && refused > 20,
        "{taken} taken, {refused} refused: both ways are walked"
    );
}
