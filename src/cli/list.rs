//! What is in the bench: list, show, withdraw.

use super::Failure;
use super::context::Context;
use super::names::{Named, full_name};
use crate::bench::Bench;
use crate::bench::export::{session_csv, session_json};
use crate::bench::store::{Model, SessionFilter};
use crate::report::{Page, Report, filed_words};
use clap::{Args, ValueEnum};
use serde::Serialize;
use serde_json::{Value, json};

/// List what is in the bench.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab list sessions --player Maren")]
pub(super) struct List {
    /// What to list.
    #[arg(value_enum)]
    what: Many,
    /// Only of this player.
    #[arg(long, value_name = "NAME")]
    player: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Many {
    Players,
    Heads,
    Builds,
    Sessions,
    Proposals,
    Verdicts,
    Models,
}

/// A listing: column names with their units, and rows. A column without a value is not shown.
#[derive(Serialize)]
#[serde(transparent)]
struct Listing {
    rows: Vec<Value>,
    #[serde(skip)]
    columns: Vec<&'static str>,
}

impl Report for Listing {
    fn text(&self, page: &mut Page) {
        if self.rows.is_empty() {
            page.line("none yet");
            return;
        }
        let cell = |column: &str, v: &Value| match v {
            Value::Null => "-".to_string(),
            // Of a time, the day.
            Value::String(s) if column.ends_with("_at") => s.chars().take(10).collect(),
            Value::String(s) => s.clone(),
            v => v.to_string(),
        };
        let filled = |c: &&&str| self.rows.iter().any(|r| !r[**c].is_null());
        let columns: Vec<&str> = self.columns.iter().filter(filled).copied().collect();
        let rows: Vec<Vec<String>> = self
            .rows
            .iter()
            .map(|r| columns.iter().map(|c| cell(c, &r[*c])).collect())
            .collect();
        page.table(&columns, &rows, columns.len());
    }
}

impl List {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let bench = c.open()?;
        let listing = self.listing(&bench)?;
        c.show(&listing)
    }

    fn listing(&self, bench: &Bench) -> Result<Listing, Failure> {
        let player = self.player.as_deref();
        let player = player.map(|p| full_name(bench, Named::Player, p));
        let player = player.transpose()?;
        let player = player.as_deref();
        if let Some(p) = player {
            bench.player(p)?;
        }
        let of = |name: &str| player.is_none_or(|p| p == name);
        let (columns, rows): (Vec<&'static str>, Vec<Value>) = match self.what {
            Many::Players => {
                let mut rows = Vec::new();
                for d in bench.players()?.iter().filter(|d| of(&d.name)) {
                    let p = bench.player(&d.name)?;
                    let builds = bench.builds_of(&d.name, None)?;
                    rows.push(json!({ "player": p.name, "hand": p.hand,
                        "builds": builds.len(), "latest_build": builds.last() }));
                }
                (vec!["player", "hand", "builds", "latest_build"], rows)
            }
            Many::Heads => {
                let mut rows = Vec::new();
                for d in bench.heads()? {
                    let (file, head) = bench.head(&d.name)?;
                    let grams = head.mass_properties(&head.reference).mass * 1e3;
                    rows.push(json!({ "head": file.name, "kind": file.kind,
                        "loft_deg": file.loft_deg, "lie_deg": file.lie_deg,
                        "mass_g": crate::report::tidy(grams), "reference": head.reference.describe(&head) }));
                }
                (vec!["head", "kind", "loft_deg", "lie_deg", "mass_g"], rows)
            }
            Many::Builds => {
                let mut rows = Vec::new();
                for d in bench.builds()? {
                    let (b, club) = bench.build(&d.name)?;
                    if of(&b.player) {
                        rows.push(json!({ "build": b.name, "player": b.player, "head": b.head,
                            "built_on": b.built_on, "replaces": b.replaces,
                            "setting": club.setting.describe(&club.head) }));
                    }
                }
                (vec!["build", "player", "head", "built_on", "setting"], rows)
            }
            Many::Sessions => {
                let filter = SessionFilter {
                    player: player.map(String::from),
                    withdrawn: true,
                    ..SessionFilter::default()
                };
                let rows = bench.sessions(&filter)?.into_iter().map(|s| {
                    json!({ "id": s.id, "session": s.name, "player": s.player, "build": s.build,
                        "date": s.date.to_string(), "withdrawn_at": s.withdrawn_at })
                });
                (
                    vec!["id", "session", "player", "build", "date", "withdrawn_at"],
                    rows.collect(),
                )
            }
            Many::Proposals => {
                let rows = bench.proposals(player)?.into_iter().map(|p| {
                    let first = p.body["rows"][0]["steps"][0].clone();
                    json!({ "proposal": p.id, "player": p.player, "build": p.build,
                        "answer": p.name, "first_step": first, "created_at": p.created_at })
                });
                (
                    vec!["proposal", "player", "build", "answer", "first_step"],
                    rows.collect(),
                )
            }
            Many::Verdicts => {
                let rows = bench.verdicts(None)?.into_iter().map(|v| {
                    json!({ "verdict": v.id, "proposal": v.proposal, "player": v.body["player"],
                        "outcome": v.body["outcome"], "verdict_says": filed_words(&v.body),
                        "created_at": v.created_at })
                });
                let rows: Vec<Value> = rows
                    .filter(|r| of(r["player"].as_str().unwrap_or("")))
                    .collect();
                (
                    vec![
                        "verdict",
                        "proposal",
                        "player",
                        "verdict_says",
                        "created_at",
                    ],
                    rows,
                )
            }
            Many::Models => {
                let rows = bench.models()?.into_iter().map(|m| {
                    json!({ "model": m.version, "season": m.season, "digest": m.digest,
                        "sessions": m.body["data"]["sessions"], "created_at": m.created_at })
                });
                (
                    vec!["model", "season", "sessions", "created_at"],
                    rows.collect(),
                )
            }
        };
        Ok(Listing { rows, columns })
    }
}

/// Show one thing of the bench as it was filed: TOML, CSV or JSON.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab show build MV-2")]
pub(super) struct Show {
    /// What to show.
    #[arg(value_enum)]
    what: One,
    /// Its name or number.
    name: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum One {
    Player,
    Head,
    Build,
    Session,
    Proposal,
    Model,
}

impl Show {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let bench = c.open()?;
        let number = || {
            self.name.parse::<i64>().map_err(|_| {
                Failure::usage(format!("'{}' is no number: see 'trimtab list'", self.name))
            })
        };
        let kind = match self.what {
            One::Player => Some(Named::Player),
            One::Head => Some(Named::Head),
            One::Build => Some(Named::Build),
            One::Session => Some(Named::Session),
            One::Proposal | One::Model => None,
        };
        let name = match kind {
            Some(kind) => full_name(&bench, kind, &self.name)?,
            None => self.name.clone(),
        };
        let json = match self.what {
            One::Proposal => {
                let filed = bench.proposal(number()?)?;
                // It had no number yet when it was filed.
                let mut body = filed.body;
                body["proposal"] = filed.id.into();
                body
            }
            One::Model => bench.model(number()?)?.body,
            One::Session if c.global.json => session_json(&bench.session(&name)?),
            One::Session => {
                let record = bench.session(&name)?;
                return Ok(session_csv(&record, &mut c.io.out)?);
            }
            One::Player | One::Head | One::Build => {
                let (all, file) = match self.what {
                    One::Player => (bench.players()?, to_json(&bench.player(&name)?)?),
                    One::Head => (bench.heads()?, to_json(&bench.head(&name)?.0)?),
                    _ => (bench.builds()?, to_json(&bench.build(&name)?.0)?),
                };
                if !c.global.json {
                    let text = all.into_iter().find(|d| d.name == name).map(|d| d.toml);
                    return Ok(c.io.out.write_all(text.unwrap_or_default().as_bytes())?);
                }
                file
            }
        };
        Ok(writeln!(c.io.out, "{json:#}")?)
    }
}

fn to_json<T: Serialize>(v: &T) -> Result<Value, Failure> {
    serde_json::to_value(v).map_err(|e| Failure::input(e.to_string()))
}

/// Withdraw a session: it stays in the log, but nothing reads it any more.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab withdraw MV-1-2026-04-06")]
pub(super) struct Withdraw {
    /// Whole name, or number, of the session.
    session: String,
}

impl Withdraw {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let mut bench = c.open()?;
        let name = full_name(&bench, Named::Session, &self.session)?;
        let whole = name == self.session || self.session.parse::<i64>().is_ok();
        let known = bench.session(&name).ok();
        if !whole && known.is_some_and(|s| s.info.withdrawn_at.is_none()) {
            return Err(Failure::usage(format!(
                "'{}' is the beginning of session '{name}': write all of it, what is withdrawn does \
                 not come back",
                self.session
            )));
        }
        bench.withdraw_session(&name, &c.now)?;
        if c.global.json {
            let json = json!({ "session": name, "withdrawn_at": c.now });
            writeln!(c.io.out, "{json}")?;
        } else {
            writeln!(c.io.out, "session {name} withdrawn")?;
        }
        let date = bench.session(&name)?.info.date.to_string();
        let within = |m: &Model| {
            let day = |key: &str| m.body["data"][key].as_str().unwrap_or_default().to_string();
            (day("first_date")..=day("last_date")).contains(&date)
        };
        // A prior that learned from it has handed that on.
        let mut taught: Vec<i64> = Vec::new();
        for m in bench.models()? {
            let prior = m.body["season"]["prior_version"].as_i64();
            if within(&m) || prior.is_some_and(|p| taught.contains(&p)) {
                taught.push(m.version);
            }
        }
        let versions: Vec<String> = taught.iter().map(i64::to_string).collect();
        match &versions[..] {
            [] => (),
            [one] => c.note(&format!(
                "model {one} may have learned from it, and stays as it is: refit for one without"
            )),
            all => c.note(&format!(
                "models {} may have learned from it, and stay as they are: refit for one without",
                all.join(", ")
            )),
        }
        Ok(())
    }
}
