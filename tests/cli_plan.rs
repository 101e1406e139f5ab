//! A range visit with a device that measures the club: where the miss comes from, the plan, the
//! check in blocks; right-handed, and left-handed in the mirror. All shots are made up.

mod cli_common;

use cli_common::Shop;
use serde_json::Value;

/// Face angle and club path (deg), strike toe-ward (mm), and what else moves the spin axis (deg).
const SHOTS: [[f64; 4]; 14] = [
    [3.1, -1.0, -4.0, 0.5],
    [1.2, -2.1, 3.0, -0.8],
    [4.0, 0.4, -9.0, 0.2],
    [0.6, -0.3, 6.0, 1.1],
    [2.2, -1.9, 0.0, -0.4],
    [-0.4, -2.6, 8.0, 0.7],
    [2.9, -0.1, -6.0, -1.2],
    [1.7, -1.4, 2.0, 0.1],
    [3.6, -2.2, -2.0, 0.9],
    [0.1, -1.2, 11.0, -0.6],
    [2.5, -0.7, -7.0, -0.3],
    [1.0, -1.6, 5.0, 0.4],
    [4.4, -0.9, -11.0, -0.9],
    [1.9, -1.1, 1.0, 0.3],
];

/// The shots as a file; `axis` is what the club adds to the spin axis, right-handed; `side` is -1 for
/// a left-handed player, whose sideways numbers are the other way round.
fn csv(axis: f64, side: f64, from: usize) -> String {
    let mut text = "ball_speed_mph,launch_angle_deg,launch_direction_deg,spin_rate_rpm,\
                    spin_axis_deg,club_path_deg,face_angle_deg,strike_toe_mm\n"
        .to_string();
    for i in 0..SHOTS.len() {
        let [face, path, toe, other] = SHOTS[(i * 5 + from) % SHOTS.len()];
        let start = side * (0.8 * face + 0.2 * path);
        let axis = side * (4.0 * (face - path) - 0.4 * toe + other + axis);
        let (path, face) = (side * path, side * face);
        let speed = 138.0 + other;
        text += &format!("{speed:.1},13.{i},{start:.2},2900,{axis:.2},{path},{face},{toe}\n");
    }
    text
}

fn f(v: &Value) -> f64 {
    v.as_f64().unwrap_or_else(|| panic!("no number: {v}"))
}

/// A visit: two blocks with the club as it is, two with the rail at the heel.
fn visit(build: &str, side: f64) -> Shop {
    let shop = Shop::stocked();
    let log = |name: &str, build: &str, axis: f64, from: usize| {
        let args = ["log", "-", "--build", build, "--name", name, "--as-logged"];
        shop.run_in(&args, csv(axis, side, from)).ok();
    };
    log("a1", build, 0.0, 0);
    shop.run(&[
        "rebuild", "--build", build, "--as", "new", "--set", "rail=0%",
    ])
    .ok();
    log("b1", "new", -4.0, 3);
    log("b2", "new", -4.0, 7);
    log("a2", build, 0.0, 11);
    shop
}

const BLOCKS: [&str; 8] = [
    "--before", "a1", "--before", "a2", "--after", "b1", "--after", "b2",
];

#[test]
fn a_visit_with_the_club_measured() {
    let shop = visit("IF-D1", 1.0);
    let seen = shop.json(&["tendency", "--build", "IF-D1", "--session", "a1"]);
    let said = seen["blame"]["sentence"].as_str().unwrap();
    assert!(said.contains("curves right because the face is"), "{said}");
    assert!(said.contains("open to the path"), "{said}");
    assert_eq!(seen["blame"]["inferred"], Value::Array(vec![]));
    let parts = seen["blame"]["parts"].as_array().unwrap();
    let sum: f64 = parts.iter().map(|p| f(&p["offline_m"]["mean"])).sum();
    let miss = f(&seen["offline_against_aim"]["miss_m"]);
    assert!((sum - miss).abs() < 1e-6, "{sum} {miss}");

    let change = ["--build", "IF-D1", "--set", "rail=0%"];
    let plan = shop.json(&[&["plan"], &change[..]].concat());
    let (raw, same) = (&plan["raw"]["shots_each"], &plan["adjusted"]["shots_each"]);
    assert!(f(same) < f(raw), "{same} {raw}");
    assert_eq!(plan["adjusted_for"][0], "face_angle");
    assert!(f(&plan["shots"]) >= 2.0 * f(same));
    assert!(plan["order"].as_str().unwrap().starts_with("ABBA"));
    // What teaches most is predicted as every change is.
    let lesson = &plan["teaches_most"];
    let file = &lesson["setting_file"];
    let weight = &file["track"]["rail"];
    let [grams, percent] = ["mass_g", "position_percent"].map(|k| &weight[k]);
    let set = [
        format!("rail={grams}g"),
        format!("rail={percent}%"),
        format!("sleeve={}deg", file["sleeve_deg"]),
    ];
    let set: Vec<&str> = set.iter().flat_map(|s| ["--set", s]).collect();
    let whole = shop.json(&[&["plan", "--build", "IF-D1"], &set[..]].concat());
    assert_eq!(
        whole["change"],
        lesson["steps"]
            .as_array()
            .unwrap()
            .iter()
            .map(|s| s.as_str().unwrap())
            .collect::<Vec<_>>()
            .join("; then ")
    );
    assert_eq!(whole["offline_change_m"], lesson["offline_change_m"]);
    // A size alone does not say what the club does to the face: that is not adjusted for.
    let size = shop.json(&["plan", "--build", "IF-D1", "--change-yd", "8"]);
    let used = size["adjusted_for"].to_string();
    assert!(
        used.contains("club_path") && !used.contains("face"),
        "{used}"
    );

    let check = |more: &[&str]| {
        let base = [
            "check",
            "--build",
            "new",
            "--build-before",
            "IF-D1",
            "--dry-run",
        ];
        shop.json(&[&base[..], &BLOCKS, more].concat())
    };
    let (once, often) = (check(&[]), check(&["--every-block"]));
    // All blocks of a day are one visit: they need not be named.
    let unnamed = ["check", "--build", "new", "--dry-run"];
    let unnamed = shop.json(&unnamed);
    assert_eq!(unnamed["after"], once["after"]);
    assert_eq!(unnamed["before"], once["before"]);
    let raw = f(&once["offline_change"]["half_width_80_m"]);
    let same = &once["adjusted_offline_change"];
    println!(
        "raw {} +- {raw:.1} m, same delivery {same}",
        once["offline_change"]["mean_m"]
    );
    assert!(f(&same["half_width_80_m"]) < raw);
    assert!(f(&same["mean_m"]) < 0.0);
    assert_eq!(once["outcome_any_look"], often["outcome"]);
    assert!(f(&once["half_width_any_look_m"]) > f(&same["half_width_80_m"]));
    let text = shop
        .run(
            &[
                &[
                    "check",
                    "--build",
                    "new",
                    "--build-before",
                    "IF-D1",
                    "--every-block",
                ],
                &BLOCKS[..],
            ]
            .concat(),
        )
        .ok();
    let flat = text.replace('\n', " ");
    assert!(
        flat.contains("At the same delivery (face angle, club path"),
        "{text}"
    );
    assert!(flat.contains("wrong in at most one of five"), "{text}");
}

/// Whoever looked before looks once more: the bench remembers, and the card tells the interval that the
/// verdict went by.
#[test]
fn a_second_look_is_judged_as_one_of_several() {
    let shop = visit("IF-D1", 1.0);
    let check = |more: &[&str]| shop.json(&[&["check", "--build", "new"], more].concat());
    let first = ["--before", "a1", "--after", "b1"];
    let once = check(&first);
    assert_eq!(once["every_block"], false);
    assert_eq!(
        once["judged_half_width_m"],
        once["adjusted_offline_change"]["half_width_80_m"]
    );
    let again = check(&[]);
    assert_eq!(again["earlier_looks"], serde_json::json!([1]));
    assert_eq!(again["every_block"], true);
    assert_eq!(again["outcome"], again["outcome_any_look"]);
    assert_eq!(again["judged_half_width_m"], again["half_width_any_look_m"]);
    // What was said at the first look, and to whom looks once, stays as it was.
    assert_eq!(check(&first), once);
    let text = shop
        .run(&["check", "--build", "new"])
        .ok()
        .replace('\n', " ");
    assert!(text.contains("judged before (verdict 1)"), "{text}");
    assert!(text.contains("Change, each for one look"), "{text}");
    let card = shop.json(&["card", "--build", "new"]);
    let said = &card["check"];
    assert_eq!(said["verdict"], 2);
    assert_eq!(said["judged_half_width_m"], again["half_width_any_look_m"]);
    let line = card["verdict"][0].as_str().unwrap();
    assert!(line.contains("however often you look"), "{line}");
    // Fresh shots against the same ones before are another look at the same change.
    let shop = visit("IF-D1", 1.0);
    let of = |after: &str| {
        let check = [
            "check", "--build", "new", "--before", "a1", "--after", after,
        ];
        shop.json(&check)["earlier_looks"].clone()
    };
    assert_eq!(of("b1"), serde_json::json!([]));
    assert_eq!(of("b2"), serde_json::json!([1]));
    // Looked at after every block, it stays so without the word.
    let shop = visit("IF-D1", 1.0);
    let said = shop.json(&["check", "--build", "new", "--every-block"]);
    assert_eq!(shop.json(&["check", "--build", "new"]), said);
}

#[test]
fn a_left_handed_visit_is_the_mirror() {
    // The left-handed player's club and the right-handed one's are the same head; compare a
    // left-handed visit with the mirrored numbers of a right-handed one by words and signs.
    let (left, right) = (visit("BL-D1", -1.0), visit("BL-D1", 1.0));
    let said = |shop: &Shop| {
        let v = shop.json(&["tendency", "--build", "BL-D1", "--session", "a1"]);
        v["blame"]["sentence"].as_str().unwrap().to_string()
    };
    // For a left-hander a face that is open, as typed with the sign turned, sends the ball left.
    assert!(
        said(&left).contains("curves left because"),
        "{}",
        said(&left)
    );
    assert!(said(&left).contains("open to the path"), "{}", said(&left));
    // The same numbers as typed for a right-hander are a closed face for a left-hander.
    assert!(
        said(&right).contains("closed to the path"),
        "{}",
        said(&right)
    );
    let args = [
        "check",
        "--build",
        "new",
        "--build-before",
        "BL-D1",
        "--dry-run",
    ];
    let v = left.json(&[&args[..], &BLOCKS].concat());
    assert!(f(&v["adjusted_offline_change"]["mean_m"]) > 0.0, "{v}");
}

#[test]
fn plans_that_cannot_be_made() {
    let shop = Shop::logged();
    let fails = |args: &[&str], code: i32, words: &[&str]| {
        shop.run(&[&["plan", "--build", "IF-D1"], args].concat())
            .fails(code, words);
    };
    fails(&[], 2, &["no proposal with a change", "--change-yd"]);
    fails(&["--change-yd", "0"], 2, &["0.1 to 150 m"]);
    fails(&["--change-m", "nan"], 2, &["0.1 to 150 m"]);
    fails(&["--proposal", "7"], 4, &["7"]);
    fails(&["--set", "rail=140%"], 3, &["0.0, 25.0, 50.0"]);
    fails(&["--set", "wing=1g"], 2, &["no lever"]);
    fails(
        &["--power-percent", "100", "--change-m", "5"],
        2,
        &["30..=99"],
    );
    shop.propose(&["--build", "IF-D1"]);
    fails(&["--row", "60"], 2, &["no row 60"]);
    fails(&["--row", "0"], 2, &["no row 0"]);
    shop.run(&["plan", "--build", "BL-D1", "--proposal", "1"])
        .fails(2, &["is for build 'IF-D1'"]);
    let plan = shop.json(&["plan", "--build", "IF-D1", "--row", "2"]);
    assert_eq!(plan["proposal"], 1);
    assert_eq!(plan["adjusted"], Value::Null);
    // A change so small that no range session shows it.
    let text = shop
        .run(&["plan", "--build", "IF-D1", "--change-m", "0.2"])
        .ok();
    assert!(text.contains("A thousand shots on each side"), "{text}");
}

/// A proposal from an earlier day, then A B B A: all four blocks are compared, the earlier day is not,
/// and what is said of days is true.
#[test]
fn blocks_of_both_builds_are_found() {
    let shop = Shop::stocked();
    let log = |name: &str, build: &str, day: &str, axis: f64, from: usize| {
        let args = ["log", "-", "--build", build, "--name", name, "--as-logged"];
        let args = [&args[..], &["--date", day]].concat();
        shop.run_in(&args, csv(axis, 1.0, from)).ok();
    };
    let said = |key: &str, check: &Value| check[key].to_string();
    log("first", "IF-D1", "2027-05-06", 0.0, 2);
    shop.propose(&["--build", "IF-D1", "--reversible"]);
    let plan = shop.run(&["plan", "--build", "IF-D1"]).ok();
    assert!(plan.contains("A B B A"), "{plan}");
    let rebuild = ["rebuild", "--build", "IF-D1", "--as", "new"];
    shop.run(&[&rebuild[..], &["--proposal", "1"]].concat())
        .ok();
    log("b1", "new", "2027-05-09", -4.0, 3);
    let check =
        |more: &[&str]| shop.json(&[&["check", "--build", "new", "--dry-run"], more].concat());
    let days = check(&[]);
    assert_eq!(said("before", &days), r#"["first"]"#);
    assert_eq!(days["one_day"], false);
    log("a1", "IF-D1", "2027-05-09", 0.0, 0);
    log("b2", "new", "2027-05-09", -4.0, 7);
    log("a2", "IF-D1", "2027-05-09", 0.0, 11);
    // Later: hit for something else.
    log("a3", "IF-D1", "2027-05-10", 0.0, 5);
    let day = check(&[]);
    assert_eq!(said("before", &day), r#"["a1","a2"]"#);
    assert_eq!(said("after", &day), r#"["b1","b2"]"#);
    assert_eq!(day["proposal"], 1, "the prediction is still that one");
    assert_eq!(day["one_day"], true);
    assert_eq!(day, check(&BLOCKS));
}
