//! What is told of a miss: what differs from the aim, and what only bends a ball back.

mod cli_common;

use cli_common::{Shop, data};
use serde_json::Value;

/// A shop with a session of twelve shots: launch direction and spin axis (deg) of each, from a mean
/// with scatter in a fixed order.
fn shop(start: [f64; 2], curve: [f64; 2]) -> Shop {
    shop_in(&[], start, curve)
}

/// The same in said air.
fn shop_in(air: &[&str], start: [f64; 2], curve: [f64; 2]) -> Shop {
    let shop = Shop::stocked();
    log(&shop, air, start, curve);
    shop
}

/// The same with a head of which many changes tie.
fn shop_of_levers(start: [f64; 2], curve: [f64; 2]) -> Shop {
    let shop = Shop::new();
    let build = std::fs::read_to_string(data("builds/if-d1.toml")).expect("a file of the tests");
    let build = shop.write("build.toml", build.replace("Gorsefold 11", "Whinmoor"));
    for (what, file) in [
        ("head", data("heads/whinmoor.toml")),
        ("player", data("players/isolde-ferrow.toml")),
        ("build", build),
    ] {
        shop.run(&["add", what, &file]).ok();
    }
    log(&shop, &[], start, curve);
    shop
}

fn log(shop: &Shop, air: &[&str], direction: [f64; 2], axis: [f64; 2]) {
    log_as(shop, "s", air, direction, axis);
}

fn log_as(
    shop: &Shop,
    name: &str,
    air: &[&str],
    [direction, spread]: [f64; 2],
    [axis, bend]: [f64; 2],
) {
    let mut csv = "ball_speed_mph,launch_angle_deg,launch_direction_deg,spin_rate_rpm,\
                   spin_axis_deg\n"
        .to_string();
    let scatter = [
        -1.6, 0.4, 1.1, -0.3, 0.8, -1.0, 0.1, 1.5, -0.6, 0.3, -1.2, 0.5,
    ];
    for (i, s) in scatter.iter().enumerate() {
        let turned = scatter[(i * 5 + 3) % 12];
        let (direction, axis) = (direction + spread * s, axis + bend * turned);
        csv += &format!("138.{i},13.{i},{direction:.2},2900,{axis:.2}\n");
    }
    let log = ["log", "-", "--build", "IF-D1", "--name", name];
    shop.run_in(&[&log[..], air].concat(), csv).ok();
}

/// The text without its line ends.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn tendency(shop: &Shop) -> (Value, String) {
    let args = ["tendency", "--build", "IF-D1"];
    (shop.json(&args), flat(&shop.run(&args).ok()))
}

/// The words go with the interval beside them: nothing is "not beyond noise" whose 80 % interval
/// leaves no miss out.
#[test]
fn the_words_go_with_the_interval() {
    let mut told = [false; 3];
    for axis in [0.0, 2.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0] {
        let (seen, text) = tendency(&shop([0.0, 1.0], [axis, 12.0]));
        let o = &seen["offline_against_aim"];
        let number = |key: &str| o[key].as_f64().unwrap();
        let outside = number("miss_m").abs() > number("half_width_80_m");
        let words = [
            "does not differ from the aim beyond noise",
            "Where it lands may be noise",
            "That differs from the aim",
        ];
        let said: Vec<usize> = (0..3).filter(|&i| text.contains(words[i])).collect();
        assert_eq!(said.len(), 1, "{text}");
        assert_eq!(said[0] > 0, outside, "{text}");
        assert_eq!(said[0] == 2, o["differs"] == true, "{text}");
        told[said[0]] = true;
    }
    assert_eq!(told, [true; 3], "each of the three was met");
}

/// A start line that is off is told where a wide curve brings the ball back.
#[test]
fn a_start_line_that_the_curve_hides() {
    let shop = shop([1.5, 0.4], [-4.0, 16.0]);
    let (seen, text) = tendency(&shop);
    let differs = |key: &str| seen[key]["differs"].as_bool().unwrap();
    assert!(differs("start_against_aim"), "{seen}");
    assert!(!differs("offline_against_aim") && !differs("curve_against_aim"));
    assert_eq!(seen["miss_differs_from_aim"], true);
    assert!(text.contains("What differs: the start line "), "{text}");
}

/// A push is bent back by the club's levers, and that is said; a slice is straightened, and nothing
/// of the kind is.
#[test]
fn a_push_is_bent_back() {
    const SAYS: &str = "it lands nearer because it is bent back";
    let propose = |shop: &Shop| {
        let args = ["propose", "--build", "IF-D1", "--deliveries", "40"];
        let rows = shop.json(&args)["rows"].clone();
        let bends: Vec<f64> = rows
            .as_array()
            .unwrap()
            .iter()
            .map(|r| r["bends_m"].as_f64().unwrap())
            .collect();
        (bends, flat(&shop.run(&args).ok()))
    };
    let (bends, text) = propose(&shop([3.0, 0.5], [0.0, 2.0]));
    assert!(bends[0] > 3.0 && text.contains(SAYS), "{bends:?} {text}");
    let (bends, text) = propose(&shop([0.0, 0.5], [12.0, 2.0]));
    assert!(bends[0] < 0.0 && !text.contains(SAYS), "{bends:?} {text}");
}

/// Where one player is served there is nobody else to name.
#[test]
fn the_only_player_needs_no_name() {
    let shop = Shop::new();
    let add = |what: &str, file: &str| shop.run(&["add", what, &data(file)]).ok();
    add("head", "heads/gorsefold.toml");
    add("player", "players/isolde-ferrow.toml");
    add("build", "builds/if-d1.toml");
    shop.log("if-fade", "IF-D1").ok();
    let named = shop.json(&["tendency", "--build", "IF-D1"]);
    assert_eq!(shop.json(&["tendency"]), named);
    add("player", "players/bastian-lune.toml");
    shop.run(&["tendency"])
        .fails(2, &["name a --build or a --player"]);
    // A session is of one build.
    assert_eq!(shop.json(&["tendency", "--session", "if-fade"]), named);
}

/// Settings are sought for the wind of the shots; that is said before a club is changed for it.
#[test]
fn a_wind_across_is_minded() {
    let warnings = |wind: &str| {
        let shop = shop_in(&["--wind-toward-right-m-s", wind], [0.0, 0.5], [0.0, 2.0]);
        let proposal = shop.propose(&["--build", "IF-D1"]);
        let said = proposal["warnings"].to_string();
        assert_eq!(proposal["wind_across"], said.contains(SAYS));
        let page = shop.run(&["propose", "--build", "IF-D1"]).ok();
        assert_eq!(page.contains("In this wind: "), said.contains(SAYS));
        let card = shop.json(&["card", "--build", "IF-D1"])["cautions"].to_string();
        assert_eq!(card.contains(SAYS), said.contains(SAYS), "{card}");
        said
    };
    const SAYS: &str = "hit in calm air before you change the club";
    assert!(warnings("5").contains(SAYS) && warnings("-5").contains(SAYS));
    assert!(!warnings("0.2").contains(SAYS));
}

/// Earlier days on which the ball did something else do not hide what it does now.
#[test]
fn another_swing_is_left_out() {
    let shop = Shop::stocked();
    for (day, start, curve) in [("d06", 0.0, 0.2), ("d07", -2.5, -9.0), ("d08", 0.4, 1.0)] {
        let date = format!("2027-05-{}", &day[1..]);
        log_as(&shop, day, &["--date", &date], [start, 0.5], [curve, 2.0]);
    }
    let (json, text) = tendency(&shop);
    assert_eq!(json["sessions"], serde_json::json!(["d08", "d06"]));
    let said = "by more than days differ: d07;";
    assert!(text.contains(said), "{text}");
    let proposal = shop.propose(&["--build", "IF-D1"]);
    assert_eq!(proposal["sessions"], json["sessions"]);
    assert!(proposal["warnings"].to_string().contains(said));
    // Who names it gets it.
    let all = ["--session", "d06", "--session", "d07", "--session", "d08"];
    let named = shop.json(&[&["tendency"], &all[..]].concat());
    assert_eq!(named["sessions"].as_array().unwrap().len(), 3);
    assert_eq!(named["warnings"], serde_json::json!([]));
}

/// A session that is named twice counts once.
#[test]
fn a_session_counts_once() {
    let shop = shop([0.0, 0.5], [4.0, 2.0]);
    let once = shop.json(&["tendency", "--build", "IF-D1", "--session", "s"]);
    let twice = shop.json(&[
        "tendency",
        "--build",
        "IF-D1",
        "--session",
        "s",
        "--session",
        "1",
    ]);
    assert_eq!(twice, once);
}

/// Without the wind the same launches lead to the same proposal as in calm air.
#[test]
fn the_wind_can_be_taken_out() {
    let told = |air: &[&str], more: &[&str]| {
        let shop = shop_in(air, [1.0, 1.0], [8.0, 3.0]);
        let told = shop.propose(&[&["--build", "IF-D1"], more].concat());
        let card = shop.run(&["card", "--build", "IF-D1"]).ok();
        assert_eq!(card.contains(", in wind)"), !air.is_empty(), "{card}");
        assert_eq!(card.contains(", for calm air"), !more.is_empty(), "{card}");
        ["answer", "now", "rows", "cause", "warnings"].map(|key| told[key].clone())
    };
    let wind = [
        "--wind-toward-right-m-s",
        "4",
        "--wind-toward-target-m-s",
        "-3",
    ];
    let calm = told(&[], &[]);
    assert!(told(&wind, &[]) != calm);
    assert_eq!(told(&wind, &["--calm"]), calm);
}

/// A face that looks to the other side than the ball starts is a column with its sign turned.
#[test]
fn a_turned_sign_is_told() {
    let warned = |face: &str| {
        let shop = Shop::stocked();
        let mut csv = "ball_speed_mph,launch_angle_deg,launch_direction_deg,spin_rate_rpm,\
                       spin_axis_deg,face_angle_deg\n"
            .to_string();
        for i in 0..8 {
            csv += &format!("138.{i},13.{i},2.{i},2900,4,{face}\n");
        }
        let log = ["log", "-", "--build", "IF-D1", "--name", "s"];
        flat(&shop.run_in(&log, csv).err).contains("may be positive to the left")
    };
    assert!(warned("-2.4") && warned("-3.1"));
    assert!(!warned("2.4") && !warned("-0.4"));
}

/// How many rows are shown does not change which comes first.
#[test]
fn the_first_row_is_the_first_of_any_number() {
    let shop = shop([0.0, 0.5], [12.0, 2.0]);
    for more in [
        &[][..],
        &["--hold-face-angle-deg", "0.5"],
        &["--curve-yd", "10"],
        &["--reversible"],
    ] {
        let first = |rows: &str| {
            let args = [
                "propose",
                "--build",
                "IF-D1",
                "--deliveries",
                "40",
                "--rows",
                rows,
            ];
            shop.json(&[&args[..], more].concat())["rows"][0]["setting"].clone()
        };
        let five = first("5");
        assert!(
            ["1", "2", "3", "4"].iter().all(|n| first(n) == five),
            "{more:?}"
        );
    }
}

/// Of rows that cannot be told apart, and that go back as easily, none is another one and more, unless
/// what it has more keeps the swing weight.
#[test]
fn ties_have_no_idle_step() {
    let mut held = 0;
    for [start, curve] in [[-1.0, -8.0], [-1.0, -10.0], [1.8, 7.0]] {
        let shop = shop_of_levers([start, 2.0], [curve, 5.0]);
        for wish in ["0", "-6"] {
            let p = shop.propose(&["--build", "IF-D1", "--rows", "8", "--start-yd", wish]);
            let tied = p["tied_rows"].as_u64().unwrap() as usize;
            let rows = &p["rows"].as_array().unwrap()[..tied];
            let points = |r: &Value| r["swing_weight_change_points"].as_f64().unwrap().abs();
            let steps = |r: &Value| r["steps"].as_array().unwrap().clone();
            for (i, first) in rows.iter().enumerate() {
                for later in &rows[i + 1..] {
                    let holds = steps(later).iter().all(|s| steps(first).contains(s));
                    let holds = holds && first["undo"] == later["undo"];
                    held +=
                        usize::from(holds || steps(first).iter().all(|s| steps(later).contains(s)));
                    assert!(!holds || points(later) > points(first) + 0.5, "{p}");
                }
            }
        }
    }
    assert!(held > 0);
}

/// The simplest changes are there among thousands: a single lever in the rows, and what goes back in
/// seconds in the view of effect against ease of undoing.
#[test]
fn the_simplest_is_not_lost() {
    let shop = shop_of_levers([1.0, 1.0], [9.0, 2.0]);
    let propose = |more: &[&str]| shop.propose(&[&["--build", "IF-D1", "--pareto"], more].concat());
    let has = |list: &Value, of: &dyn Fn(&Value) -> bool| list.as_array().unwrap().iter().any(of);
    let single = |row: &Value| row["steps"].as_array().unwrap().len() == 1;
    let seconds = |row: &Value| row["undo"] == "seconds";
    for levers in ["1", "2", "4"] {
        let p = propose(&["--levers", levers, "--rows", "2"]);
        assert!(has(&p["rows"], &single), "{levers}: {}", p["rows"]);
        assert!(has(&p["pareto"], &seconds), "{levers}: {}", p["pareto"]);
    }
    // Every kind of change follows what is proposed.
    let rows = |more: &[&str]| {
        let all = propose(more)["rows"].as_array().unwrap().clone();
        all.into_iter()
            .map(|r| r["setting"].clone())
            .collect::<Vec<_>>()
    };
    let (proposed, all) = (
        rows(&["--rows", "3"]),
        rows(&["--rows", "30", "--every-kind"]),
    );
    assert_eq!(proposed[0], all[0]);
    assert!(all.len() > 10, "{}", all.len());
}

/// A search that limits have narrowed does not say that the club can't.
#[test]
fn limits_are_not_the_club() {
    let shop = shop([0.0, 0.5], [12.0, 2.0]);
    let base = ["propose", "--build", "IF-D1", "--deliveries", "40"];
    let hold = [
        "--hold-swing-weight-points",
        "0",
        "--hold-face-angle-deg",
        "0",
    ];
    let args = [&base[..], &hold].concat();
    assert_eq!(shop.json(&args)["answer"], "not_the_club");
    let text = flat(&shop.run(&args).ok());
    assert!(
        text.contains("Not within your limits: what") && !text.contains("Not the club"),
        "{text}"
    );
}
