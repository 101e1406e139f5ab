//! Everything out again: lists, single things, the card as a page for the printer, and an export
//! from which the bench can be made anew.

mod cli_common;

use cli_common::{NOW, Shop};
use serde_json::{Value, json};
use std::fs;

/// A bench with one job done from proposal to verdict and model.
fn done() -> Shop {
    let shop = Shop::logged();
    shop.propose(&["--build", "IF-D1"]);
    let args = [
        "rebuild",
        "--build",
        "IF-D1",
        "--as",
        "IF-D2",
        "--proposal",
        "1",
    ];
    shop.run(&args).ok();
    shop.log("if-after", "IF-D2").ok();
    shop.run(&["check", "--build", "IF-D2"]).ok();
    shop.run(&["refit", "--season", "2027"]).ok();
    shop
}

#[test]
fn lists_show_what_there_is() {
    let shop = done();
    let list = |what: &str| shop.run(&["list", what]).quiet();
    assert_eq!(
        list("players"),
        "player         hand   builds  latest_build\n\
         Bastian Lune   left   1       BL-D1\n\
         Isolde Ferrow  right  3       IF-D2\n"
    );
    assert_eq!(
        list("heads"),
        "head            kind    loft_deg  lie_deg  mass_g\n\
         Bramblecote 56  wedge   56.0      63.5     301.5\n\
         Gorsefold 11    driver  11.0      57.5     201.4\n"
    );
    let sessions = list("sessions");
    assert_eq!(sessions.lines().count(), 5, "{sessions}");
    assert!(sessions.starts_with("id  session   player         build  date\n"));
    assert!(list("verdicts").contains("1        1         Isolde Ferrow"));
    assert!(list("models").contains("1      2027    4         2027-05-10\n"));
    let of = |what: &str, player: &str| {
        let rows = shop.json(&["list", what, "--player", player]);
        rows.as_array().unwrap().len()
    };
    for (what, isolde, bastian) in [
        ("players", 1, 1),
        ("builds", 3, 1),
        ("sessions", 3, 1),
        ("proposals", 1, 0),
        ("verdicts", 1, 0),
    ] {
        assert_eq!(of(what, "Isolde Ferrow"), isolde, "{what}");
        assert_eq!(of(what, "Bastian Lune"), bastian, "{what}");
    }
}

#[test]
fn single_things_come_out_as_they_were_filed() {
    let shop = done();
    for (what, name, file) in [
        ("head", "Gorsefold 11", "heads/gorsefold.toml"),
        ("player", "Bastian Lune", "players/bastian-lune.toml"),
        ("build", "IF-W1", "builds/if-w1.toml"),
    ] {
        let came = fs::read_to_string(cli_common::data(file)).unwrap();
        assert_eq!(
            shop.run(&["show", what, name]).quiet(),
            came,
            "comments and all"
        );
        assert_eq!(shop.json(&["show", what, name])["name"], name);
    }
    let csv = shop.run(&["show", "session", "if-fade"]).quiet();
    let mut lines = csv.lines();
    assert!(
        lines
            .next()
            .unwrap()
            .starts_with("shot,ball_speed_m_s,launch_angle_deg,")
    );
    assert!(csv.contains("\"off the heel, felt thin\""), "{csv}");
    assert_eq!(lines.count(), 18);
    assert_eq!(shop.json(&["show", "session", "1"])["name"], "if-fade");
    let proposal = shop.json(&["show", "proposal", "1"]);
    assert_eq!(proposal["proposal"], 1, "it knows its number");
    assert_eq!(proposal["answer"], "change");
    assert_eq!(shop.json(&["show", "model", "1"])["data"]["sessions"], 4);
}

#[test]
fn the_card_as_a_page_for_the_printer() {
    let shop = done();
    let said = shop
        .run(&["card", "--build", "IF-D1", "--html", "card.html"])
        .quiet();
    assert_eq!(said, "job card written to card.html\n");
    let html = fs::read_to_string(shop.path("card.html")).unwrap();
    assert!(html.starts_with("<!doctype html>\n<html lang=\"en\">\n"));
    assert!(html.ends_with("</html>\n"));
    assert!(html.contains("<p>Note: first build; grip &lt;standard&gt; &amp; round</p>"));
    for from_elsewhere in ["<script", "http", "src=", "@import", "url("] {
        assert!(!html.contains(from_elsewhere), "{from_elsewhere}");
    }
    // Every tag that is opened is closed.
    for tag in [
        "html", "head", "body", "table", "tr", "th", "td", "ul", "li", "p", "h1", "h2",
    ] {
        let open =
            html.matches(&format!("<{tag}>")).count() + html.matches(&format!("<{tag} ")).count();
        assert!(open > 0, "{tag}");
        assert_eq!(open, html.matches(&format!("</{tag}>")).count(), "{tag}");
    }
    let to_stdout = shop
        .run(&["card", "--build", "IF-D2", "--html", "-"])
        .quiet();
    assert!(to_stdout.contains("<tr><th>build</th><td>IF-D2</td><td>IF-D1</td></tr>"));
    assert!(to_stdout.contains("<h2>Check</h2>"));
    assert!(to_stdout.contains(&format!("printed {NOW}")));
    let left = shop
        .run(&["card", "--build", "BL-D1", "--html", "-"])
        .quiet();
    assert!(left.contains("driver, left-handed."), "{left}");
    assert!(!left.contains("<h2>Check</h2>"), "nothing was checked");
}

#[test]
fn an_export_makes_the_same_bench_again() {
    let shop = done();
    shop.run(&["withdraw", "bl-fade"]).ok();
    let said = shop.run(&["export", "--to", "out"]).quiet();
    assert_eq!(said, "13 files in out\n");
    let text = shop.run(&["export", "--json"]).quiet();
    let filed = fs::read_to_string(shop.path("out/bench.json")).unwrap();
    assert_eq!(text, filed, "one document, wherever it goes");
    let all: Value = serde_json::from_str(&text).unwrap();
    let count = |key: &str| all[key].as_array().unwrap().len();
    assert_eq!(
        [
            "players",
            "heads",
            "builds",
            "sessions",
            "proposals",
            "verdicts",
            "models"
        ]
        .map(count),
        [2, 2, 4, 4, 1, 1, 1]
    );
    assert_eq!(all["format"], "trimtab bench");
    assert_eq!(
        all["sessions"][1]["withdrawn_at"],
        json!(NOW),
        "withdrawn ones too"
    );

    let names = |folder: &str| {
        let files = fs::read_dir(shop.path(folder)).unwrap();
        let mut names: Vec<String> = files
            .map(|f| f.unwrap().path().to_str().unwrap().to_string())
            .collect();
        names.sort();
        names
    };
    let new = ["--bench", "again.trimtab"];
    let run = |args: &[&str]| shop.run(&[args, &new[..]].concat()).ok();
    run(&["new"]);
    for what in ["head", "player", "build"] {
        let files = names(&format!("out/{what}s"));
        let files: Vec<&str> = files.iter().map(String::as_str).collect();
        run(&[&["add", what], &files[..]].concat());
    }
    for (session, build) in [("if-fade", "IF-D1"), ("if-after", "IF-D2")] {
        let file = format!("out/sessions/{session}.csv");
        run(&["log", &file, "--build", build, "--name", session]);
    }
    let tendency = |more: &[&str]| shop.json(&[&["tendency", "--build", "IF-D2"], more].concat());
    let (old, new) = (tendency(&[]), tendency(&new));
    assert_eq!(old["effective_shots"], new["effective_shots"]);
    for key in ["start_m", "curve_m", "carry_m", "apex_m", "spin_rate_rpm"] {
        let [a, b] = [&old, &new].map(|t| t[key]["mean"].as_f64().unwrap());
        // Nine digits are written; the fit between CSV and report is continuous.
        assert!((a - b).abs() < 1e-6 * a.abs().max(1.0), "{key}: {a} {b}");
    }
}
