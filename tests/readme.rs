//! The README's console blocks, run as they stand and compared with what they print.
//!
//! `TRIMTAB_UPDATE=1 cargo test --test readme` writes what they print now.

use std::path::Path;
use std::process::Command;

/// Runs the commands of a block in `folder` and returns the block with what they print.
fn run_block(block: &str, folder: &Path) -> String {
    let mut out = String::new();
    for line in block.lines().filter_map(|l| l.strip_prefix("$ trimtab ")) {
        let words = shell_words(line);
        let done = Command::new(env!("CARGO_BIN_EXE_trimtab"))
            .args(&words)
            .current_dir(folder)
            .env("TRIMTAB_NOW", "2026-05-04T09:00:00Z")
            .env_remove("TRIMTAB_BENCH")
            .output()
            .expect("the program runs");
        assert!(
            done.status.success(),
            "{line}: {}",
            String::from_utf8_lossy(&done.stderr)
        );
        out += &format!("$ trimtab {line}\n");
        out += &String::from_utf8(done.stdout).expect("UTF-8");
    }
    out
}

/// Words of a command line; double quotes keep a word together.
fn shell_words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            c => words.last_mut().expect("never empty").push(c),
        }
    }
    words.retain(|w| !w.is_empty());
    words
}

#[test]
fn regress_readme_shows_what_the_program_prints() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("README.md")).expect("README.md");
    let folder = tempfile::tempdir().expect("a folder");
    std::os::unix::fs::symlink(root.join("demo"), folder.path().join("demo")).expect("a link");
    let mut now = String::new();
    let mut blocks = 0;
    for (i, part) in text.split("```").enumerate() {
        if i > 0 {
            now += "```";
        }
        match part.strip_prefix("console\n") {
            Some(block) => {
                blocks += 1;
                now += &format!("console\n{}", run_block(block, folder.path()));
            }
            None => now += part,
        }
    }
    assert!(blocks >= 5, "the walk has {blocks} blocks");
    if std::env::var_os("TRIMTAB_UPDATE").is_some() {
        std::fs::write(root.join("README.md"), &now).expect("README.md is written");
        return;
    }
    for (have, want) in text.lines().zip(now.lines()) {
        assert_eq!(have, want, "the README and the program differ");
    }
    assert_eq!(text.lines().count(), now.lines().count());
}
