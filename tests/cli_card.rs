//! The job card: what stands on it is of the club as it was built.

mod cli_common;

use cli_common::{NOW, Shop, data};

/// The cells of a row of the card: as built, and before.
fn cells(card: &str, name: &str) -> Vec<String> {
    let line = card.lines().find(|l| l.starts_with(&format!("{name} ")));
    let line = line.unwrap_or_else(|| panic!("no row {name}:\n{card}"));
    let cells = line[name.len()..].split("  ").map(str::trim);
    cells.filter(|c| !c.is_empty()).map(String::from).collect()
}

/// The sleeve of the fixture is tilted by 1.25 deg, 0 is upright: from 0 to 180 deg it turns the
/// head about the target line by twice that. By hand: the lie loses 2.5 deg; the face at loft l
/// points to asin(sin l sin 2.5 deg) / cos l, 0.5 deg, to the right; the loft stays within 0.01 deg.
/// On the gauge the face is squared about the shaft, at 55.4 deg: that costs 0.5 / tan 55.4 deg, 0.3
/// deg, of loft, since a head that is closed about the shaft loses loft.
#[test]
fn ref_angles_are_those_at_the_setting() {
    let shop = Shop::stocked();
    let first = shop.run(&["card", "--build", "IF-D1"]).quiet();
    assert_eq!(
        cells(&first, "loft"),
        ["10.7 deg (read 10.8)"],
        "offset 0.1"
    );
    assert_eq!(cells(&first, "lie"), ["57.9 deg (read)"]);
    assert_eq!(cells(&first, "face angle"), ["0.4 deg open (read)"]);
    assert!(!first.contains("Computed angles"), "{first}");

    let rebuild = |old: &str, new: &str, more: &[&str]| {
        shop.run(&[&["rebuild", "--build", old, "--as", new], more].concat())
            .ok();
        shop.run(&["card", "--build", new]).quiet()
    };
    let card = rebuild("IF-D1", "IF-D2", &["--set", "sleeve=180deg"]);
    assert_eq!(
        cells(&card, "loft"),
        ["10.4 deg (computed)", "10.7 deg (read 10.8)"]
    );
    assert_eq!(
        cells(&card, "lie"),
        ["55.4 deg (computed)", "57.9 deg (read)"]
    );
    assert_eq!(
        cells(&card, "face angle"),
        ["0.9 deg open (computed)", "0.4 deg open (read)"]
    );
    assert!(card.contains("Computed angles: "), "{card}");

    // What the gauge shows now stands on the card; what was not read again is computed.
    let card = rebuild(
        "IF-D2",
        "IF-D3",
        &["--set", "rail=0%", "--lie-deg", "55.1", "--loft-deg", "11"],
    );
    assert_eq!(
        cells(&card, "loft"),
        ["10.9 deg (read 11.0)", "10.4 deg (computed)"]
    );
    assert_eq!(
        cells(&card, "lie"),
        ["55.1 deg (read)", "55.4 deg (computed)"]
    );
    assert_eq!(
        cells(&card, "face angle"),
        ["0.9 deg open (computed)", "0.9 deg open (computed)"]
    );

    // And back: the lie that was read is 2.5 deg more upright again.
    let card = rebuild("IF-D3", "IF-D4", &["--set", "sleeve=0deg"]);
    assert_eq!(cells(&card, "lie")[0], "57.6 deg (computed)");
    assert_eq!(cells(&card, "face angle")[0], "0.4 deg open (computed)");
    let json = shop.json(&["card", "--build", "IF-D4"]);
    assert_eq!(json["build"]["lie_from"], "computed");
    assert_eq!(json["build"]["lie_reading_deg"], serde_json::Value::Null);
    assert_eq!(json["before"]["lie_from"], "read");
    assert_eq!(json["before"]["lie_reading_deg"], 55.1);
}

/// The mirror: what is right for the one hand is left for the other. Nobody read an angle of this
/// club, so that the card has those of the head file and no face angle.
#[test]
fn inv_a_left_handed_card() {
    let shop = Shop::stocked();
    let card = shop.run(&["card", "--build", "BL-D1"]).quiet();
    assert_eq!(cells(&card, "loft"), ["11.0 deg (computed)"]);
    let read = ["--set", "rail=0%", "--face-angle-deg", "-0.4"];
    shop.run(&[&["rebuild", "--build", "BL-D1", "--as", "BL-D2"], &read[..]].concat())
        .ok();
    let turn = ["--set", "sleeve=180deg"];
    shop.run(&[&["rebuild", "--build", "BL-D2", "--as", "BL-D3"], &turn[..]].concat())
        .ok();
    let card = shop.run(&["card", "--build", "BL-D3"]).quiet();
    assert_eq!(
        cells(&card, "face angle"),
        ["0.9 deg open (computed)", "0.4 deg open (read)"]
    );
    assert_eq!(
        cells(&card, "loft"),
        ["10.7 deg (computed)", "11.0 deg (computed)"]
    );
}

#[test]
fn rows_that_nobody_filled_in_are_dropped() {
    let shop = Shop::logged();
    let bare = shop.run(&["card", "--build", "BL-D1"]).quiet();
    for name in ["face angle", "gauge", "swing weight read"] {
        let row = |card: &str| card.lines().any(|l| l.starts_with(name));
        assert!(!row(&bare), "{bare}");
        assert!(
            row(&shop.run(&["card", "--build", "IF-D1"]).quiet()),
            "{name}"
        );
    }
    let html = shop
        .run(&["card", "--build", "BL-D1", "--html", "-"])
        .quiet();
    assert!(
        !html.contains("<td>-</td>") && !html.contains("<th>gauge"),
        "{html}"
    );
    let end = bare.lines().rev().take(2).collect::<Vec<_>>();
    assert_eq!(end[0], format!("printed {NOW}"));
    assert!(end[1].starts_with("Built by ___") && end[1].contains("Measured by ___"));
}

/// What the card says in words, `--json` says in numbers: the same ones as `tendency` and `check`.
#[test]
fn alt_the_card_has_the_numbers() {
    let shop = Shop::logged();
    shop.propose(&["--build", "IF-D1"]);
    shop.run(&[
        "rebuild",
        "--build",
        "IF-D1",
        "--as",
        "IF-D2",
        "--proposal",
        "1",
    ])
    .ok();
    shop.log("if-after", "IF-D2").ok();
    let check = shop.json(&["check", "--build", "IF-D2"]);
    let card = shop.json(&["card", "--build", "IF-D2"]);
    assert_eq!(card["proposal_number"], 1);
    assert_eq!(card["proposal_row"], 1);
    let said = &card["check"];
    assert_eq!(said["outcome"], check["outcome"]);
    assert_eq!(said["offline_change_m"], check["offline_change"]["mean_m"]);
    assert_eq!(said["offline_after_m"], check["offline_after_m"]);
    assert_eq!(said["rests_on_withdrawn_session"], false);
    for (n, build) in ["IF-D1", "IF-D2"].iter().enumerate() {
        let seen = shop.json(&["tendency", "--build", build]);
        let ball = &card["ball"][n];
        assert_eq!(ball["build"], *build);
        assert_eq!(ball["shots"], seen["shots"]);
        for key in ["start_m", "curve_m", "offline_m", "carry_m", "apex_m"] {
            assert_eq!(ball[key], seen[key]["mean"], "{key}");
        }
    }
    assert_eq!(
        shop.json(&["card", "--build", "IF-D1"])["check"],
        serde_json::Value::Null
    );
}

/// The ball on the card is the one that was judged, whatever was hit later, and the verdict has the
/// words of the check everywhere.
#[test]
fn the_card_stands_by_its_check() {
    let shop = Shop::logged();
    let rebuild = ["rebuild", "--build", "IF-D1", "--as", "IF-D2"];
    shop.run(&[&rebuild[..], &["--set", "rail=0%"]].concat())
        .ok();
    shop.propose(&["--build", "IF-D1"]);
    let mut seen = std::collections::BTreeSet::new();
    for session in ["if-few", "if-straight", "if-after"] {
        shop.log(session, "IF-D2").ok();
        let check = ["check", "--build", "IF-D2", "--after", session];
        let said = shop.run(&check).ok();
        let words = said
            .lines()
            .find_map(|l| l.strip_prefix("Verdict: "))
            .and_then(|l| l.strip_suffix('.'))
            .unwrap();
        let line = &shop.json(&["card", "--build", "IF-D2"])["verdict"][0];
        let begin = format!("{words}: moved ");
        assert!(line.as_str().unwrap().starts_with(&begin), "{line}");
        let listed = shop.json(&["list", "verdicts"]);
        assert_eq!(
            listed.as_array().unwrap().last().unwrap()["verdict_says"],
            words
        );
        seen.insert(words.to_string());
    }
    assert!(seen.len() > 1, "one outcome tells little: {seen:?}");
    // Hit since, and never judged.
    shop.log("bl-after", "IF-D2").ok();
    let card = shop.json(&["card", "--build", "IF-D2"]);
    assert_eq!(card["ball"][0]["session"], "if-fade");
    assert_eq!(card["ball"][1]["session"], "if-after");
    assert_eq!(card["ball"][1]["date"], "2027-05-10");
    let of_ball = shop.json(&["tendency", "--build", "IF-D2", "--session", "if-after"]);
    assert_eq!(card["ball"][1]["offline_m"], of_ball["offline_m"]["mean"]);
    let text = shop.run(&["card", "--build", "IF-D2"]).quiet();
    assert!(
        text.contains("- IF-D2, 16 shots in if-after (2027-05-10): starts "),
        "{text}"
    );
}

/// A build is a row of a proposal that was filed before it, whatever day it says it was built on;
/// of one that is none, nothing more than that is said.
#[test]
fn which_row_was_built() {
    let shop = Shop::logged();
    shop.propose(&["--build", "IF-D1"]);
    let rebuild = ["rebuild", "--build", "IF-D1", "--as", "IF-D2"];
    let other = ["--set", "inner toe=1g"];
    shop.run(&[&rebuild[..], &other].concat()).ok();
    let line = |build: &str| {
        let card = shop.json(&["card", "--build", build]);
        card["proposal"][0].as_str().unwrap().to_string()
    };
    assert!(line("IF-D2").ends_with(", no row is recorded as built"));
    // The first row by a file, dated two days before it was filed.
    let toml = shop.json(&["show", "proposal", "1"]);
    let setting = &toml["rows"][0]["setting_file"];
    let mut file = shop.json(&["show", "build", "IF-D1"]);
    file["setting"] = setting.clone();
    for (key, value) in [
        ("name", "IF-D3"),
        ("replaces", "IF-D1"),
        ("built_on", "2027-05-08"),
    ] {
        file[key] = value.into();
    }
    let file: trimtab::bench::describe::BuildFile = serde_json::from_value(file).unwrap();
    shop.run_in(&["add", "build", "-"], file.to_toml()).ok();
    let said = line("IF-D3");
    assert!(
        said.contains(", row 1 was built, to move the ball "),
        "{said}"
    );
}

#[test]
fn outcomes_in_words() {
    use trimtab::report::{filed_words, outcome_words};
    use trimtab::verdict::Outcome;
    let wide = "the way it was predicted; how much is within noise";
    assert_eq!(outcome_words(Outcome::AsPredicted, true, true), wide);
    assert_eq!(
        outcome_words(Outcome::AsPredicted, true, false),
        "as predicted"
    );
    // Only what agrees can agree in direction alone.
    assert_eq!(
        outcome_words(Outcome::Less, true, true),
        "less than predicted"
    );
    let filed = serde_json::json!({ "outcome": "as_predicted", "size_within_noise": true,
        "predicted_offline_change_m": { "mean": 1.0, "low": 0.0, "high": 2.0 } });
    assert_eq!(filed_words(&filed), wide);
    let nothing = serde_json::json!({ "outcome": "as_predicted" });
    assert_eq!(
        filed_words(&nothing),
        "there is an effect (nothing was predicted)"
    );
    assert_eq!(filed_words(&serde_json::json!({})), "");
}

/// 45.25 in are 1149 mm (25.4 mm each).
#[test]
fn ref_the_card_in_millimetres() {
    let shop = Shop::stocked();
    let card = |more: &[&str]| {
        let args = [&["card", "--build", "IF-D1"], more].concat();
        shop.run(&args).quiet()
    };
    assert_eq!(cells(&card(&[]), "length"), ["45.25 in"]);
    assert_eq!(cells(&card(&["--metric"]), "length"), ["1149 mm"]);
    assert!(card(&["--metric", "--html", "-"]).contains("<td>1149 mm</td>"));
    let json = shop.json(&["card", "--build", "IF-D1"]);
    let gauge = "bench two, checked 2027-05-03, loft +0.1 deg, lie +0.0 deg";
    assert_eq!(json["build"]["gauge"], gauge);
    assert!(cells(&card(&[]), "vertical inertia")[0].ends_with(" g cm2, lie 60 deg"));
}

/// The R&A and USGA, Equipment Rules (2019), Part 2: 460 cm3 with a tolerance of 10 for a driver
/// (section 4b); 48 in for any club but a putter (section 1c); Model Local Rule G-10: 46 in.
#[test]
fn ref_limits_of_the_rules() {
    let shop = Shop::stocked();
    let head = std::fs::read_to_string(data("heads/gorsefold.toml")).unwrap();
    for (volume, beyond) in [(460, false), (470, false), (471, true)] {
        let text = head
            .replace("Gorsefold 11", &format!("G{volume}"))
            .replace("volume_cm3 = 452", &format!("volume_cm3 = {volume}"));
        let ran = shop.run_in(&["add", "head", "-"], text);
        let told = ran.err.contains("the head's volume is 471 cm3");
        assert_eq!(told, beyond, "{volume}: {}", ran.err);
        ran.ok();
    }
    let build = std::fs::read_to_string(data("builds/if-d1.toml")).unwrap();
    for (inches, says) in [
        ("46", None),
        ("46.25", Some("46 in where the local rule on length holds")),
        (
            "48.25",
            Some("the club's length is 48.25 in; the rules allow 48 in."),
        ),
    ] {
        let name = format!("L{inches}");
        let text = build
            .replace("IF-D1", &name)
            .replace("Gorsefold 11", "G471")
            .replace("length_in = 45.25", &format!("length_in = {inches}"));
        let ran = shop.run_in(&["add", "build", "-"], text);
        let note = ran.err.replace('\n', " ");
        ran.ok();
        let card = shop.json(&["card", "--build", &name]);
        let cautions = card["cautions"].to_string();
        assert!(cautions.contains("the head's volume is 471 cm3"));
        match says {
            None => assert!(
                !(note + &cautions).contains("the club's length"),
                "{cautions}"
            ),
            Some(says) => assert!(note.contains(says) && cautions.contains(says), "{note}"),
        }
    }
}

/// The card tells the work and warns of it, whether a proposal led to it or not; of steps that were
/// proposed and not taken it says nothing.
#[test]
fn work_by_hand_has_its_cautions() {
    let shop = Shop::logged();
    let fixed = ["--build", "IF-D1", "--reversible"];
    shop.propose(&fixed);
    let proposed = shop.json(&["card", "--build", "IF-D1"]);
    assert!(proposed["proposal"].as_array().unwrap().len() > 1);
    assert_eq!(proposed["work"], serde_json::json!([]));
    let melt = ["--set", "melt:inner heel=4g"];
    shop.run(&[&["rebuild", "--build", "IF-D1", "--as", "IF-D2"], &melt[..]].concat())
        .ok();
    let card = shop.json(&["card", "--build", "IF-D2"]);
    let work = card["work"].as_array().unwrap();
    assert_eq!(work.len(), 1);
    assert!(work[0].as_str().unwrap().contains("hot melt"));
    assert_eq!(card["proposal"].as_array().unwrap().len(), 1);
    let text = shop.run(&["card", "--build", "IF-D2"]).quiet();
    let html = shop
        .run(&["card", "--build", "IF-D2", "--html", "-"])
        .quiet();
    for page in [&text, &html] {
        assert!(page.contains("Hot melt leaves the gun at about 150 C"));
        assert!(page.contains("then measure again: head mass, swing weight"));
        assert!(page.contains("Rules of"));
        assert!(!page.contains("maker's torque"), "no screw was turned");
    }
    assert!(cells(&text, "setting").len() == 2, "{text}");
}
