//! Makes the evidence table from what the tests noted.
//!
//! ```text
//! TRIMTAB_EVIDENCE=target/evidence cargo test --release
//! cargo run --release --example evidence              # prints the table, compares EVIDENCE.md
//! cargo run --release --example evidence -- --write   # writes tests/evidence/EVIDENCE.md
//! ```
//!
//! A test with many cases of one kind becomes one line with the number of cases and the worst.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::Path;
use std::process::ExitCode;

/// One noted comparison.
struct Noted {
    what: String,
    source: String,
    unit: String,
    published: f64,
    ours: f64,
    relative: bool,
    limit: f64,
    reason: String,
}

impl Noted {
    fn parse(line: &str) -> Option<Noted> {
        let c: Vec<&str> = line.split('\t').collect();
        Some(Noted {
            what: (*c.get(1)?).into(),
            source: (*c.get(2)?).into(),
            unit: (*c.get(3)?).into(),
            published: c.get(4)?.parse().ok()?,
            ours: c.get(5)?.parse().ok()?,
            relative: *c.get(6)? == "rel",
            limit: c.get(7)?.parse().ok()?,
            reason: (*c.get(8)?).into(),
        })
    }

    /// Difference as a share of what is allowed.
    fn share(&self) -> f64 {
        let allowed = if self.relative {
            self.limit * self.published.abs()
        } else {
            self.limit
        };
        let off = (self.ours - self.published).abs();
        if allowed > 0.0 {
            off / allowed
        } else if off == 0.0 {
            0.0
        } else {
            f64::INFINITY
        }
    }
}

/// A difference below this share of what is allowed is not told in digits: they differ from machine
/// to machine.
const SMALL: f64 = 0.01;

/// Cases of one source in one test from which on they are told in one line.
const MANY: usize = 12;

fn main() -> ExitCode {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = root.join("target/evidence");
    let mut tests: BTreeMap<String, Vec<Noted>> = BTreeMap::new();
    for entry in std::fs::read_dir(&folder).into_iter().flatten().flatten() {
        let name = entry
            .path()
            .file_stem()
            .map_or(String::new(), |s| s.to_string_lossy().into());
        let text = std::fs::read_to_string(entry.path()).unwrap_or_default();
        tests.insert(name, text.lines().filter_map(Noted::parse).collect());
    }
    if tests.is_empty() {
        eprintln!(
            "no evidence in {}: run the tests with TRIMTAB_EVIDENCE first",
            folder.display()
        );
        return ExitCode::from(2);
    }
    let page = page(&tests);
    print!("{page}");
    let kept = root.join("tests/evidence/EVIDENCE.md");
    if std::env::args().any(|a| a == "--write") {
        return match std::fs::write(&kept, page) {
            Ok(()) => ExitCode::SUCCESS,
            Err(e) => {
                eprintln!("{}: {e}", kept.display());
                ExitCode::from(7)
            }
        };
    }
    if std::fs::read_to_string(&kept).unwrap_or_default() == page {
        return ExitCode::SUCCESS;
    }
    eprintln!(
        "{} is not what the tests say now: run with --write and read the difference",
        kept.display()
    );
    ExitCode::FAILURE
}

fn page(tests: &BTreeMap<String, Vec<Noted>>) -> String {
    let sources: BTreeSet<&str> = tests
        .values()
        .flatten()
        .map(|n| n.source.as_str())
        .collect();
    let cases: usize = tests.values().map(Vec::len).sum();
    let mut lines = 0;
    let mut body = String::new();
    for (test, rows) in tests {
        let mut by_source: BTreeMap<&str, Vec<&Noted>> = BTreeMap::new();
        for r in rows {
            by_source.entry(&r.source).or_default().push(r);
        }
        let _ = writeln!(body, "\n### {test}\n");
        body += "| quantity | published | ours | difference | allowed | why so much | source |\n";
        body += "| --- | ---: | ---: | ---: | ---: | --- | --- |\n";
        for (source, rows) in by_source {
            // Which of many tiny differences is the largest depends on the machine.
            let all_small = rows.iter().all(|r| r.share() < SMALL);
            let shown: Vec<(&Noted, String)> = if rows.len() > MANY && all_small {
                let what = format!("first of {}: {}", rows.len(), rows[0].what);
                vec![(rows[0], what)]
            } else if rows.len() > MANY {
                let worst = rows.iter().max_by(|a, b| a.share().total_cmp(&b.share()));
                worst
                    .map(|w| (*w, format!("worst of {}: {}", rows.len(), w.what)))
                    .into_iter()
                    .collect()
            } else {
                rows.iter().map(|r| (*r, r.what.clone())).collect()
            };
            for (r, what) in shown {
                lines += 1;
                let _ = writeln!(body, "{}", line(r, &what, source));
            }
        }
    }
    format!(
        "# Evidence\n\nEvery comparison of the model with a value from outside the project: {cases} \
         cases in {lines} lines from {} sources. Made from the tests themselves by \
         `tests/evidence/table.rs`; the gate fails when this page and the tests part. Second-hand \
         and remembered sources say so.\n{body}\n{}",
        sources.len(),
        include_str!("LIMITS.md")
    )
}

fn line(r: &Noted, what: &str, source: &str) -> String {
    let unit = if r.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", r.unit)
    };
    let allowed = if r.relative {
        format!("{} %", number(r.limit * 100.0))
    } else {
        format!("{}{unit}", number(r.limit))
    };
    let off = r.ours - r.published;
    let off = if r.share() < SMALL {
        "under 1 % of allowed".to_string()
    } else {
        format!("{}{unit}", number(off))
    };
    let cells = [
        what.to_string(),
        format!("{}{unit}", number(r.published)),
        format!("{}{unit}", number(r.ours)),
        off,
        allowed,
        r.reason.clone(),
        source.to_string(),
    ];
    format!("| {} |", cells.map(|c| c.replace('|', "/")).join(" | "))
}

/// Four significant digits, without a negative zero.
fn number(v: f64) -> String {
    if v == 0.0 || !v.is_finite() {
        return if v == 0.0 { "0".into() } else { v.to_string() };
    }
    let digits = 3 - v.abs().log10().floor() as i32;
    if (-3..=9).contains(&digits) {
        format!("{v:.*}", digits.max(0) as usize)
    } else {
        format!("{v:.3e}")
    }
}
