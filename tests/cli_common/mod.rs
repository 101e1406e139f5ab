//! A workshop for the tests of the command line: each test has a fresh folder with its own bench.
#![allow(dead_code)] // each test file uses a part

use assert_cmd::Command;
use serde_json::Value;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// The time that every command takes for now.
pub const NOW: &str = "2027-05-10T08:30:00Z";
/// So few deliveries that a test is quick.
pub const FEW: [&str; 2] = ["--deliveries", "40"];

/// A fixture of `tests/data/shop`.
pub fn data(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data/shop")
        .join(name);
    assert!(path.is_file(), "{} is no fixture", path.display());
    path.to_str().unwrap().to_string()
}

/// A folder, perhaps with a bench.
pub struct Shop {
    dir: TempDir,
}

/// What a command did.
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
    what: String,
}

impl Shop {
    /// A folder without a bench.
    pub fn empty() -> Shop {
        Shop {
            dir: TempDir::new().unwrap(),
        }
    }

    /// A bench with nothing in it.
    pub fn new() -> Shop {
        let shop = Shop::empty();
        shop.run(&["new"]).ok();
        shop
    }

    /// A bench with the heads, players and builds of the fixtures.
    pub fn stocked() -> Shop {
        let shop = Shop::new();
        let add = |what: &str, files: &[&str]| {
            let files: Vec<String> = files.iter().map(|f| data(f)).collect();
            let mut args = vec!["add", what];
            args.extend(files.iter().map(String::as_str));
            shop.run(&args).ok();
        };
        add("head", &["heads/gorsefold.toml", "heads/bramblecote.toml"]);
        add(
            "player",
            &["players/isolde-ferrow.toml", "players/bastian-lune.toml"],
        );
        add(
            "build",
            &[
                "builds/if-d1.toml",
                "builds/bl-d1.toml",
                "builds/if-w1.toml",
            ],
        );
        shop
    }

    /// The same with a session of each build.
    pub fn logged() -> Shop {
        let shop = Shop::stocked();
        shop.log("if-fade", "IF-D1").ok();
        shop.log("bl-fade", "BL-D1").ok();
        shop.log("if-wedge", "IF-W1").ok();
        shop
    }

    /// Logs a session of the fixtures under its own name.
    pub fn log(&self, session: &str, build: &str) -> Ran {
        let file = data(&format!("sessions/{session}.csv"));
        self.run(&["log", &file, "--build", build, "--name", session])
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// Writes a file into the folder; returns its name, which commands find from there.
    pub fn write(&self, name: &str, text: impl AsRef<[u8]>) -> String {
        std::fs::write(self.path(name), text).unwrap();
        name.to_string()
    }

    /// The program in the folder, with no environment of ours but the time.
    pub fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::cargo_bin("trimtab").unwrap();
        command
            .current_dir(self.dir.path())
            .env_remove("TRIMTAB_BENCH")
            .env_remove("NO_COLOR")
            .env_remove("CLICOLOR_FORCE")
            .env_remove("COLUMNS")
            .env("TRIMTAB_NOW", NOW)
            .timeout(std::time::Duration::from_secs(120))
            .args(args);
        command
    }

    pub fn run(&self, args: &[&str]) -> Ran {
        Ran::of(self.command(args), args)
    }

    pub fn run_in(&self, args: &[&str], stdin: impl Into<Vec<u8>>) -> Ran {
        let mut command = self.command(args);
        command.write_stdin(stdin);
        Ran::of(command, args)
    }

    /// The JSON that a command prints.
    pub fn json(&self, args: &[&str]) -> Value {
        let mut args = args.to_vec();
        args.push("--json");
        let out = self.run(&args).ok();
        serde_json::from_str(&out).unwrap_or_else(|e| panic!("{args:?}: {e}\n{out}"))
    }

    /// A proposal from few deliveries, as JSON.
    pub fn propose(&self, args: &[&str]) -> Value {
        self.json(&[&["propose"], args, &FEW].concat())
    }
}

impl Ran {
    pub fn of(mut command: Command, args: &[&str]) -> Ran {
        let output = command.output().unwrap();
        let text = |b: Vec<u8>| String::from_utf8(b).expect("output is UTF-8");
        let ran = Ran {
            code: output.status.code().expect("no signal, no timeout"),
            out: text(output.stdout),
            err: text(output.stderr),
            what: args.join(" "),
        };
        assert!(!ran.err.contains("panicked"), "{}: {}", ran.what, ran.err);
        ran
    }

    /// The output of a command that must succeed.
    #[track_caller]
    pub fn ok(self) -> String {
        assert_eq!(self.code, 0, "{}: {}{}", self.what, self.out, self.err);
        self.out
    }

    /// The output of a command that must succeed and say nothing beside it.
    #[track_caller]
    pub fn quiet(self) -> String {
        assert_eq!(self.err, "", "{}", self.what);
        self.ok()
    }

    /// The complaint of a command that must fail with a code, print nothing, and say all that.
    #[track_caller]
    pub fn fails(self, code: i32, says: &[&str]) -> String {
        let all = format!("{}: {}{}", self.what, self.out, self.err);
        assert_eq!(self.code, code, "{all}");
        assert_eq!(self.out, "", "a failure prints no result: {all}");
        let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let unwrapped = words(&self.err);
        for s in says {
            // Long lines are wrapped.
            let told = self.err.contains(s) || unwrapped.contains(&words(s));
            assert!(told, "does not say {s:?}: {all}");
        }
        self.err
    }
}
