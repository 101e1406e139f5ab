//! Files: a bench that is none, is held or cannot be written; output that has no place; a time that
//! is none. Each with its exit code, and nothing left behind.

mod cli_common;

use cli_common::{Ran, Shop, data};
use std::fs;

/// Arguments of each command that opens a bench, good enough to come that far.
fn openers() -> Vec<Vec<String>> {
    let (csv, head) = (data("sessions/if-fade.csv"), data("heads/gorsefold.toml"));
    [
        &format!("add|head|{head}")[..],
        &format!("log|{csv}|--build|IF-D1"),
        "tendency|--build|IF-D1",
        "propose|--build|IF-D1",
        "whatif|--build|IF-D1|--set|rail=0%",
        "plan|--build|IF-D1|--change-m|8",
        "rebuild|--build|IF-D1|--as|X|--set|rail=0%",
        "check|--build|IF-D1",
        "refit|--season|2027",
        "card|--build|IF-D1",
        "list|heads",
        "show|build|IF-D1",
        "withdraw|1",
        "export|--to|out",
        "mass|--head|Gorsefold 11",
        "impact|--head|Gorsefold 11",
    ]
    .iter()
    .map(|line| line.split('|').map(String::from).collect())
    .collect()
}

fn run(shop: &Shop, args: &[String]) -> Ran {
    shop.run(&args.iter().map(String::as_str).collect::<Vec<_>>())
}

#[test]
fn a_bench_that_is_none() {
    let shop = Shop::empty();
    shop.write(
        "none.trimtab",
        "this is no bench, but it is long enough to look like one",
    );
    for args in openers() {
        run(&shop, &args).fails(4, &["no bench 'bench.trimtab'"]);
        let with = [&args[..], &["--bench".into(), "none.trimtab".into()]].concat();
        run(&shop, &with).fails(3, &["none.trimtab is not a bench: "]);
    }
    assert!(
        !shop.path("bench.trimtab").exists(),
        "none was made on the way"
    );
    let other = rusqlite::Connection::open(shop.path("other.db")).unwrap();
    other
        .execute_batch("CREATE TABLE t (a); PRAGMA user_version = 1")
        .unwrap();
    let list = ["list", "heads", "--bench"];
    shop.run(&[&list[..], &["other.db"]].concat())
        .fails(3, &["made by another program"]);
    shop.run(&[&list[..], &["."]].concat())
        .fails(4, &["no bench '.'"]);
    shop.run(&["new", "--bench", "no/such/folder"])
        .fails(7, &["no/such/folder: "]);
    shop.run(&["new", "--bench", "none.trimtab"])
        .fails(5, &["exists already"]);
    let kept = fs::read_to_string(shop.path("none.trimtab")).unwrap();
    assert!(kept.starts_with("this is no bench"));
}

#[test]
fn files_that_cannot_be_written() {
    let shop = Shop::logged();
    fs::create_dir(shop.path("there")).unwrap();
    shop.write("file", "kept");
    for to in ["there", "file", "."] {
        shop.run(&["export", "--to", to])
            .fails(5, &["exists already; nothing was written"]);
    }
    assert_eq!(fs::read_dir(shop.path("there")).unwrap().count(), 0);
    assert_eq!(fs::read_to_string(shop.path("file")).unwrap(), "kept");
    shop.run(&["export", "--to", "file/below"])
        .fails(7, &["file/below.part"]);
    assert!(!shop.path("there.part").exists());
    let html = |to: &str| shop.run(&["card", "--build", "IF-D1", "--html", to]);
    html("file/card.html").fails(7, &["file/card.html: "]);
    html("there").fails(7, &["there: "]);
    // One code, whatever keeps a file from being written.
    html("nodir/card.html").fails(7, &["nodir/card.html: "]);
    shop.run(&["new", "--bench", "nodir/bench"])
        .fails(7, &["nodir/bench: "]);
    shop.run(&["export", "--to", "nodir/out"]).ok();
    shop.run(&["log", "there", "--build", "IF-D1"])
        .fails(7, &["there: "]);
    let invalid = shop.write("bad.toml", b"name = \"\xff\"");
    shop.run(&["add", "player", &invalid])
        .fails(3, &["bad.toml: not UTF-8 text"]);
    shop.run(&["mass", "--head-file", &invalid])
        .fails(3, &["not UTF-8 text"]);
}

#[test]
fn a_bench_that_cannot_be_written_says_so_and_stays() {
    let shop = Shop::stocked();
    // A folder where SQLite wants its log: no write can succeed, even as root, for whom no
    // permission counts.
    let before = fs::read(shop.path("bench.trimtab")).unwrap();
    fs::create_dir(shop.path("bench.trimtab-wal")).unwrap();
    shop.log("if-fade", "IF-D1").fails(7, &["storage: "]);
    shop.run(&["list", "builds"]).fails(7, &["storage: "]);
    assert_eq!(fs::read(shop.path("bench.trimtab")).unwrap(), before);
    fs::remove_dir(shop.path("bench.trimtab-wal")).unwrap();
    shop.log("if-fade", "IF-D1").ok();
}

#[test]
fn a_bench_that_is_held_by_another_is_busy() {
    let shop = Shop::stocked();
    let other = rusqlite::Connection::open(shop.path("bench.trimtab")).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    shop.log("if-fade", "IF-D1")
        .fails(6, &["the bench is busy", "try again"]);
    // Readers do not wait.
    assert_eq!(shop.run(&["list", "sessions"]).quiet(), "none yet\n");
    other.execute_batch("ROLLBACK").unwrap();
    shop.log("if-fade", "IF-D1").ok();
}

#[test]
fn a_time_that_is_none() {
    let shop = Shop::new();
    for bad in [
        "",
        "now",
        "2027-05-10",
        "2027-05-10T25:00:00Z",
        "-009999-01-01T00:00:00Z",
    ] {
        let mut command = shop.command(&["list", "heads"]);
        command.env("TRIMTAB_NOW", bad);
        let ran = Ran::of(command, &["list", "heads"]);
        ran.fails(2, &[&format!("TRIMTAB_NOW={bad}: must be a time")]);
    }
}

/// Today is the day at the place, not the one in Greenwich.
#[test]
fn the_day_is_that_of_the_place() {
    let shop = Shop::stocked();
    let few = data("sessions/if-few.csv");
    let args = ["log", &few, "--build", "IF-D1"];
    let mut command = shop.command(&args);
    command.env("TRIMTAB_NOW", "2027-05-10T23:30:00-05:00");
    let said = Ran::of(command, &args).quiet();
    assert_eq!(said, "session IF-D1-2027-05-10: 4 shots logged\n");
    let session = shop.json(&["show", "session", "IF-D1-2027-05-10"]);
    assert_eq!(session["created_at"], "2027-05-10T23:30:00-05:00");
}
