//! Refit through the command line: a session that was withdrawn leaves no trace.

mod cli_common;
use cli_common::{Ran, Shop, data};
use serde_json::Value;

/// Twelve shots whose start and curve are as said.
fn shots(direction: f64, axis: f64) -> String {
    let shot = |n: i32| {
        let jitter = f64::from(n % 4) - 1.5;
        format!(
            "{:.1},{:.1},{:.2},{:.0},{:.2}\n",
            137.0 + 0.4 * jitter,
            13.0 - 0.5 * jitter,
            direction + 0.3 * jitter,
            2900.0 + 40.0 * jitter,
            axis - jitter
        )
    };
    "ball_speed_mph,launch_angle_deg,launch_direction_deg,spin_rate_rpm,spin_axis_deg\n".to_string()
        + &(0..12).map(shot).collect::<String>()
}

/// A player whose ball answers the rail far more than physics says, over some days: there and back.
fn answers(shop: &Shop, build: &str, sign: f64, days: std::ops::Range<i32>) {
    let moved = format!("{build}-rail");
    let set = ["--set", "rail=0%", "--date", "2027-05-03"];
    let args = ["rebuild", "--build", build, "--as", &moved];
    shop.run(&[&args[..], &set].concat()).ok();
    for day in days {
        for (at, change) in [(build, 0.0), (&moved, -1.0)] {
            let form = 0.2 * f64::from(day % 3) + 0.01 * f64::from(day);
            let csv = shots(
                sign * (2.0 + 3.0 * change + form),
                sign * (8.0 + 14.0 * change),
            );
            let date = format!("2027-05-{day:02}");
            let args = ["log", "-", "--build", at, "--date", &date];
            shop.run_in(&args, csv).ok();
        }
    }
}

fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Each lever has a table or a reason why not; what was moved only together is marked; averages and
/// comparisons say of whom and of what they are.
#[test]
fn every_lever_is_told_or_its_absence_is() {
    let shop = Shop::stocked();
    answers(&shop, "IF-D1", 1.0, 3..7);
    shop.run(&["refit", "--season", "spring"]).ok();
    answers(&shop, "BL-D1", -1.0, 7..10);
    let args = [
        "refit",
        "--season",
        "summer",
        "--from",
        "2027-05-07",
        "--dry-run",
    ];
    let text = words(&shop.run(&args).quiet());
    assert!(
        text.contains("CG toward the toe moves the ball (yd) *"),
        "{text}"
    );
    assert!(
        text.contains("tables marked *") && !text.contains("wide"),
        "{text}"
    );
    assert!(text.contains("(never moved by these players)"), "{text}");
    // The earlier model never saw this player.
    assert!(
        text.contains("Against model 1 It knows none of these levers"),
        "{text}"
    );
    let report = shop.json(&args);
    let levers = report["levers"].as_array().unwrap();
    assert!(levers.iter().all(|l| l["last_season_offline_m"].is_null()));

    let all = [
        "refit",
        "--season",
        "summer",
        "--from",
        "2027-05-01",
        "--prior",
        "1",
        "--dry-run",
    ];
    let text = words(&shop.run(&all).ok());
    assert!(text.contains("average of 2 (right)"), "{text}");
    let since = text.split("Against model 1").nth(1).unwrap();
    assert!(!since.contains("Bastian"), "{since}");
    let report = shop.json(&all);
    for lever in report["levers"].as_array().unwrap() {
        let known = lever["player"] == "Isolde Ferrow"
            && lever["feature"].as_str().unwrap().starts_with("cg_");
        assert_eq!(lever["last_season_offline_m"].is_number(), known, "{lever}");
    }
    let drift = report["drift"].as_array().unwrap();
    assert!(!drift.is_empty());
    let compared = text.split("Compared: ").nth(1).unwrap();
    for d in drift {
        assert!(
            compared.contains(d["player"].as_str().unwrap()),
            "{compared}"
        );
    }
}

/// A season without sessions says which days there are.
#[test]
fn a_season_without_sessions_says_which_days_have_some() {
    let shop = Shop::new();
    let args = [
        "refit",
        "--season",
        "2025",
        "--from",
        "2025-01-01",
        "--to",
        "2025-12-31",
    ];
    shop.run(&args).fails(3, &["log sessions first"]);
    let shop = Shop::logged();
    shop.run(&args)
        .fails(3, &["the log holds 3, 2027-05-10 to 2027-05-10"]);
}

fn model(shop: &Shop) -> String {
    shop.json(&["refit", "--season", "2027"]);
    shop.json(&["show", "model", "1"]).to_string()
}

#[test]
fn a_withdrawn_session_leaves_no_trace() {
    let without = Shop::stocked();
    without.log("if-fade", "IF-D1").ok();
    without.log("bl-fade", "BL-D1").ok();
    let withdrawn = Shop::logged();
    let before = model(&withdrawn);
    let ran = withdrawn.run(&["withdraw", "if-wedge"]);
    assert!(
        ran.err.contains("model 1 may have learned from it"),
        "{}",
        ran.err
    );
    withdrawn.json(&["refit", "--season", "2027"]);
    let again = Shop::logged();
    again.run(&["withdraw", "if-wedge"]).ok();
    let want = model(&without);
    assert_eq!(model(&again), want);
    assert_ne!(before, want);
}

/// The page keeps to 80 columns and says what was never moved.
#[test]
fn the_page_tells_its_limits() {
    let shop = Shop::logged();
    let text = shop.run(&["refit", "--season", "2027"]).quiet();
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    assert!(
        text.contains("Never moved, so that bare physics stands: "),
        "{text}"
    );
}

/// With a prior, what was never moved is what the prior learned; and what taught it is not read again,
/// unless that is asked for.
#[test]
fn a_prior_is_told() {
    let shop = Shop::logged();
    shop.run(&["refit", "--season", "2027"]).ok();
    let next = ["refit", "--season", "2028", "--dry-run"];
    let taught = "model 1, the prior, has learned up to 2027-05-10";
    shop.run(&next).fails(3, &[taught, "--no-prior"]);
    let from = ["--from", "2027-01-01", "--prior", "1"];
    let again = shop.run(&[&next[..], &from].concat());
    assert!(again.err.contains("count twice"), "{}", again.err);
    let text = again.ok();
    assert!(
        text.contains("Never moved, so that what model 1 learned stands"),
        "{text}"
    );
    let alone = ["refit", "--season", "second", "--no-prior", "--dry-run"];
    shop.run(&alone).quiet();
    // A season by the name of a year is no filter of days.
    let named = shop.run(&[&next[..], &["--no-prior"]].concat());
    let note = words(&named.err);
    assert!(
        note.contains("it holds sessions of 2027-05-10 to 2027-05-10"),
        "{note}"
    );
}

/// Two seasons in one log, refitted without a word of days: each session teaches once, and a season
/// that is fitted again does not learn from the later one that it taught.
#[test]
fn each_session_teaches_once() {
    let shop = Shop::logged();
    let first = shop.json(&["refit", "--season", "2027"]);
    let file = data("sessions/if-few.csv");
    let log = ["log", &file, "--build", "IF-D1", "--as-logged"];
    let mut later = shop.command(&[&log[..], &["--name", "later"]].concat());
    later.env("TRIMTAB_NOW", "2028-05-10T09:00:00Z");
    later.assert().success();
    let ran = shop.run(&["refit", "--season", "2028"]);
    let note = words(&ran.err);
    assert!(note.contains("3 earlier sessions are not read"), "{note}");
    let second = shop.json(&["refit", "--season", "2028", "--dry-run"]);
    assert_eq!(
        (&second["sessions"], &second["prior_version"]),
        (&1.into(), &1.into())
    );
    let again = shop.json(&[
        "refit",
        "--season",
        "2027",
        "--to",
        "2027-12-31",
        "--dry-run",
    ]);
    assert_eq!(again["prior_version"], Value::Null);
    assert_eq!(again["data_digest"], first["data_digest"]);
}

/// A season that is fitted after a later one does not take that for its past.
#[test]
fn the_prior_is_of_an_earlier_season() {
    let shop = Shop::stocked();
    answers(&shop, "IF-D1", 1.0, 3..6);
    answers(&shop, "BL-D1", -1.0, 6..9);
    let fit = |season: &str, from: &str, to: &str| {
        let args = ["refit", "--season", season, "--from", from, "--to", to];
        shop.json(&args)["prior_version"].clone()
    };
    assert_eq!(fit("late", "2027-05-06", "2027-05-08"), Value::Null);
    assert_eq!(fit("early", "2027-05-03", "2027-05-05"), Value::Null);
    // Of the two, the latest that began before.
    assert_eq!(fit("last", "2027-05-08", "2027-05-08"), 2);
    assert_eq!(fit("between", "2027-05-05", "2027-05-06"), 2);
    // What a prior learned is handed on.
    let all = shop.json(&["list", "sessions"]);
    let of = |day: &str| {
        let found = all.as_array().unwrap().iter().find(|s| s["date"] == day);
        found.unwrap()["session"].as_str().unwrap().to_string()
    };
    let ran = shop.run(&["withdraw", &of("2027-05-03")]);
    assert!(
        ran.err.starts_with("models 2, 3, 4 may have learned"),
        "{}",
        ran.err
    );
    let ran = shop.run(&[
        "refit",
        "--season",
        "next",
        "--from",
        "2027-05-05",
        "--prior",
        "4",
    ]);
    assert!(ran.err.contains("count twice"), "{}", ran.err);
}

/// Too few sessions leave the use of what the prior has proven standing.
#[test]
fn few_sessions_prove_nothing() {
    let shop = Shop::stocked();
    answers(&shop, "IF-D1", 1.0, 3..9);
    let used = |season: &str| -> Vec<bool> {
        let fit = shop.json(&["refit", "--season", season]);
        let all = fit["responses"].as_array().unwrap().iter();
        all.map(|r| r["in_use"] == true).collect()
    };
    let first = used("spring");
    assert!(first.iter().any(|u| *u));
    answers(&shop, "BL-D1", -1.0, 9..10);
    assert_eq!(used("summer"), first);
}

#[test]
fn the_same_model_is_filed_once() {
    let shop = Shop::stocked();
    answers(&shop, "IF-D1", 1.0, 3..6);
    let fit = |more: &[&str]| {
        let args = [&["refit", "--season", "spring"], more].concat();
        let mut command = shop.command(&args);
        command.env("TRIMTAB_NOW", format!("2027-05-1{}T18:00:00Z", more.len()));
        Ran::of(command, &args)
    };
    assert!(fit(&["--dry-run"]).ok().contains("not filed"));
    fit(&[]).ok();
    let again = fit(&["--widening", "1.5"]);
    assert!(
        again.err.contains("model 1 says so already"),
        "{}",
        again.err
    );
    let filed = || shop.json(&["list", "models"]).as_array().unwrap().len();
    assert_eq!(filed(), 1);
    answers(&shop, "BL-D1", -1.0, 6..8);
    fit(&[]).ok();
    assert_eq!(filed(), 2);
    // What was withdrawn is in the latest model no more, even if an earlier one says the same.
    for s in shop.json(&["list", "sessions"]).as_array().unwrap() {
        if s["player"] == "Bastian Lune" {
            shop.run(&["withdraw", s["session"].as_str().unwrap()]).ok();
        }
    }
    fit(&[]).ok();
    assert_eq!(filed(), 3);
    let digest = |version: &str| {
        let model = shop.json(&["show", "model", version]);
        model["data"]["digest"].clone()
    };
    assert_eq!(digest("3"), digest("1"));
    assert_ne!(digest("3"), Value::Null);
}

/// What changed over the season is told in the frame of the log: of a left-handed player who does the
/// mirrored thing, sideways responses change the other way.
#[test]
fn inv_drift_is_mirrored() {
    let drift = |build: &str, sign: f64| {
        let shop = Shop::stocked();
        answers(&shop, build, sign, 3..10);
        let report = shop.json(&["refit", "--season", "2027", "--dry-run"]);
        let all = report["drift"].as_array().unwrap().clone();
        let of = move |response: &str| {
            let found = all.iter().find(|d| d["response"] == response).unwrap();
            found["change"].as_f64().unwrap()
        };
        ["spin_axis_deg", "launch_direction_deg"].map(of)
    };
    let (right, left) = (drift("IF-D1", 1.0), drift("BL-D1", -1.0));
    for (r, l) in right.iter().zip(left) {
        assert!(r * l < 0.0, "{right:?} {left:?}");
    }
}
