//! The whole job by commands, for a right-handed and a left-handed player: from an empty folder to
//! a checked club, its card, a model, and everything out again.

mod cli_common;

use cli_common::{FEW, NOW, Shop, data};
use serde_json::Value;

fn f(v: &Value) -> f64 {
    v.as_f64().unwrap_or_else(|| panic!("{v} is no number"))
}

/// A row of a proposal in which nothing but the slider is moved, and its rank.
fn slide_only(proposal: &Value) -> (&Value, u64) {
    let rows = proposal["rows"].as_array().unwrap();
    let only = |r: &&Value| {
        let steps = r["steps"].as_array().unwrap();
        steps.len() == 1 && steps[0].as_str().unwrap().starts_with("slide")
    };
    let row = rows.iter().find(only).expect("a row that only slides");
    (row, row["rank"].as_u64().unwrap())
}

#[test]
fn the_whole_job_by_commands() {
    let shop = Shop::stocked();
    let said = shop.log("if-fade", "IF-D1").quiet();
    assert_eq!(said, "session if-fade: 18 shots logged\n");

    let seen = shop.run(&["tendency", "--build", "IF-D1"]).quiet();
    assert!(seen.starts_with("Isolde Ferrow (right-handed), IF-D1: 18 shots in if-fade\n"));
    assert!(seen.contains("That differs from the aim: "), "{seen}");
    assert!(
        seen.contains("\nFlagged, kept in the log\n- shot 9: "),
        "{seen}"
    );

    let proposed = shop.propose(&["--build", "IF-D1"]);
    assert_eq!(proposed["proposal"], 1);
    assert_eq!(proposed["answer"], "change");
    let (row, rank) = slide_only(&proposed);
    let step = row["steps"][0].as_str().unwrap();
    assert!(step.starts_with("slide the rail weight 43 mm toward the heel"));

    // The same setting by hand: what-if says the same of it.
    let args = [
        &["whatif", "--build", "IF-D1", "--set", "rail=0%"],
        &FEW[..],
    ]
    .concat();
    let whatif = shop.json(&args);
    assert_eq!(whatif["then"]["offline_m"], row["offline_m"]);
    assert_eq!(whatif["then"]["steps"], row["steps"]);

    let rank = rank.to_string();
    let rebuilt = shop.run(&[
        "rebuild",
        "--build",
        "IF-D1",
        "--as",
        "IF-D2",
        "--proposal",
        "1",
        "--row",
        &rank,
        "--swing-weight-read",
        "D3.1",
    ]);
    assert_eq!(
        rebuilt.quiet(),
        "build IF-D2 replaces IF-D1: rail 14 g at 0 %, keel screw 6 g, sleeve at 0 deg\n\
         swing weight computed D3.4, read D3.1\n"
    );
    let toml = shop.run(&["show", "build", "IF-D2"]).quiet();
    for line in [
        "replaces = \"IF-D1\"",
        "built_on = \"2027-05-10\"",
        "position_percent = 0.0",
        "loft_deg = 10.8", // as the gauge showed it, with the gauge's offset on
        "name = \"shaft\"",
    ] {
        assert!(toml.contains(line), "no {line} in\n{toml}");
    }
    shop.log("if-after", "IF-D2").ok();

    // The verdict finds builds, sessions and proposal by itself.
    let verdict = shop.json(&["check", "--player", "Isolde Ferrow"]);
    assert_eq!(verdict["before"][0], "if-fade");
    assert_eq!(verdict["after"][0], "if-after");
    assert_eq!(verdict["proposal"], 1);
    assert_eq!(verdict["outcome"], "as_predicted");
    assert_eq!(
        verdict["predicted_offline_change_m"],
        row["offline_change_m"]
    );
    assert!(f(&verdict["offline_after_m"]) < f(&verdict["offline_before_m"]));

    let card = shop.run(&["card", "--build", "IF-D2"]).quiet();
    assert!(card.contains(&format!(
        "- number 1 of 2027-05-10: change, row {rank} was built, to move"
    )));
    assert!(card.contains("\n- slide the rail weight 43 mm toward the heel (50 % to 0 %)\n"));
    assert!(
        !card.contains("turn the sleeve"),
        "a row that was not built: {card}"
    );
    assert_eq!(verdict["size_within_noise"], false);
    let says = "\nCheck\n- as predicted: moved ";
    assert!(card.contains(says), "{card}");
    assert!(card.ends_with(&format!("printed {NOW}\n")));

    let learned = shop.json(&["refit", "--season", "2027"]);
    assert_eq!(learned["model_version"], 1);
    assert_eq!(learned["sessions"], 2);
    assert_eq!(learned["shots"], 34);
    let again = shop.propose(&["--build", "IF-D2"]);
    assert_eq!(again["model_version"], 1);
    let bare = shop.propose(&["--build", "IF-D2", "--no-correction"]);
    assert_eq!(bare["model_version"], Value::Null);
}

#[test]
fn a_left_handed_fader_is_the_mirror_of_a_right_handed_one() {
    let shop = Shop::stocked();
    shop.log("bl-fade", "BL-D1").ok();
    // The same shots, mirrored by hand, for a right-handed player with the same club.
    let text = std::fs::read_to_string(data("sessions/bl-fade.csv")).unwrap();
    let sided = ["launch_direction_deg", "spin_axis_deg", "offline_m"];
    let header: Vec<&str> = text.lines().next().unwrap().split(',').collect();
    let mut mirrored = header.join(",") + "\n";
    for line in text.lines().skip(1) {
        let cells = line.split(',').zip(&header).map(|(cell, name)| {
            let value: f64 = cell.parse().unwrap();
            let turned = if sided.contains(name) { -value } else { value };
            turned.to_string()
        });
        mirrored += &(cells.collect::<Vec<_>>().join(",") + "\n");
    }
    let player = "name = \"Mirror\"\nhand = \"right\"\nhead_speed_m_s = 41.6\n";
    let build = std::fs::read_to_string(data("builds/bl-d1.toml")).unwrap();
    let build = build
        .replace("Bastian Lune", "Mirror")
        .replace("BL-D1", "M-D1");
    shop.run_in(&["add", "player", "-"], player).ok();
    shop.run_in(&["add", "build", "-"], build).ok();
    shop.run_in(&["log", "-", "--build", "M-D1"], mirrored).ok();

    let left = shop.propose(&["--build", "BL-D1"]);
    let right = shop.propose(&["--build", "M-D1"]);
    let (row, _) = slide_only(&left);
    assert_eq!(left["hand"], "left");
    assert!(
        f(&left["now"]["curve_m"]["mean"]) < -5.0,
        "a left-hander's fade curves left"
    );
    assert!(
        row["steps"][0]
            .as_str()
            .unwrap()
            .contains("toward the heel")
    );
    assert!(
        f(&row["offline_change_m"]["mean"]) > 1.0,
        "and the change moves it right"
    );
    let rows = |p: &Value| p["rows"].as_array().unwrap().len();
    assert!(rows(&left) >= 2 && rows(&left) == rows(&right));
    for (l, r) in left["rows"]
        .as_array()
        .unwrap()
        .iter()
        .zip(right["rows"].as_array().unwrap())
    {
        assert_eq!(l["steps"], r["steps"]);
        for key in [
            "carry_m",
            "apex_m",
            "spin_rate_rpm",
            "helps_probability",
            "head_mass_g",
        ] {
            assert_eq!(l[key], r[key], "{key}");
        }
        for key in ["start_m", "curve_m", "offline_m", "offline_change_m"] {
            assert_eq!(f(&l[key]["mean"]), -f(&r[key]["mean"]), "{key}");
            assert_eq!(f(&l[key]["low"]), -f(&r[key]["high"]), "{key}");
        }
    }
    let tendency = |build: &str| shop.json(&["tendency", "--build", build]);
    let (l, r) = (tendency("BL-D1"), tendency("M-D1"));
    assert_eq!(
        f(&l["spin_axis_deg"]["mean"]),
        -f(&r["spin_axis_deg"]["mean"])
    );
    assert_eq!(l["spin_axis_deg"]["sd"], r["spin_axis_deg"]["sd"]);
    // The same causes, the other way; open and closed, heel and toe are what they are.
    let words = |v: &serde_json::Value| v["blame"]["sentence"].as_str().unwrap().to_string();
    let swapped = words(&r).replace("right", "@").replace("left", "right");
    assert_eq!(words(&l), swapped.replace('@', "left"));
    assert!(words(&l).contains("curves left because"), "{}", words(&l));
    for part in 0..l["blame"]["parts"].as_array().unwrap().len() {
        let (l, r) = (&l["blame"]["parts"][part], &r["blame"]["parts"][part]);
        assert_eq!(l["cause"], r["cause"]);
        assert_eq!(f(&l["offline_m"]["mean"]), -f(&r["offline_m"]["mean"]));
        assert_eq!(l["offline_m"]["sd"], r["offline_m"]["sd"]);
    }
    let plan = |build: &str| shop.json(&["plan", "--build", build, "--set", "rail=0%"]);
    let (l, r) = (plan("BL-D1"), plan("M-D1"));
    for key in ["raw", "order", "shots", "response_doubt_m", "change"] {
        assert_eq!(l[key], r[key], "{key}");
    }
    assert!(f(&l["offline_change_m"]) > 1.0);
    assert_eq!(f(&l["offline_change_m"]), -f(&r["offline_change_m"]));

    shop.run(&[
        "rebuild", "--build", "BL-D1", "--as", "BL-D2", "--set", "rail=0%",
    ])
    .ok();
    shop.log("bl-after", "BL-D2").ok();
    let verdict = shop.json(&["check", "--player", "Bastian Lune"]);
    assert_eq!(
        verdict["proposal"], left["proposal"],
        "made by hand, but it is that row"
    );
    assert!(f(&verdict["offline_change"]["mean_m"]) > 0.0);
    assert_eq!(verdict["outcome"], "as_predicted");
    let text = shop
        .run(&["check", "--player", "Bastian Lune", "--dry-run"])
        .ok();
    assert!(text.contains("right, give or take"), "{text}");
}

#[test]
fn a_miss_in_words_is_enough() {
    let shop = Shop::stocked();
    let words = "starts 3 right, curves 12 right, carries 215";
    let p = shop.propose(&["--build", "IF-D1", "--miss", words]);
    assert_eq!(p["answer"], "change");
    let evidence = p["evidence"].as_str().unwrap();
    assert_eq!(evidence, format!("the words \"{words}\""));
    assert!(
        p["rows"][0]["steps"]
            .to_string()
            .contains("toward the heel")
    );
    // "Fades" goes the other way for the other hand.
    let l = shop.propose(&["--build", "BL-D1", "--miss", "fades 12, carries 200"]);
    assert!(f(&l["now"]["curve_m"]["mean"]) < -5.0);
    assert!(
        l["rows"][0]["steps"]
            .to_string()
            .contains("toward the heel")
    );
    // What had to be assumed is said.
    let a = shop.propose(&["--build", "IF-D1", "--miss", "hooks", "--dry-run"]);
    let figures = a["understood"]["figures"].as_array().unwrap();
    let curve = figures.iter().find(|x| x["figure"] == "curve_m").unwrap();
    assert_eq!(curve["amount_assumed"], true);
    assert!(f(&curve["said"]) < -5.0, "{curve}");
    assert_eq!(a["proposal"], Value::Null, "a dry run files nothing");
    let steps = a["rows"].to_string();
    assert!(steps.contains("toward the toe") && !steps.contains("toward the heel"));
    assert_eq!(
        shop.json(&["list", "proposals"]).as_array().unwrap().len(),
        2
    );
}

#[test]
fn nothing_and_too_few_are_answers() {
    let shop = Shop::stocked();
    shop.log("if-straight", "IF-D1").ok();
    let p = shop.propose(&["--build", "IF-D1"]);
    assert_eq!(p["answer"], "within_noise");
    assert_eq!(p["rows"].as_array().unwrap().len(), 0);
    shop.log("if-few", "IF-D1").ok();
    let p = shop.propose(&["--build", "IF-D1", "--session", "if-few"]);
    assert_eq!(p["answer"], "too_few");
    assert!(p["more_shots"].as_u64().unwrap() >= 1);
    let few = ["propose", "--build", "IF-D1", "--session", "if-few"];
    let text = shop.run(&[&few, &FEW[..]].concat());
    assert!(text.ok().contains("Too few shots to say where"));
}

#[test]
fn limits_are_held() {
    let shop = Shop::logged();
    let held = shop.propose(&[
        "--build",
        "IF-D1",
        "--reversible",
        "--hold-head-mass-g",
        "0",
        "--levers",
        "1",
    ]);
    assert!(held["settings_held_back"].as_u64().unwrap() > 0);
    let rows = held["rows"].as_array().unwrap();
    assert!(!rows.is_empty());
    for row in rows {
        assert_eq!(f(&row["head_mass_change_g"]), 0.0);
        assert_eq!(row["steps"].as_array().unwrap().len(), 1);
        assert_ne!(row["undo"], "permanent");
    }
    let bend = shop.propose(&["--build", "IF-W1"]);
    let step = bend["rows"][0]["steps"][0].as_str().unwrap();
    assert!(
        step.starts_with("bend the hosel: ") && step.ends_with(" deg flatter"),
        "too upright starts left: {step}"
    );
}

#[test]
fn a_foreign_export_is_read_by_its_mapping() {
    let shop = Shop::stocked();
    let (file, mapping) = (data("sessions/foreign.csv"), data("foreign.toml"));
    let ran = shop.run(&[
        "log",
        &file,
        "--build",
        "IF-D1",
        "--mapping",
        &mapping,
        "--name",
        "foreign",
        "--date",
        "2027-05-09",
        "--temperature-c",
        "12.5",
        "--device",
        "an old one",
    ]);
    assert_eq!(ran.quiet(), "session foreign: 15 shots logged\n");
    let session = shop.json(&["show", "session", "foreign"]);
    let shot = &session["shots"][0]["measured"];
    assert!((f(&shot["ball_speed_m_s"]) - 221.9 / 3.6).abs() < 1e-9);
    let text = std::fs::read_to_string(&file).unwrap();
    let cells: Vec<&str> = text.lines().nth(1).unwrap().split(';').collect();
    let axis: f64 = cells[5].replace(',', ".").parse().unwrap();
    assert!(
        axis < 0.0 && (f(&shot["spin_axis_deg"]) + axis).abs() < 1e-9,
        "left was positive"
    );
    assert_eq!(session["shots"][3]["measured"].get("spin_rate_rpm"), None);
    assert_eq!(session["date"], "2027-05-09");
    assert_eq!(session["meta"]["temperature_c"], 12.5);
    assert_eq!(session["meta"]["device"], "an old one");
    // Out as CSV and in again: the same measurements.
    let csv = shop.run(&["show", "session", "foreign"]).quiet();
    shop.run_in(&["log", "-", "--build", "IF-D1", "--name", "again"], csv)
        .ok();
    let again = shop.json(&["show", "session", "again"]);
    let (a, b) = (&session["shots"], &again["shots"]);
    assert_eq!(a.as_array().unwrap().len(), b.as_array().unwrap().len());
    for (a, b) in a.as_array().unwrap().iter().zip(b.as_array().unwrap()) {
        for (key, value) in a["measured"].as_object().unwrap() {
            let off = (f(value) - f(&b["measured"][key])).abs();
            assert!(off <= 1e-9 * f(value).abs(), "{key}: {off}");
        }
    }
}

/// The beginning of a name is enough, capitals aside, as long as it is only one's.
#[test]
fn names_may_be_cut_short() {
    let shop = Shop::logged();
    let whole = shop.run(&["tendency", "--player", "Bastian Lune"]).quiet();
    assert_eq!(shop.run(&["tendency", "--player", "bas"]).quiet(), whole);
    assert_eq!(shop.run(&["tendency", "--build", "bl"]).quiet(), whole);
    let session = ["tendency", "--build", "bl-d1", "--session", "BL-F"];
    assert_eq!(shop.run(&session).quiet(), whole);
    for (args, says) in [
        (
            &["card", "--build", "IF"][..],
            "no build 'IF': it is the beginning of IF-D1, IF-W1; write more of it",
        ),
        (
            &["show", "session", "if"],
            "no session 'if': it is the beginning of if-fade, if-wedge",
        ),
        (
            &["withdraw", "i"],
            "no session 'i': it is the beginning of if-fade, if-wedge",
        ),
    ] {
        shop.run(args).fails(4, &[says]);
    }
    shop.run(&["card", "--build", "X"])
        .fails(4, &["no build 'X'; there is BL-D1, IF-D1, IF-W1"]);
    shop.run(&["card", "--build", ""])
        .fails(4, &["no build ''"]);
    // What is filed has the whole name, and a whole name is never the beginning of another.
    let said = shop.run(&[
        "rebuild", "--build", "if-d", "--as", "IF-D11", "--set", "rail=0%",
    ]);
    assert!(said.ok().starts_with("build IF-D11 replaces IF-D1: "));
    let few = data("sessions/if-few.csv");
    let said = shop.run(&["log", &few, "--build", "IF-D1"]).quiet();
    assert_eq!(said, "session IF-D1-2027-05-10: 4 shots logged\n");
    assert_eq!(shop.json(&["show", "build", "if-d11"])["replaces"], "IF-D1");
    assert_eq!(
        shop.run(&["withdraw", "3"]).quiet(),
        "session if-wedge withdrawn\n"
    );
    let listed = shop.json(&["list", "builds", "--player", "isolde"]);
    assert_eq!(listed.as_array().unwrap().len(), 3);
}

/// The average ball of the table is the one that was told of, and the one that was understood.
#[test]
fn the_carry_that_is_said_is_the_carry_shown() {
    let shop = Shop::stocked();
    let words = "turns over 12, carries 215";
    let p = shop.propose(&["--build", "IF-D1", "--miss", words, "--dry-run"]);
    let now = |key: &str| f(&p["now"][key]["mean"]);
    let said = 215.0 * 0.9144;
    let carry = now("carry_m");
    assert!((carry / said - 1.0).abs() < 0.015, "{carry} of {said}");
    for figure in p["understood"]["figures"].as_array().unwrap() {
        let key = figure["figure"].as_str().unwrap();
        if ["curve_m", "offline_m", "carry_m"].contains(&key) {
            let (taken, shown) = (f(&figure["taken"]), now(key));
            assert!((taken - shown).abs() < 0.1, "{key}: {taken} and {shown}");
        }
    }
}

/// What a step changes is measured again: a swapped weight changes the head's mass, a slide does not.
#[test]
fn what_changed_is_measured_again() {
    let shop = Shop::stocked();
    let again = |set: &str| {
        let args = [
            "whatif", "--build", "IF-D1", "--miss", "hooks", "--set", set,
        ];
        let text = shop.run(&args).ok();
        let line = text.lines().find(|l| l.contains("then measure again"));
        line.unwrap_or_else(|| panic!("{text}")).trim().to_string()
    };
    let both = "then measure again: head mass, swing weight";
    assert_eq!(again("rail=9g"), both);
    assert_eq!(again("keel=3g"), both);
    assert_eq!(again("rail=0%"), "then measure again: swing weight");
}
