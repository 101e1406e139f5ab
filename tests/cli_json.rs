//! JSON is for programs: its keys are frozen in `tests/data/json_keys`, and each number carries
//! its unit in its key.
//!
//! A key that comes or goes is a change of the interface: `TRIMTAB_NEW_KEYS=1 cargo test --test
//! cli_json` writes the lists anew, and the difference shows in the commit.

mod cli_common;

use cli_common::{FEW, Shop, data};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;

/// What each command prints, by the name of its list of keys.
fn everything() -> Vec<(&'static str, String)> {
    let shop = Shop::logged();
    let parts = shop.write("parts.toml", "hot_melt_g = 4\n");
    let mut all = Vec::new();
    let mut run = |name: &'static str, args: &[&str]| {
        let args = [args, &["--json"]].concat();
        all.push((name, shop.run(&args).ok()));
    };
    let (head, csv) = (data("heads/gorsefold.toml"), data("sessions/if-after.csv"));
    run("new", &["new", "--bench", "other.trimtab"]);
    run("add", &["add", "head", &head]);
    run("tendency", &["tendency", "--build", "IF-D1"]);
    run(
        "propose",
        &[
            &["propose", "--build", "IF-D1", "--pareto", "--stock", &parts],
            &FEW[..],
        ]
        .concat(),
    );
    run("plan", &["plan", "--build", "IF-D1"]);
    run(
        "whatif",
        &[
            &["whatif", "--build", "IF-D1", "--set", "rail=0%"],
            &FEW[..],
        ]
        .concat(),
    );
    run(
        "rebuild",
        &[
            "rebuild", "--build", "IF-D1", "--as", "IF-D2", "--set", "rail=0%",
        ],
    );
    let weather = [
        "--temperature-c",
        "14",
        "--humidity-percent",
        "70",
        "--turf-firmness",
        "0.3",
    ];
    run(
        "log",
        &[
            &["log", &csv, "--build", "IF-D2", "--name", "after"],
            &weather[..],
        ]
        .concat(),
    );
    run("check", &["check", "--build", "IF-D2"]);
    run("refit", &["refit", "--season", "2027"]);
    run("card", &["card", "--build", "IF-D2"]);
    run("list-players", &["list", "players"]);
    run("list-heads", &["list", "heads"]);
    run("list-builds", &["list", "builds"]);
    run("list-sessions", &["list", "sessions"]);
    run("list-proposals", &["list", "proposals"]);
    run("list-verdicts", &["list", "verdicts"]);
    run("list-models", &["list", "models"]);
    run("show-player", &["show", "player", "Isolde Ferrow"]);
    run("show-head", &["show", "head", "Gorsefold 11"]);
    run("show-build", &["show", "build", "IF-D2"]);
    run("show-session", &["show", "session", "after"]);
    run("show-proposal", &["show", "proposal", "1"]);
    run("show-model", &["show", "model", "1"]);
    run("withdraw", &["withdraw", "if-wedge"]);
    run("export", &["export"]);
    run("export-to", &["export", "--to", "out"]);
    run("mass", &["mass", "--head", "Gorsefold 11"]);
    run("impact", &["impact", "--head", "Gorsefold 11"]);
    let flight = [
        "--ball-speed-mph",
        "140",
        "--launch-angle-deg",
        "13",
        "--spin-rate-rpm",
        "3000",
    ];
    run("flight", &[&["flight"], &flight[..]].concat());
    all
}

/// Every way from the top to a leaf: `rows[].offline_m.mean`.
fn paths(v: &Value, at: &str, found: &mut BTreeSet<String>, numbers: &mut BTreeSet<String>) {
    match v {
        Value::Object(map) => {
            for (key, value) in map {
                let dot = if at.is_empty() { "" } else { "." };
                paths(value, &format!("{at}{dot}{key}"), found, numbers);
            }
        }
        Value::Array(items) => {
            found.insert(format!("{at}[]"));
            for item in items {
                paths(item, &format!("{at}[]"), found, numbers);
            }
        }
        Value::Number(_) => {
            found.insert(at.to_string());
            numbers.insert(at.to_string());
        }
        _ => {
            found.insert(at.to_string());
        }
    }
}

/// A stream of JSON documents, as `add` prints one for each file.
fn keys(name: &str, text: &str) -> (BTreeSet<String>, BTreeSet<String>) {
    let (mut found, mut numbers) = (BTreeSet::new(), BTreeSet::new());
    let mut count = 0;
    for v in serde_json::Deserializer::from_str(text).into_iter::<Value>() {
        let v = v.unwrap_or_else(|e| panic!("{name}: {e}\n{text}"));
        paths(&v, "", &mut found, &mut numbers);
        count += 1;
    }
    assert_eq!(count, 1, "{name}: one document");
    (found, numbers)
}

const UNITS: &[&str] = &[
    "_m",
    "_mm",
    "_m_s",
    "_mph",
    "_in",
    "_deg",
    "_rpm",
    "_g",
    "_g_cm2",
    "_kg_m3",
    "_cm3",
    "_s",
    "_j",
    "_points",
    "_percent",
    "_c",
    "_hpa",
    "_probability",
];

/// Numbers without a unit: counts, numbers of things, shares, ratios.
const BARE: &[&str] = &[
    // numbers of things
    "id",
    "proposal",
    "proposal_number",
    "proposal_row",
    "row",
    "verdict",
    "model",
    "model_version",
    "prior_version",
    "version",
    "number",
    "shot",
    "rank",
    // counts
    "players_with_heads",
    "shots",
    "shots_without_data",
    "effective_shots",
    "effective_shots_before",
    "effective_shots_after",
    "more_shots",
    "sessions",
    "held_out_sessions",
    "builds",
    "files",
    "settings",
    "settings_held_back",
    "deliveries_each",
    "shots_each",
    "shots_each_any_look",
    "block_shots",
    "tied_rows",
    "stops",
    // shares and ratios
    "reach",
    "reach_low",
    "reach_high",
    "p_value",
    "speed_ratio",
    "coverage_80",
    "turf_firmness",
    "coverage_50",
    "coverage_95",
    "coverage_50_se",
    "coverage_80_se",
    "coverage_95_se",
    "weight",
    "condition_index",
    // in the unit that `figure` names beside them
    "said",
    "taken",
    // in the unit that `response` or `quantity` names beside or around them
    "rmse_physics",
    "rmse_pooled",
    "rmse_correction",
    "rmse_physics_se",
    "rmse_pooled_se",
    "rmse_correction_se",
    "log_score_physics",
    "log_score_pooled",
    "log_score_correction",
    "log_score_physics_se",
    "log_score_pooled_se",
    "log_score_correction_se",
    "gain",
    "gain_se",
    "gain_over_pooled",
    "gain_over_pooled_se",
    "settings_predicted",
    "direction_weight",
    "shape_weight",
    "height_weight",
    "distance_weight",
    "change",
    "change_low",
    "change_high",
    "shot_sd",
    "session_sd",
    "visit_sd",
];

/// Whether a number's key, or the one around it (`offline_m.mean`, `screw_g.keel`), has a unit.
fn has_unit(path: &str) -> bool {
    let keys: Vec<&str> = path.split('.').map(|k| k.trim_end_matches("[]")).collect();
    let last = keys[keys.len() - 1];
    let unit = |k: &&str| UNITS.iter().any(|u| k.ends_with(u));
    BARE.contains(&last) || keys.iter().rev().take(2).any(unit)
}

#[test]
fn keys_are_frozen_and_numbers_have_units() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/json_keys");
    let write = std::env::var_os("TRIMTAB_NEW_KEYS").is_some();
    let mut known = BTreeSet::new();
    for (name, text) in everything() {
        let (found, numbers) = keys(name, &text);
        let list: String = found.iter().map(|k| format!("{k}\n")).collect();
        let file = folder.join(format!("{name}.txt"));
        known.insert(file.file_name().unwrap().to_owned());
        if write {
            std::fs::write(&file, &list).unwrap();
        }
        let frozen = std::fs::read_to_string(&file).unwrap_or_default();
        assert_eq!(list, frozen, "{name}: keys differ from {}", file.display());
        for path in numbers {
            // The inside of a fitted model is its own business; `refit --json` is the interface.
            let inside = name == "show-model" || path.starts_with("models[].body");
            assert!(inside || has_unit(&path), "{name}: {path} has no unit");
        }
    }
    let kept = std::fs::read_dir(&folder)
        .unwrap()
        .map(|f| f.unwrap().file_name());
    assert_eq!(
        kept.collect::<BTreeSet<_>>(),
        known,
        "a list for each command, and no other"
    );
}

#[test]
fn every_command_has_its_keys_frozen() {
    let names: Vec<&str> = everything().iter().map(|(name, _)| *name).collect();
    for command in trimtab::cli::command().get_subcommands() {
        let name = command.get_name();
        let there = names
            .iter()
            .any(|n| *n == name || n.starts_with(&format!("{name}-")));
        // Completions are shell scripts.
        assert!(there || name == "completions", "{name} has no list of keys");
    }
}

#[test]
fn a_check_of_units_that_can_fail() {
    for good in [
        "rows[].offline_m.mean",
        "shots",
        "screw_g.keel",
        "inertia_g_cm2[][]",
        "a.p_value",
    ] {
        assert!(has_unit(good), "{good}");
    }
    for bad in ["speed", "rows[].offline.mean", "loft", "a_m.b.c", "columns"] {
        assert!(!has_unit(bad), "{bad}");
    }
}

#[test]
fn json_is_one_line_or_a_document_and_notes_stay_out_of_it() {
    let shop = Shop::stocked();
    // `add build` notes the swing weight on the error stream, `log` what it did not understand.
    let csv =
        "ball_speed_mph,launch_angle_deg,mood\n140,12,good\n139,13,bad\n138,12,fine\n\n,,none\n";
    let ran = shop.run_in(&["log", "-", "--build", "IF-D1", "--json"], csv);
    assert_eq!(
        ran.err,
        "columns kept but not understood: mood\n1 lines hold no value and are no shots\n"
    );
    let json: Value = serde_json::from_str(&ran.ok()).unwrap();
    assert_eq!(json["shots"], 3);
    assert_eq!(json["ignored_columns"][0], "mood");
    // A failure prints no JSON.
    shop.run(&["tendency", "--build", "x", "--json"])
        .fails(4, &["no build 'x'"]);
}
