//! Values and files that make no sense: refused with their exit code, and nothing written.

mod cli_common;

use cli_common::{FEW, Shop, data};
use std::fs;

#[test]
fn levers_that_the_club_does_not_have() {
    let shop = Shop::logged();
    for (set, code, says) in [
        ("", 2, "there is no '='"),
        ("rail", 2, "there is no '='"),
        ("rail=", 2, "that is no number"),
        ("rail=far%", 2, "that is no number"),
        ("rail=1kg", 2, "the unit must be %, g or deg"),
        ("rail=NaN%", 2, "that is no number"),
        ("sleeve=infdeg", 2, "that is no number"),
        ("nose=3g", 2, "'Gorsefold 11' has no lever 'nose'"),
        ("nose=3%", 3, "has no such lever; it has track rail"),
        (
            "rail=33%",
            3,
            "the track has stops at 0.0, 25.0, 50.0, 75.0, 100.0 %",
        ),
        ("rail=-25%", 3, "-25.0 % is outside 0 to 100 %"),
        ("rail=1000000000000000000000%", 3, "is outside 0 to 100 %"),
        (
            "rail=10g",
            3,
            "10.0 g is not at hand; there are 9.0, 14.0 g",
        ),
        ("keel=0g", 3, "there are 3.0, 6.0 g"),
        ("inner heel=9g", 3, "the zone takes 0 to 8.0 g"),
        ("sleeve=45deg", 3, "the sleeve has 0, 90, 180, 270 deg"),
        ("loft=1deg", 3, "the hosel takes 0.00 deg either way"),
    ] {
        let whatif = ["whatif", "--build", "IF-D1", "--set", set];
        shop.run(&whatif).fails(code, &[says]);
        let rebuild = ["rebuild", "--build", "IF-D1", "--as", "X", "--set", set];
        shop.run(&rebuild).fails(code, &[says]);
    }
    let twice = [
        "whatif",
        "--build",
        "IF-D1",
        "--set",
        "rail=0%",
        "--set",
        "track:rail=25%",
    ];
    shop.run(&twice)
        .fails(2, &["--set track:rail=25%: that is set twice"]);
    shop.run(&["whatif", "--build", "IF-W1", "--set", "lie=-2.5deg"])
        .fails(3, &["the hosel takes 2.00 deg either way"]);
    let mass = [
        "mass",
        "--head-file",
        &data("heads/gorsefold.toml"),
        "--set",
        "rail=5%",
    ];
    shop.run(&mass).fails(3, &["the track has stops at"]);
    assert_eq!(shop.json(&["list", "builds"]).as_array().unwrap().len(), 3);
}

#[test]
fn a_miss_that_says_nothing() {
    let shop = Shop::stocked();
    for (miss, says) in [
        ("", "nothing is said"),
        (" , ", "nothing is said"),
        ("wobbles", "the word 'wobbles' is unknown"),
        ("curves 15", "left or right?"),
        ("starts -5 left", "say one positive number"),
        ("carries 1e300", "is unknown"),
        ("carries 99999", "is farther than any ball goes"),
        ("carries nan", "carries nan"),
        ("spins 1", "spin must be 100 to 16000 rpm"),
        ("\u{0}\u{1F3CC}", "is unknown"),
    ] {
        let args = ["propose", "--build", "IF-D1", "--miss", miss];
        // An argument cannot hold a zero byte at all.
        if !miss.contains('\0') {
            shop.run(&args).fails(3, &["is not understood: ", says]);
        }
    }
    shop.run(&["propose", "--build", "IF-D1"]).fails(
        4,
        &["no session with build 'IF-D1' is logged: log one; propose and whatif"],
    );
    assert_eq!(shop.json(&["list", "proposals"]), serde_json::json!([]));
}

#[test]
fn options_out_of_range_or_at_odds() {
    let shop = Shop::logged();
    shop.propose(&["--build", "IF-D1"]);
    shop.propose(&["--build", "BL-D1"]);
    let args = |line: &str| {
        let words: Vec<String> = line.split('|').map(String::from).collect();
        words
    };
    for (line, code, says) in [
        (
            "propose|--build|IF-D1|--hold-head-mass-g|-3",
            2,
            "--hold-head-mass-g -3: a tolerance, how far it may move either way: must be 0 or more",
        ),
        (
            "propose|--build|IF-D1|--hold-swing-weight-points|nan",
            2,
            "must be 0 or more",
        ),
        (
            "propose|--build|IF-D1|--height-to-m|inf",
            2,
            "--height-to-m inf: must be a finite number",
        ),
        ("propose|--build|IF-D1|--levers|0", 2, "0 is not in 1..=8"),
        ("propose|--build|IF-D1|--rows|51", 2, "51 is not in 1..=50"),
        (
            "propose|--build|IF-D1|--deliveries|5001",
            2,
            "5001 is not in 20..=5000",
        ),
        ("propose|--build|IF-D1|--seed|99999999999", 2, "99999999999"),
        (
            "propose|--build|IF-D1|--miss|hooks|--session|if-fade",
            2,
            "cannot be used with",
        ),
        (
            "propose|--build|IF-D1|--temperature-c|9",
            2,
            "those of the logged session",
        ),
        (
            "propose|--build|IF-D1|--player|Bastian Lune",
            2,
            "is of 'Isolde Ferrow'",
        ),
        (
            "propose|--build|IF-D1|--session|bl-fade",
            2,
            "is with build 'BL-D1', not 'IF-D1'",
        ),
        ("propose", 2, "name a --build or a --player"),
        (
            "rebuild|--build|IF-D1|--as|X|--proposal|1|--row|0",
            2,
            "--row 0: the proposal has ",
        ),
        (
            "rebuild|--build|IF-D1|--as|X|--proposal|1|--row|9",
            2,
            "--row 9: the proposal has ",
        ),
        (
            "rebuild|--build|IF-D1|--as|X|--proposal|2",
            2,
            "proposal 2 is for build 'BL-D1', not 'IF-D1'",
        ),
        ("rebuild|--build|IF-D1|--as|X", 2, "--proposal <N>"),
        (
            "rebuild|--build|IF-D1|--as||--set|rail=0%",
            3,
            "a name has 1 to 80 characters",
        ),
        (
            "rebuild|--build|IF-D1|--as|X|--set|rail=0%|--loft-deg|nan",
            3,
            "measured.loft_deg = nan",
        ),
        (
            "rebuild|--build|IF-D1|--as|X|--set|rail=0%|--lie-deg|5",
            3,
            "35 to 85 deg",
        ),
        (
            "rebuild|--build|IF-D1|--as|X|--set|rail=0%|--date|2027-1-1",
            2,
            "--date",
        ),
        (
            "rebuild|--build|IF-D1|--as|X|--set|rail=0%|--swing-weight-read|heavy",
            3,
            "as in D2.5",
        ),
        (
            "rebuild|--build|IF-D1|--as|X|--set|rail=0%|--gauge-loft-offset-deg|1",
            2,
            "--gauge <NAME>",
        ),
        ("check|--build|IF-D1", 2, "build 'IF-D1' replaces none"),
        (
            "check|--build|IF-D1|--before|bl-fade",
            2,
            "build 'BL-D1' is of 'Bastian Lune'",
        ),
        ("check|--build|IF-D1|--row|1", 2, "--proposal <N>"),
        ("refit|--season|", 2, "--season: give it a name"),
        (
            "refit|--season|s|--from|2028-01-01|--to|2027-01-01",
            2,
            "--from 2028-01-01 is after --to",
        ),
        (
            "refit|--season|s|--from|2028-01-01",
            3,
            "no session to learn from",
        ),
        (
            "refit|--season|s|--widening|0.5",
            3,
            "must be 1 or more, and finite",
        ),
        (
            "refit|--season|s|--widening|inf",
            3,
            "must be 1 or more, and finite",
        ),
        ("export", 2, "say --to FOLDER for files, or --json"),
        ("show|proposal|first", 2, "'first' is no number"),
        ("show|verdict|1", 2, "possible values"),
        (
            "flight",
            2,
            "say --ball-speed-m-s or --ball-speed-mph: the speed of the ball after impact is missing",
        ),
        (
            "flight|--ball-speed-mph|150|--launch-angle-deg|12",
            2,
            "say --spin-rate-rpm: the rate of spin is missing",
        ),
        (
            "flight|--ball-speed-mph|1e9",
            2,
            "must be 2.2369 to 246.0630",
        ),
        (
            "flight|--ball-speed-mph|150|--ball-speed-m-s|67",
            2,
            "the quantity is given twice",
        ),
        (
            "flight|--spin-axis-deg|nan",
            2,
            "must be -90.0000 to 90.0000",
        ),
        (
            "impact|--head|Gorsefold 11|--strike-toe-mm|500",
            2,
            "must be -80.0000 to 80.0000",
        ),
        (
            "impact|--head|Gorsefold 11|--pressure-hpa|0",
            3,
            "must be 500 to 1100 hPa",
        ),
        ("impact", 2, "--head-file <TOML>"),
        ("mass|--head|Gorsefold 11|--attitude|lazy", 2, "grip-kept"),
        ("completions|tcl", 2, "bash"),
        ("juggle", 2, "unrecognized subcommand"),
    ] {
        let words = args(line);
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        shop.run(&words).fails(code, &[says]);
    }
    let nobody = [&["list", "heads", "--bench"], &[""][..]].concat();
    shop.run(&nobody).fails(2, &["--bench"]);
    for (what, n) in [
        ("builds", 3),
        ("proposals", 2),
        ("models", 0),
        ("verdicts", 0),
    ] {
        assert_eq!(
            shop.json(&["list", what]).as_array().unwrap().len(),
            n,
            "{what}"
        );
    }
}

#[test]
fn a_build_stays_with_its_player() {
    let shop = Shop::stocked();
    let text = fs::read_to_string(data("builds/bl-d1.toml")).unwrap();
    let text = text.replace("BL-D1", "BL-D2");
    let text = text.replacen("[[part]]", "replaces = \"IF-D1\"\n[[part]]", 1);
    shop.run_in(&["add", "build", "-"], text).fails(
        5,
        &["'IF-D1' is a build of 'Isolde Ferrow', not of 'Bastian Lune'"],
    );
    assert_eq!(shop.json(&["list", "builds"]).as_array().unwrap().len(), 3);
}

#[test]
fn whole_numbers_of_a_proposal_stay_within_it() {
    let shop = Shop::logged();
    let words = ["propose", "--build", "IF-D1", "--rows", "1"];
    shop.run(&[&words[..], &FEW].concat()).ok();
    for row in ["18446744073709551615", "2"] {
        let args = [
            "rebuild",
            "--build",
            "IF-D1",
            "--as",
            "X",
            "--proposal",
            "1",
            "--row",
            row,
        ];
        shop.run(&args)
            .fails(2, &[&format!("--row {row}: the proposal has 1 rows")]);
    }
}
