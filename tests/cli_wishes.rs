//! Parts at hand, heads from the rack and wishes, as a technician types them.

mod cli_common;

use cli_common::{FEW, Shop};
use serde_json::Value;

const MISS: [&str; 3] = ["--dry-run", "--miss", "curves 15 right, carries 220"];

fn propose(shop: &Shop, args: &[&str]) -> Value {
    shop.json(&[&["propose", "--build", "IF-D1"], &MISS[..], args, &FEW[..]].concat())
}

#[test]
fn inv_parts_that_are_not_at_hand_are_not_proposed() {
    let shop = Shop::stocked();
    let parts = shop.write("parts.toml", "hot_melt_g = 0\n");
    let all = ["--rows", "50", "--every-kind"];
    let uses_melt = |p: &Value| {
        let rows = p["rows"].as_array().unwrap().iter();
        let said = rows.flat_map(|r| r["steps"].as_array().unwrap());
        said.filter(|s| s.as_str().unwrap().contains("hot melt"))
            .count()
    };
    let free = propose(&shop, &all);
    let held = propose(&shop, &[&all[..], &["--stock", &parts]].concat());
    assert!(uses_melt(&free) > 0);
    assert_eq!(uses_melt(&held), 0);
    let missing = held["missing_parts"].as_array().unwrap();
    assert!(
        missing
            .iter()
            .any(|m| m["part"] == "hot melt" && m["settings"].as_u64() > Some(0))
    );
    let said = shop.run(
        &[
            &["propose", "--build", "IF-D1", "--stock", &parts],
            &MISS[..],
            &FEW[..],
        ]
        .concat(),
    );
    assert!(said.ok().contains("Not at hand: "));
    let wrong = shop.write("wrong.toml", "[[screw]]\nmass_g = 900\ncount = 1\n");
    shop.run(&[
        "propose", "--build", "IF-D1", "--miss", "hooks", "--stock", &wrong,
    ])
    .fails(3, &["wrong.toml:2:10: screw[0].mass_g = 900: 0.1 to 100 g"]);
    let nobody = shop.write("nobody.toml", "heads = [\"Nobody's\"]\n");
    shop.run(&[
        "propose", "--build", "IF-D1", "--miss", "hooks", "--stock", &nobody,
    ])
    .fails(4, &["no head"]);
}

/// A head that is weaker by two degrees flies higher; one for the other hand is not tried; a row that
/// is another head cannot be rebuilt as a setting.
#[test]
fn inv_heads_on_the_rack() {
    let shop = Shop::stocked();
    let text = std::fs::read_to_string(cli_common::data("heads/gorsefold.toml")).unwrap();
    let loft = |line: &&str| line.starts_with("loft_deg");
    let line = text.lines().find(loft).unwrap();
    let deg: f64 = line.split('=').nth(1).unwrap().trim().parse().unwrap();
    for (name, hand) in [("Weaker", ""), ("Other Hand", "hand = \"left\"\n")] {
        let weaker = text
            .replace("Gorsefold 11", name)
            .replace(line, &format!("{hand}loft_deg = {}", deg + 2.0));
        shop.run_in(&["add", "head", "-"], weaker).ok();
    }
    let parts = shop.write(
        "parts.toml",
        "heads = [\"weaker\", \"Other Hand\", \"Gorsefold 11\"]\n",
    );
    let stock = ["--stock", &parts, "--rows", "50", "--every-kind"];
    let p = propose(&shop, &stock);
    let rows = p["rows"].as_array().unwrap();
    let other: Vec<&Value> = rows
        .iter()
        .filter(|r| r["other_head"] == "Weaker")
        .collect();
    let plain = other
        .iter()
        .find(|r| r["steps"].as_array().unwrap().len() == 1)
        .unwrap();
    assert!(plain["apex_change_m"].as_f64().unwrap() > 1.0);
    assert!(plain["setting_file"].is_null());
    let warnings = p["warnings"].to_string();
    for said in [
        "Other Hand: not for this player's hand",
        "Gorsefold 11 is on the club already",
    ] {
        assert!(warnings.contains(said), "{warnings}");
    }
    let filed = shop.json(
        &[
            &["propose", "--build", "IF-D1"],
            &MISS[1..],
            &stock,
            &FEW[..],
        ]
        .concat(),
    );
    let id = filed["proposal"].to_string();
    let at = filed["rows"].as_array().unwrap().iter();
    let row = at
        .clone()
        .position(|r| r["other_head"] == "Weaker")
        .unwrap()
        + 1;
    let row = row.to_string();
    let rebuild = [
        "rebuild",
        "--build",
        "IF-D1",
        "--as",
        "X",
        "--proposal",
        &id,
        "--row",
        &row,
    ];
    shop.run(&rebuild)
        .fails(2, &["that is another head, 'Weaker'"]);
}

/// The same words as flags and in the player's file; a flag is stronger.
#[test]
fn inv_wishes_by_file_and_by_flag() {
    let shop = Shop::stocked();
    let wishes = "[aim]\nfairway_yd = 30\nheight_from_m = 26\nstart_to_yd = 4\nshape_weight = 2\n";
    let player = format!("name = \"Wisher\"\nhand = \"left\"\n{wishes}");
    shop.run_in(&["add", "player", "-"], player).ok();
    let build = std::fs::read_to_string(cli_common::data("builds/if-d1.toml")).unwrap();
    let build = build
        .replace("Isolde Ferrow", "Wisher")
        .replace("IF-D1", "W-D1");
    shop.run_in(&["add", "build", "-"], build.clone()).ok();
    shop.run_in(
        &["add", "player", "-"],
        "name = \"Plain\"\nhand = \"left\"\n",
    )
    .ok();
    let build = build.replace("Wisher", "Plain").replace("W-D1", "P-D1");
    shop.run_in(&["add", "build", "-"], build).ok();
    let run = |build: &str, flags: &[&str]| {
        shop.json(&[&["propose", "--build", build], &MISS[..], flags, &FEW[..]].concat())
    };
    let flags = [
        "--fairway-yd",
        "30",
        "--height-from-m",
        "26",
        "--start-to-yd",
        "4",
        "--shape-weight",
        "2",
    ];
    let (file, flag) = (run("W-D1", &[]), run("P-D1", &flags));
    assert_eq!(file["wanted"], flag["wanted"]);
    assert_eq!(file["rows"], flag["rows"]);
    let wanted = &file["wanted"];
    assert!(wanted["start_from_m"].is_null() && wanted["apex_to_m"].is_null());
    assert_eq!(wanted["start_to_m"], 4.0 * 0.9144);
    assert_ne!(
        run("P-D1", &[])["now"]["expected_loss_m"],
        file["now"]["expected_loss_m"]
    );
    let stronger = run("W-D1", &["--fairway-yd", "10"]);
    assert_eq!(stronger["wanted"]["fairway_m"], 9.144);
    assert_eq!(stronger["wanted"]["apex_from_m"], 26.0);
    for (flags, told) in [
        (
            ["--height-from-m", "30", "--height-to-m", "20"],
            "--height-to-m: must not be below",
        ),
        (
            ["--fairway-yd", "500", "--keep-carry", "--no-correction"],
            "--fairway-yd 500",
        ),
        (
            ["--start-to-m", "1", "--start-to-yd", "1"],
            "give start_to_yd or start_to_m, not both",
        ),
    ] {
        shop.run(&[&["propose", "--build", "P-D1"], &MISS[..], &flags[..]].concat())
            .fails(2, &[told]);
    }
}

/// What is said of a row holds of its numbers: a ball that is bent back lands nearer, shares are of
/// what the player misses, and a landing angle that is minded is shown.
#[test]
fn inv_words_of_rows_hold() {
    let shop = Shop::stocked();
    let flat = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let both = |args: &[&str]| {
        let all = [&["--build", "IF-D1", "--every-kind"], args].concat();
        let page = shop.run(&[&["propose"], &all[..], &FEW].concat()).ok();
        (shop.propose(&all), flat(page))
    };
    let mut nearer = 0;
    for miss in [
        "starts 1 left, curves 1 right, balloons, too much spin",
        "starts 9 right, straight",
        "curves 14 right, low",
    ] {
        let (json, page) = both(&["--miss", miss]);
        let number = |v: &Value| v.as_f64().unwrap();
        let rows = json["rows"].as_array().unwrap();
        let now = number(&json["now"]["offline_m"]["mean"]).abs();
        let near = |r: &&Value| number(&r["offline_m"]["mean"]).abs() < now;
        let bent = page.matches("lands nearer because it is bent").count();
        assert!(bent <= rows.iter().filter(near).count(), "{page}");
        nearer += bent;
    }
    assert!(nearer > 0);
    let (_, page) = both(&["--miss", "offline 9 right", "--fairway-yd", "40"]);
    assert!(page.contains("the average ball is in the fairway as it is: lands"));
    assert!(page.contains("lands farther outside the fairway with"));
    assert!(!page.contains("of the miss"), "{page}");
    let (_, page) = both(&["--miss", "offline 30 right", "--fairway-yd", "40"]);
    assert!(page.contains("of the miss: lands"), "{page}");
    // Too high is above what the player wants.
    let (json, _) = both(&["--miss", "high", "--height-to-yd", "34"]);
    let apex = json["now"]["apex_m"]["mean"].as_f64().unwrap();
    assert!(apex > 34.0 * 0.9144, "{apex}");
}
