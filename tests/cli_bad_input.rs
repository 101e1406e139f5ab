//! What goes wrong says why, changes nothing, and ends with the documented exit code:
//! 2 usage, 3 bad input, 4 not found, 5 conflict, 6 busy, 7 storage or file.

mod cli_common;

use cli_common::{Shop, data};
use std::fs;

#[test]
fn unknown_names_are_answered_with_what_there_is() {
    let shop = Shop::logged();
    shop.propose(&["--build", "IF-D1"]);
    let builds = "there is BL-D1, IF-D1, IF-W1";
    let sessions = "there is if-fade, bl-fade, if-wedge";
    let players = "there is Bastian Lune, Isolde Ferrow";
    let csv = data("sessions/if-after.csv");
    for (args, says) in [
        (
            &["tendency", "--build", "IF"][..],
            "it is the beginning of IF-D1, IF-W1",
        ),
        (&["tendency", "--player", "Isolda"], players),
        (
            &["tendency", "--build", "IF-D1", "--session", "x"],
            sessions,
        ),
        (&["propose", "--build", "if-x1", "--miss", "hooks"], builds),
        (
            &["propose", "--build", "IF-D1", "--model", "3"],
            "no model '3'",
        ),
        (&["whatif", "--build", "x", "--set", "rail=0%"], builds),
        (
            &["rebuild", "--build", "x", "--as", "y", "--set", "rail=0%"],
            builds,
        ),
        (
            &[
                "rebuild",
                "--build",
                "IF-D1",
                "--as",
                "y",
                "--proposal",
                "7",
            ],
            "no proposal '7'; there is 1",
        ),
        (&["check", "--build", "x"], builds),
        (&["check", "--after", "x"], sessions),
        (&["refit", "--season", "s", "--prior", "2"], "no model '2'"),
        (&["card", "--player", "x"], players),
        (&["list", "builds", "--player", "x"], players),
        (
            &["show", "head", "x"],
            "there is Bramblecote 56, Gorsefold 11",
        ),
        (&["show", "session", "99"], sessions),
        (&["show", "proposal", "9"], "there is 1"),
        (&["withdraw", "x"], sessions),
        (
            &["mass", "--head", "x"],
            "there is Bramblecote 56, Gorsefold 11",
        ),
        (&["log", &csv, "--build", "x"], builds),
        (&["log", "nowhere.csv", "--build", "IF-D1"], "nowhere.csv: "),
        (&["add", "head", "nowhere.toml"], "nowhere.toml: "),
    ] {
        shop.run(args).fails(4, &[says]);
    }
    let add = fs::read_to_string(data("builds/if-w1.toml")).unwrap();
    let add = |from: &str, to: &str| shop.run_in(&["add", "build", "-"], add.replace(from, to));
    add("Isolde Ferrow", "Nobody").fails(4, &["no player 'Nobody'", players]);
    add("Bramblecote 56", "Nothing").fails(4, &["no head 'Nothing'"]);
    assert_eq!(shop.json(&["list", "builds"]).as_array().unwrap().len(), 3);
}

#[test]
fn a_bad_description_is_refused_with_line_and_column() {
    let shop = Shop::new();
    let head = fs::read_to_string(data("heads/gorsefold.toml")).unwrap();
    let bad = |what: &str, text: &str, says: &[&str]| {
        let file = shop.write("bad.toml", text);
        shop.run(&["add", what, &file]).fails(3, says);
    };
    for (from, to, says) in [
        (
            "name = \"Gorsefold 11\"",
            "name = \"Gorsefold 11",
            "bad.toml:2:",
        ),
        (
            "loft_deg = 11.0",
            "loft_deg = 110",
            "bad.toml:4:12: loft_deg = 110: 0 to 75 deg",
        ),
        (
            "loft_deg = 11.0",
            "loft_deg = nan",
            "loft_deg = nan: must be a finite number",
        ),
        (
            "mass_g = 201.4",
            "mass_g = inf",
            "measured.mass_g = inf: must be a finite number",
        ),
        (
            "mass_g = 201.4",
            "mass_g = 0.2014",
            "measured.mass_g = 0.2014: 80 to 600 g",
        ),
        ("loft_deg = 11.0", "loft = 11.0", "bad.toml:4:1: "),
        ("kind = \"driver\"", "kind = \"bat\"", "bad.toml:3:8: "),
        ("stops = 5", "stops = 1e9", "bad.toml:32:9: "),
        (
            "stops = 5",
            "stops = 123456789012345678901234567890",
            "bad.toml:32:9: ",
        ),
        (
            "positions_deg = [0, 90",
            "positions_deg = [0, 0",
            "no two the same",
        ),
        ("2950, 3700, 4850", "2950, 3700, 9850", "bad.toml:"),
    ] {
        assert!(head.contains(from), "{from}");
        bad("head", &head.replacen(from, to, 1), &[says]);
    }
    // Everything at once.
    let two = head.replace("11.0", "110").replace("201.4", "-1");
    bad("head", &two, &["loft_deg = 110", "measured.mass_g = -1"]);
    let player = "name = \"Z\"\nhand = \"left\"\n";
    bad(
        "player",
        "name = \"Z\"\nhand = \"both\"",
        &["bad.toml:2:8: "],
    );
    bad(
        "player",
        &format!("{player}head_speed_mph = 1"),
        &["bad.toml:3:18: "],
    );
    bad(
        "player",
        &format!("{player}hand = \"left\""),
        &["bad.toml:3:1: "],
    );
    bad(
        "player",
        "hand = \"left\"\nname = \"a\\nb\"",
        &["bad.toml:2:8: "],
    );
    bad("player", "", &["bad.toml:1:1: missing field `name`"]);
    for what in ["heads", "players"] {
        assert_eq!(
            shop.run(&["list", what]).quiet(),
            "none yet\n",
            "nothing was added"
        );
    }
}

#[test]
fn descriptions_and_sessions_are_there_once() {
    let shop = Shop::stocked();
    let head = fs::read_to_string(data("heads/gorsefold.toml")).unwrap();
    let same = shop.run_in(&["add", "head", "-"], head.clone());
    assert_eq!(same.quiet(), "head Gorsefold 11 was there already\n");
    let other = head.replace("57.5", "58.5");
    shop.run_in(&["add", "head", "-"], other)
        .fails(5, &["another head 'Gorsefold 11'"]);
    shop.log("if-fade", "IF-D1").ok();
    let csv = data("sessions/if-fade.csv");
    let twice = ["log", &csv, "--build", "IF-D1", "--name", "other"];
    shop.run(&twice).fails(
        5,
        &["the same file was logged for 'IF-D1' before, as session 'if-fade'"],
    );
    let after = data("sessions/if-after.csv");
    let taken = ["log", &after, "--build", "IF-D1", "--name", "if-fade"];
    shop.run(&taken)
        .fails(5, &["there is a session 'if-fade' already"]);
    // Without a name the day's next letter is taken.
    let said = shop.run(&["log", &after, "--build", "IF-D1"]).quiet();
    assert_eq!(said, "session IF-D1-2027-05-10: 16 shots logged\n");
    let few = data("sessions/if-few.csv");
    let said = shop.run(&["log", &few, "--build", "IF-D1"]).quiet();
    assert_eq!(said, "session IF-D1-2027-05-10-b: 4 shots logged\n");
    shop.run(&[
        "rebuild", "--build", "IF-D1", "--as", "BL-D1", "--set", "rail=0%",
    ])
    .fails(5, &["another build 'BL-D1'"]);
    // Withdrawn: out of reach, and out of the way of the right file.
    assert_eq!(
        shop.run(&["withdraw", "if-fade"]).quiet(),
        "session if-fade withdrawn\n"
    );
    shop.run(&["withdraw", "if-fade"])
        .fails(5, &["withdrawn before"]);
    shop.run(&["tendency", "--build", "IF-D1", "--session", "if-fade"])
        .fails(5, &["withdrawn at"]);
    // Its name stays taken, and that it was withdrawn is said.
    let again = ["log", &few, "--build", "IF-D1", "--name", "if-fade"];
    shop.run(&again).fails(
        5,
        &[
            "'if-fade' already, withdrawn at 2027-05-10T08:30:00Z",
            "take another name",
        ],
    );
    shop.run(&twice).ok();
    let text = shop.run(&["list", "sessions"]).quiet();
    let withdrawn = text
        .lines()
        .filter(|l| l.ends_with("2027-05-10  2027-05-10"));
    assert_eq!(withdrawn.count(), 1, "{text}");
}

#[test]
fn a_session_is_logged_whole_or_not_at_all() {
    let shop = Shop::stocked();
    shop.log("mixup", "IF-D1").fails(
        3,
        &[
            "ball_speed looks like m_s, not mph",
            "Nothing was logged",
            "--as-logged",
        ],
    );
    shop.log("half-bad", "IF-D1").fails(
        3,
        &[
            "half-bad.csv:8: ball_speed_mph = 'fast': not a number",
            "half-bad.csv:11: spin_axis_deg = 'inf': not a number",
        ],
    );
    shop.log("if-fade", "IF-W1")
        .fails(3, &["If file and build are right"]);
    let cases: [(&[u8], &str); 9] = [
        (b"", "-: the file is empty"),
        (b"\n\n", "-: the file is empty"),
        (b"a,b\n1,2\n", "no column is known"),
        (b"ball_speed_mph\n", "no shots"),
        (b"ball_speed_mph\n\xff\xfe\n", "-: not UTF-8 text"),
        (
            b"ball_speed_mph,ball_speed_m_s\n1,2\n",
            "hold the same thing",
        ),
        (b"ball_speed_mph,carry_yd\n140\n", "-:2: "),
        (b"ball_speed_mph\n1e308\n", "must be 2.237 to 246.063 mph"),
        (
            b"shot,ball_speed_mph\n1,140\n1,141\n",
            "the number is there twice",
        ),
    ];
    for (text, says) in cases {
        shop.run_in(&["log", "-", "--build", "IF-D1"], text)
            .fails(3, &[says]);
    }
    let csv = data("sessions/if-fade.csv");
    for (more, code, says) in [
        (&["--date", "2027-02-29"][..], 2, "'--date <YYYY-MM-DD>'"),
        (&["--date", "today"], 2, "'--date <YYYY-MM-DD>'"),
        (&["--name", "7"], 3, "would pass for an id"),
        (&["--name", ""], 3, "a name has 1 to 80 characters"),
        (
            &["--humidity-percent", "101"],
            3,
            "humidity_percent = 101: must be 0 to 100 %",
        ),
        (
            &["--temperature-c", "nan"],
            3,
            "temperature_c = NaN: must be -30 to 50",
        ),
        (
            &["--wind-toward-right-m-s", "-1e9"],
            3,
            "must be -30 to 30 m/s",
        ),
        (&["--mapping", "gone.toml"], 4, "gone.toml: "),
        (&["--aero", "none"], 2, "there are bearman-harvey-1976, "),
    ] {
        shop.run(&[&["log", &csv, "--build", "IF-D1"], more].concat())
            .fails(code, &[says]);
    }
    let mapping = fs::read_to_string(data("foreign.toml")).unwrap();
    shop.run_in(&["log", "-", "--build", "IF-D1", "--mapping", "-"], mapping)
        .fails(2, &["only one file can be standard input"]);
    let mapped = |text: &str, says: &str| {
        let file = shop.write("map.toml", text);
        let args = ["log", &csv, "--build", "IF-D1", "--mapping", &file];
        shop.run(&args).fails(3, &[says]);
    };
    mapped(
        "[columns.speed]\ncolumn = \"a\"",
        "map.toml:1:1: columns.speed: no such quantity",
    );
    mapped(
        "[columns.carry]\ncolumn = \"a\"\nunit = \"mph\"",
        "unit must be one of m, yd",
    );
    mapped(
        "[columns.carry]\ncolumn = \"a\"\nunit = \"m\"",
        "the mapping wants a column 'a'",
    );
    mapped(
        "[columns.carry]\ncolumn = \"a\"\nunit = \"m\"\npositive = \"left\"",
        "with a left and a right",
    );
    assert_eq!(shop.json(&["list", "sessions"]), serde_json::json!([]));
    // The technician's word is enough.
    let mixup = data("sessions/mixup.csv");
    let ran = shop.run(&["log", &mixup, "--build", "IF-D1", "--units-are-right"]);
    assert!(
        ran.err.contains("ball_speed looks like m_s"),
        "but it is said: {}",
        ran.err
    );
    assert!(ran.ok().ends_with(": 14 shots logged\n"));
}

/// Metres under yards, and columns that stand in each other's place: refused, until the technician
/// says that it is so.
#[test]
fn mix_ups_that_only_the_whole_session_tells() {
    let shop = Shop::stocked();
    let text = std::fs::read_to_string(data("sessions/bl-fade.csv")).unwrap();
    let cases = [
        (text.replace("carry_m", "carry_yd"), "carry_yd is 0.9"),
        (
            text.replace(
                "launch_angle_deg,launch_direction",
                "launch_direction_deg,launch_angle",
            ),
            "launch_angle_deg and launch_direction_deg look swapped",
        ),
    ];
    for (csv, says) in cases {
        assert_ne!(csv, text);
        let log = ["log", "-", "--build", "BL-D1"];
        shop.run_in(&log, csv.clone())
            .fails(3, &[says, "Nothing was logged", "--as-logged"]);
        let ran = shop.run_in(&[&log[..], &["--as-logged"]].concat(), csv);
        assert!(ran.err.contains(&says[..12]), "but it is said: {}", ran.err);
        ran.ok();
    }
    let csv = "carry_yd,offline_yd\n4,99\n2,101\n7,98\n";
    shop.run_in(&["log", "-", "--build", "IF-W1"], csv)
        .fails(3, &["carry_yd and offline_yd look swapped", "--as-logged"]);
}

/// A wedge flies far for its ball speed: its carries look like no other unit.
#[test]
fn a_wedge_with_its_carries_is_taken() {
    let shop = Shop::stocked();
    let rows = |carry: &str, yards: f64| {
        let row = |i: i32| {
            format!(
                "{},30.4,10400,{}\n",
                34.6 + 0.1 * f64::from(i),
                yards + f64::from(i)
            )
        };
        let rows: String = (0..12).map(row).collect();
        format!("ball_speed_m_s,launch_angle_deg,spin_rate_rpm,carry_{carry}\n{rows}")
    };
    let log = |csv: String| shop.run_in(&["log", "-", "--build", "IF-W1"], csv);
    let taken = |yards: f64| log(rows("yd", yards)).ok().ends_with(": 12 shots logged\n");
    assert!(taken(99.0));
    // Beyond the coefficient tables a yard cannot be told from a metre.
    assert!(taken(104.0));
    // But feet under yards are seen.
    log(rows("yd", 297.0)).fails(3, &["carry_yd is ", "it looks like ft, not yd"]);
}

/// 1 rpm is 2 pi / 60 rad/s: 303 rad/s are 2893 rpm, what a driver spins at.
#[test]
fn ref_spin_in_another_unit() {
    let shop = Shop::stocked();
    let log = |spins: [f64; 3], more: &[&str]| {
        let rows = spins.map(|s| format!("137,13,{s}\n")).concat();
        let csv = format!("ball_speed_mph,launch_angle_deg,spin_rate_rpm\n{rows}");
        shop.run_in(&[&["log", "-", "--build", "IF-D1"], more].concat(), csv)
    };
    for spins in [[303.0, 298.0, 309.0], [290.0, 287.0, 296.0]] {
        let says = "it looks like rad_s, or every value without its last digit, not rpm";
        log(spins, &[]).fails(3, &["spin_rate: the median is ", says, "--as-logged"]);
    }
    log([0.0, 0.0, 0.0], &[]).fails(3, &["no other unit would fit"]);
    log([12000.0, 11800.0, 12100.0], &[]).fails(3, &["no other unit would fit"]);
    // Little and much spin of a driver, as they come.
    log([1500.0, 1450.0, 1600.0], &[]).quiet();
    log([5000.0, 4900.0, 5100.0], &[]).quiet();
    log([303.0, 298.0, 309.0], &["--as-logged"]).ok();
}

#[test]
fn a_misspelt_column_is_refused() {
    let shop = Shop::stocked();
    let log = |header: &str, more: &[&str]| {
        let csv = format!("{header},launch_angle_deg\n137,13\n138,12\n136,14\n");
        shop.run_in(&[&["log", "-", "--build", "IF-D1"], more].concat(), csv)
    };
    for (header, meant) in [
        ("bal_speed_mph", "ball_speed_mph"),
        ("Ball_Sped_MPH", "ball_speed_mph"),
        ("spin_rate_rmp", "spin_rate_rpm"),
        ("carry_ydd", "carry_yd"),
    ] {
        let says = format!("-:1: the column '{header}' is not known: did you mean {meant}?");
        log(header, &[]).fails(3, &[&says]);
    }
    // A unit that is written otherwise, or that there is none of.
    for (header, units) in [
        (
            "ball_speed_kph",
            "ball_speed_m_s or ball_speed_mph or ball_speed_km_h",
        ),
        ("carry_yards", "carry_m or carry_yd or"),
        ("back_spin_rps", "back_spin_rpm or"),
    ] {
        let says = format!("the column '{header}' has a unit that is not known: say {units}");
        log(header, &[]).fails(3, &[&says]);
    }
    log("launch_angle_deg", &[]).fails(3, &["hold the same thing; keep one"]);
    // Far from any, or near to one that is there already: a note.
    for header in ["mood", "Date", "launch_angle_de"] {
        let ran = log(header, &["--name", header]);
        assert_eq!(
            ran.err,
            format!("columns kept but not understood: {header}\n")
        );
        ran.ok();
    }
    // With a mapping the names are somebody else's.
    let map = "[columns.ball_speed]\ncolumn = \"bal_speed_mph\"\nunit = \"mph\"\n\
               [columns.launch_angle]\ncolumn = \"launch_angle_deg\"\nunit = \"deg\"\n";
    let map = shop.write("map.toml", map);
    let ran = log("bal_speed_mph", &["--mapping", &map]);
    assert!(ran.quiet().ends_with(": 3 shots logged\n"));
}
