//! The form of the output: 80 columns, no styles off a terminal, the same bytes each time, streams
//! that behave.

mod cli_common;

use cli_common::{FEW, NOW, Ran, Shop, data};
use std::process::{Command, Stdio};

/// Columns on a terminal.
fn width(line: &str) -> usize {
    textwrap::core::display_width(line)
}

#[track_caller]
fn fits(what: &str, text: &str) {
    for line in text.lines() {
        assert!(width(line) <= 80, "{what}: {} columns: {line}", width(line));
    }
    assert!(
        !text.contains('\x1b'),
        "{what}: styles off a terminal: {text:?}"
    );
    assert!(
        text.is_empty() || text.ends_with('\n'),
        "{what}: the last line is open"
    );
}

/// Every text output of a bench with a job done, one after the other.
fn outputs(shop: &Shop, more: &[(&str, &str)]) -> Vec<(String, String)> {
    let mut lines = vec![
        "tendency|--build|IF-D1",
        "propose|--build|IF-D1|--rows|3",
        "propose|--build|BL-D1|--metric|--rows|2",
        "propose|--build|IF-W1",
        "propose|--build|IF-D1|--miss|starts 3 right, fades, carries 210, high",
        "whatif|--build|IF-D1|--set|rail=0%|--set|sleeve=90deg|--set|inner toe=4g",
        "whatif|--build|IF-D1|--set|rail=50%",
        "plan|--build|IF-D1",
        "plan|--build|BL-D1|--metric|--change-m|8",
        "rebuild|--build|IF-D1|--as|IF-D2|--proposal|1",
        "check|--build|IF-D2",
        "check|--build|IF-D2|--every-block",
        "refit|--season|2027",
        "card|--build|IF-D2",
        "card|--build|BL-D1|--metric",
        "list|players",
        "list|heads",
        "list|builds",
        "list|sessions",
        "list|proposals",
        "list|verdicts",
        "list|models",
        "mass|--head|Gorsefold 11|--set|rail=0%|--set|sleeve=90",
        "impact|--head|Gorsefold 11|--left|--club-path-deg|-3",
        "flight|--ball-speed-mph|150|--launch-angle-deg|12|--spin-rate-rpm|2700|--spin-axis-deg|-9",
        "export|--to|out",
        "withdraw|after",
    ];
    let csv = data("sessions/if-after.csv");
    let log = format!("log|{csv}|--build|IF-D2|--name|after");
    lines.insert(10, &log);
    let mut all = Vec::new();
    for line in lines {
        let mut args: Vec<&str> = line.split('|').collect();
        if matches!(args[0], "propose" | "whatif") {
            args.extend(FEW);
        }
        let mut command = shop.command(&args);
        command.envs(more.iter().copied());
        let ran = Ran::of(command, &args);
        fits(line, &ran.err);
        all.push((line.to_string(), ran.ok()));
    }
    all
}

#[test]
fn text_fits_and_is_the_same_each_time() {
    let one = outputs(&Shop::logged(), &[("RAYON_NUM_THREADS", "1")]);
    for (what, text) in &one {
        fits(what, text);
        assert!(!text.contains("-0.0 "), "{what}: a negative zero: {text}");
        assert!(
            !text.contains("NaN") && !text.contains("inf "),
            "{what}: {text}"
        );
    }
    let two = outputs(
        &Shop::logged(),
        &[("RAYON_NUM_THREADS", "2"), ("NO_COLOR", "1")],
    );
    for (a, b) in one.iter().zip(&two) {
        assert_eq!(a, b);
    }
}

#[test]
fn long_names_fit_too() {
    let shop = Shop::stocked();
    let long = "a name that goes on and on, as long as a name may be, which is eighty characters!!";
    let name = &long[..80];
    let player = format!("name = \"{name}\"\nhand = \"right\"\n");
    shop.run_in(&["add", "player", "-"], player).ok();
    let build = std::fs::read_to_string(data("builds/if-d1.toml")).unwrap();
    let build = build
        .replace("Isolde Ferrow", name)
        .replace("IF-D1", &name.replace('a', "b"));
    shop.run_in(&["add", "build", "-"], build).ok();
    for what in ["players", "builds"] {
        let text = shop.run(&["list", what]).quiet();
        fits(what, &text);
        assert!(text.contains("characters"), "nothing is cut: {text}");
    }
    fits("card", &shop.run(&["card", "--player", name]).quiet());
}

#[test]
fn help_of_every_command() {
    let shop = Shop::empty();
    let mut names: Vec<String> = trimtab::cli::command()
        .get_subcommands()
        .map(|c| c.get_name().to_string())
        .collect();
    assert_eq!(names.len(), 19);
    names.push(String::new());
    for name in &names {
        for flag in ["-h", "--help"] {
            let args: Vec<&str> = [&name[..], flag]
                .into_iter()
                .filter(|a| !a.is_empty())
                .collect();
            let help = shop.run(&args).quiet();
            fits(&args.join(" "), &help);
            let example = format!("trimtab {name}");
            let told = help
                .lines()
                .any(|l| l.trim_start().starts_with(example.trim_end()));
            assert!(told, "{args:?} shows no example:\n{help}");
        }
    }
    let help = shop.run(&["--help"]).quiet();
    for told in [
        "TRIMTAB_BENCH",
        "TRIMTAB_NOW",
        "NO_COLOR",
        "Exit codes: 0 done; 2 usage; 3 bad",
    ] {
        assert!(help.contains(told), "{told}");
    }
    shop.run(&[]).fails(2, &["Usage: trimtab"]);
    let version = shop.run(&["--version"]).quiet();
    assert_eq!(version, format!("trimtab {}\n", env!("CARGO_PKG_VERSION")));
}

/// The examples in the help are command lines that the program takes.
#[test]
fn examples_can_be_typed() {
    let mut count = 0;
    for command in trimtab::cli::command().get_subcommands() {
        let help = command.get_after_help().expect("an example").to_string();
        for line in help
            .lines()
            .filter(|l| l.trim_start().starts_with("trimtab "))
        {
            let line = line.split('>').next().unwrap().trim();
            let mut words: Vec<String> = Vec::new();
            for (n, part) in line.split('"').enumerate() {
                match n % 2 {
                    0 => words.extend(part.split_whitespace().map(String::from)),
                    _ => words.push(part.to_string()),
                }
            }
            let parsed = trimtab::cli::command().try_get_matches_from(&words);
            assert!(parsed.is_ok(), "{line}: {}", parsed.unwrap_err());
            count += 1;
        }
    }
    assert!(count >= 18, "{count} examples");
}

#[test]
fn styles_only_where_they_are_asked_for() {
    let shop = Shop::logged();
    let args = ["tendency", "--build", "IF-D1"];
    let plain = shop.run(&args).quiet();
    let with = |key: &str| {
        let mut command = shop.command(&args);
        command.env(key, "1");
        Ran::of(command, &args).quiet()
    };
    let forced = with("CLICOLOR_FORCE");
    assert!(
        forced.contains("\x1b[1m"),
        "there are styles to be taken out"
    );
    assert_eq!(anstream::adapter::strip_str(&forced).to_string(), plain);
    assert_eq!(with("NO_COLOR"), plain);
}

/// A person who opens only the help of one command finds what that command can say.
#[test]
fn help_tells_columns_units_and_what_is_shared() {
    let shop = Shop::empty();
    let log = shop.run(&["log", "--help"]).quiet();
    for info in trimtab::quantity::TABLE {
        let units: Vec<&str> = info.dimension.units().iter().map(|u| u.0).collect();
        let row = format!("  {:<17} {}\n", info.name, units.join(", "));
        assert!(log.contains(&row), "no {row:?} in\n{log}");
    }
    for told in ["back_spin", "side_spin", "deg C", "--as-logged"] {
        assert!(log.contains(told), "{told}");
    }
    // The mapping in the help is one, and does what it says.
    let start = log.find("  [columns.ball_speed]").unwrap();
    let mapping = shop.write("map.toml", &log[start..]);
    let stocked = Shop::stocked();
    stocked.write("map.toml", std::fs::read(shop.path(&mapping)).unwrap());
    let csv = "Speed of ball,Start\n137,2\n136,1\n138,3\n";
    let args = [
        "log",
        "-",
        "--build",
        "IF-D1",
        "--mapping",
        "map.toml",
        "--name",
        "m",
    ];
    stocked.run_in(&args, csv).ok();
    let shot = &stocked.json(&["show", "session", "m"])["shots"][0]["measured"];
    assert_eq!(shot["launch_direction_deg"], -2.0);
    let add = shop.run(&["add", "--help"]).quiet();
    for told in [
        "taken_at",
        "from the\n",
        "balance_in",
        "face_angle_deg  right is positive",
    ] {
        assert!(add.contains(told), "{told}:\n{add}");
    }
    for command in trimtab::cli::command().get_subcommands() {
        let help = shop.run(&[command.get_name(), "-h"]).quiet();
        let shared = help.split("\nOptions of every command:\n").nth(1);
        let shared = shared.unwrap_or_else(|| panic!("{help}"));
        let shared = shared.split("\n\n").next().unwrap();
        for flag in ["bench", "json", "metric", "aero", "attitude"] {
            let flag = format!("      --{flag}");
            assert!(shared.contains(&flag), "{flag}: {help}");
            assert_eq!(help.matches(&format!("\n{flag} ")).count(), 1, "{help}");
        }
        let lines = shared.lines().filter(|l| l.starts_with("      --"));
        assert_eq!(lines.count(), 5, "{help}");
    }
}

#[test]
fn completions_for_the_usual_shells() {
    let shop = Shop::empty();
    for (shell, has) in [
        ("bash", "complete -F _trimtab"),
        ("zsh", "#compdef trimtab"),
        ("fish", "complete -c trimtab"),
    ] {
        let script = shop.run(&["completions", shell]).quiet();
        assert!(script.contains(has), "{shell}");
        for name in ["propose", "whatif", "as-logged"] {
            assert!(script.contains(name), "{shell} does not complete {name}");
        }
    }
}

/// The limit on inertia is one for drivers (Equipment Rules, Part 2, section 4).
#[test]
fn the_rule_on_inertia_is_told_for_drivers_only() {
    let shop = Shop::stocked();
    for (head, driver) in [("gorsefold", true), ("bramblecote", false)] {
        let file = data(&format!("heads/{head}.toml"));
        let said = shop.run(&["mass", "--head-file", &file]).quiet();
        assert!(said.contains("About the vertical at 60 deg lie"), "{said}");
        assert_eq!(said.contains("The rules allow 5900"), driver, "{said}");
    }
}

#[test]
fn standard_input_and_environment() {
    let shop = Shop::stocked();
    let csv = std::fs::read(data("sessions/if-fade.csv")).unwrap();
    let said = shop.run_in(&["log", "-", "--build", "IF-D1"], csv).quiet();
    assert_eq!(said, "session IF-D1-2027-05-10: 18 shots logged\n");
    let head = std::fs::read(data("heads/gorsefold.toml")).unwrap();
    let from_stdin = shop.run_in(&["mass", "--head-file", "-"], head).quiet();
    assert_eq!(
        from_stdin,
        shop.run(&["mass", "--head", "Gorsefold 11"]).quiet()
    );
    let mut command = shop.command(&["new"]);
    command.env("TRIMTAB_BENCH", "elsewhere.trimtab");
    assert_eq!(
        Ran::of(command, &["new"]).quiet(),
        "A new bench: elsewhere.trimtab\n"
    );
    let mut command = shop.command(&["list", "builds"]);
    command.env("TRIMTAB_BENCH", "elsewhere.trimtab");
    assert_eq!(Ran::of(command, &["list"]).quiet(), "none yet\n");
    // The option is stronger.
    let mut command = shop.command(&["list", "builds", "--bench", "bench.trimtab"]);
    command.env("TRIMTAB_BENCH", "elsewhere.trimtab");
    assert!(Ran::of(command, &["list"]).quiet().contains("IF-D1"));
}

#[test]
fn a_reader_who_leaves_is_no_failure() {
    let shop = Shop::logged();
    for args in [
        &["export", "--json"][..],
        &["list", "builds"],
        &["show", "session", "if-fade"],
        &["completions", "bash"],
        &["propose", "--help"],
        &["card", "--build", "IF-D1", "--html", "-"],
    ] {
        // A pipe whose reading end is closed before the program writes its first byte.
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let mut command = Command::new(shop.command(&[]).get_program());
        let child = command
            .args(args)
            .current_dir(shop.path(""))
            .env("TRIMTAB_NOW", NOW)
            .stdout(writer)
            .stderr(Stdio::piped())
            .output()
            .unwrap();
        let err = String::from_utf8(child.stderr).unwrap();
        assert_eq!((child.status.code(), &err[..]), (Some(0), ""), "{args:?}");
    }
}

#[test]
fn four_at_once_all_log() {
    let shop = Shop::stocked();
    let csv = |n: usize| {
        let shots: String = (0..200)
            .map(|i| format!("{},12.{n},3000\n", 130 + i % 9))
            .collect();
        format!("ball_speed_mph,launch_angle_deg,spin_rate_rpm\n{shots}")
    };
    std::thread::scope(|scope| {
        for n in 0..4 {
            let shop = &shop;
            scope.spawn(move || {
                let name = format!("at once {n}");
                let args = ["log", "-", "--build", "IF-D1", "--name", &name];
                shop.run_in(&args, csv(n)).ok();
            });
        }
    });
    let sessions = shop.json(&["list", "sessions"]);
    assert_eq!(sessions.as_array().unwrap().len(), 4);
    for n in 0..4 {
        let session = shop.json(&["show", "session", &format!("at once {n}")]);
        assert_eq!(session["shots"].as_array().unwrap().len(), 200);
        assert_eq!(
            session["shots"][199]["measured"]["launch_angle_deg"],
            12.0 + n as f64 / 10.0
        );
    }
}

/// Complaints and the line of a rebuild stay within the page; where a fault is stays in one piece.
#[test]
fn long_lines_are_wrapped() {
    let shop = Shop::stocked();
    let long = "a-name-with-hyphens-that-goes-on-and-on-for-sixty-characters";
    let set = ["--set", "rail=0%", "--set", "inner toe=4g"];
    let rebuild = ["rebuild", "--build", "IF-D1", "--as", long];
    let said = shop.run(&[&rebuild[..], &set].concat()).quiet();
    fits("rebuild", &said);
    assert!(
        said.starts_with(&format!("build {long} replaces")),
        "{said}"
    );

    let file = shop.write(&format!("{long}.toml"), "name = \"x\"\nhand = \"middle\"\n");
    let args = ["add", "player", &file];
    let err = shop.run(&args).fails(3, &[&format!("{long}.toml:2:8: ")]);
    fits("add", &err);
    let err = shop
        .run(&["show", "build", "nobody's"])
        .fails(4, &["no build 'nobody's'"]);
    fits("show", &err);
    assert!(err.lines().count() > 1, "{err}");
    let err = shop
        .run(&["rebuild", "--build", "IF-D1", "--as", "X", "--set", "rail"])
        .fails(
            2,
            &["--set rail: there is no '='. Say for instance heel-toe=20%"],
        );
    fits("rebuild", &err);
    // What the command line itself complains of.
    let wrong = format!("--attitude=face-{}square", "very-".repeat(9));
    for (line, says) in [
        (
            format!("propose {wrong}"),
            "[possible values: unknown, grip-kept",
        ),
        ("list nothing".into(), "[possible values: players,"),
        (
            "plan --change-m 3 --change-yd 5 --proposal 3 --row 3 --set a=0% --metric --sed 4"
                .into(),
            "unexpected argument '--sed'",
        ),
    ] {
        let args: Vec<&str> = line.split(' ').collect();
        fits(&line, &shop.run(&args).fails(2, &[says]));
    }
}

/// What the clock of a sleeve means is told where a head is described.
#[test]
fn the_clock_of_a_sleeve_is_explained() {
    let help = Shop::empty().run(&["add", "--help"]).quiet();
    let readme = include_str!("../README.md");
    for told in [
        "most upright",
        "most loft",
        "counter-clockwise",
        "left-handed",
        "grip",
    ] {
        assert!(help.contains(told) && readme.contains(told), "{told}");
    }
}
