//! A bench that may not be written can still be read.
#![cfg(unix)]

mod cli_common;

use cli_common::{NOW, Shop, data};
use std::fs;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, Output};

/// Somebody for whom permissions count: root would write all the same.
const NOBODY: u32 = 65534;

fn mode(path: &Path, mode: u32) {
    fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
}

/// Runs a command in a folder as an ordinary user.
fn run(folder: &Path, args: &[&str]) -> Output {
    let mut command = Command::new(folder.join("program"));
    command
        .current_dir(folder.join("bench"))
        .env("TRIMTAB_NOW", NOW)
        .args(args);
    if fs::metadata("/proc/self").is_ok_and(|m| m.uid() == 0) {
        command.uid(NOBODY).gid(NOBODY);
    }
    command.output().unwrap()
}

#[test]
fn a_read_only_bench_is_read() {
    let shop = Shop::logged();
    shop.run(&[
        "rebuild", "--build", "IF-D1", "--as", "IF-D2", "--set", "rail=0%",
    ])
    .ok();
    shop.log("if-after", "IF-D2").ok();
    // A name that would mean something else in a URI.
    let name = "a bench?mode=memory#1%41.trimtab";
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    mode(folder, 0o755);
    fs::create_dir(folder.join("bench")).unwrap();
    let bench = folder.join("bench").join(name);
    fs::copy(shop.path("bench.trimtab"), &bench).unwrap();
    fs::copy(env!("CARGO_BIN_EXE_trimtab"), folder.join("program")).unwrap();
    mode(&folder.join("program"), 0o755);
    let before = fs::read(&bench).unwrap();
    let csv = data("sessions/if-few.csv");
    fs::copy(csv, folder.join("few.csv")).unwrap();
    mode(&folder.join("few.csv"), 0o644);
    for (folder_mode, file_mode) in [(0o555, 0o444), (0o777, 0o444), (0o555, 0o666)] {
        mode(&bench, file_mode);
        mode(bench.parent().unwrap(), folder_mode);
        for line in [
            "tendency|--build|IF-D1",
            "propose|--build|IF-D1|--dry-run|--deliveries|40",
            "whatif|--build|IF-D1|--set|rail=0%|--deliveries|40",
            "plan|--build|IF-D1|--set|rail=0%",
            "check|--build|IF-D2|--dry-run",
            "card|--build|IF-D2",
            "list|sessions",
            "show|session|if-fade",
            "mass|--head|Gorsefold 11",
            "export|--json",
        ] {
            let mut args: Vec<&str> = line.split('|').collect();
            args.extend(["--bench", name]);
            let done = run(folder, &args);
            let said = String::from_utf8_lossy(&done.stderr).into_owned();
            assert!(done.status.success(), "{folder_mode:o} {line}: {said}");
            assert!(!done.stdout.is_empty());
        }
        let log = ["log", "../few.csv", "--build", "IF-D2", "--bench", name];
        let done = run(folder, &log);
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(done.status.code(), Some(7), "{folder_mode:o}: {said}");
        assert!(said.contains("read-only"), "{folder_mode:o}: {said}");
    }
    assert_eq!(fs::read(&bench).unwrap(), before);
}
