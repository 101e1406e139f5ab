//! The bench as JSON.

use super::{failed, in_unit};
use crate::bench::describe::Source;
use crate::bench::store::{Described, SessionFilter, SessionInfo, SessionRecord, ShotRecord};
use crate::bench::{Bench, BenchError};
use crate::quantity::{Measured, Quantity};
use serde::Serialize;
use serde_json::{Map, Value, json};
use std::io::Write;

/// Name of the JSON document's format.
pub const FORMAT: &str = "trimtab bench";
/// Version of the JSON document's format; counts up when a key changes its meaning.
pub const FORMAT_VERSION: u32 = 1;

/// The whole bench as one JSON document, withdrawn sessions too, one consistent view. Sessions are
/// written one at a time, so that a large bench needs no large memory.
///
/// # Errors
/// File, if `to` cannot be written; storage.
pub fn bench_json(bench: &Bench, to: &mut impl Write) -> Result<(), BenchError> {
    let view = bench.snapshot()?;
    let mut out = Document { to, first: true };
    out.key("format", &FORMAT)?;
    out.key("version", &FORMAT_VERSION)?;
    out.key("players", &described(bench.players()?)?)?;
    out.key("heads", &described(bench.heads()?)?)?;
    let mut builds = described(bench.builds()?)?;
    for build in &mut builds {
        let name = build["name"].as_str().unwrap_or_default();
        let link = bench.followed(name)?;
        build["proposal"] = link.map(|l| l.0).into();
        build["row"] = link.map(|l| l.1).into();
    }
    out.key("builds", &builds)?;
    let every = SessionFilter {
        withdrawn: true,
        ..SessionFilter::default()
    };
    out.open("sessions")?;
    for (n, info) in bench.sessions(&every)?.iter().enumerate() {
        let session = bench.session_by_id(info.id)?;
        out.item(n, &session_json(&session))?;
    }
    out.close()?;
    out.key("proposals", &proposals(bench)?)?;
    out.key("verdicts", &verdicts(bench)?)?;
    out.key("models", &models(bench)?)?;
    out.end()?;
    drop(view);
    Ok(())
}

/// Descriptions as JSON, with the text as it came beside what it says.
fn described(rows: Vec<Described>) -> Result<Vec<Value>, BenchError> {
    let one = |d: Described| {
        let source = Source {
            name: &d.name,
            text: &d.toml,
        };
        let says: Value = source.parse()?;
        let (name, at, toml) = (&d.name, &d.created_at, &d.toml);
        Ok(json!({ "name": name, "created_at": at, "says": says, "toml": toml }))
    };
    rows.into_iter().map(one).collect()
}

/// A session and its shots as JSON.
pub fn session_json(session: &SessionRecord) -> Value {
    let i: &SessionInfo = &session.info;
    let shots: Vec<Value> = session.shots.iter().map(shot_json).collect();
    json!({
        "id": i.id, "name": i.name, "player": i.player, "hand": i.hand, "build": i.build,
        "head": i.head, "date": i.date.to_string(), "meta": i.meta,
        "created_at": i.created_at, "withdrawn_at": i.withdrawn_at, "shots": shots,
    })
}

fn shot_json(shot: &ShotRecord) -> Value {
    let (number, raw, note) = (shot.number, &shot.raw, &shot.note);
    json!({ "number": number, "measured": measured_json(&shot.measured), "raw": raw, "note": note })
}

/// What was measured, by column name, in the units in which it is written out.
pub fn measured_json(measured: &Measured) -> Map<String, Value> {
    let value = |(q, v): (Quantity, f64)| (q.column_name(), json!(in_unit(v, q.unit_size())));
    measured.iter().map(value).collect()
}

fn proposals(bench: &Bench) -> Result<Vec<Value>, BenchError> {
    let all = bench.proposals(None)?.into_iter().map(|p| {
        json!({ "id": p.id, "player": p.player, "build": p.build, "name": p.name,
                "body": p.body, "created_at": p.created_at })
    });
    Ok(all.collect())
}

fn verdicts(bench: &Bench) -> Result<Vec<Value>, BenchError> {
    let all = bench.verdicts(None)?.into_iter().map(
        |v| json!({ "id": v.id, "proposal": v.proposal, "body": v.body, "created_at": v.created_at }),
    );
    Ok(all.collect())
}

fn models(bench: &Bench) -> Result<Vec<Value>, BenchError> {
    let all = bench.models()?.into_iter().map(|m| {
        json!({ "version": m.version, "season": m.season, "body": m.body,
                "digest": m.digest, "created_at": m.created_at })
    });
    Ok(all.collect())
}

/// A JSON object on its way out, a key at a time.
struct Document<'w, W: Write> {
    to: &'w mut W,
    first: bool,
}

impl<W: Write> Document<'_, W> {
    fn key(&mut self, key: &str, value: &impl Serialize) -> Result<(), BenchError> {
        self.start(key)?;
        self.value(value)
    }

    fn open(&mut self, key: &str) -> Result<(), BenchError> {
        self.start(key)?;
        self.raw("[")
    }

    fn item(&mut self, n: usize, value: &impl Serialize) -> Result<(), BenchError> {
        self.raw(if n > 0 { ",\n  " } else { "\n  " })?;
        self.value(value)
    }

    fn close(&mut self) -> Result<(), BenchError> {
        self.raw("]")
    }

    fn end(&mut self) -> Result<(), BenchError> {
        self.raw("\n}\n")
    }

    fn start(&mut self, key: &str) -> Result<(), BenchError> {
        let before = if self.first { "{\n" } else { ",\n" };
        self.first = false;
        self.raw(&format!("{before}\"{key}\": "))
    }

    fn value(&mut self, value: &impl Serialize) -> Result<(), BenchError> {
        serde_json::to_writer(&mut *self.to, value).map_err(|e| failed(e.into()))
    }

    fn raw(&mut self, text: &str) -> Result<(), BenchError> {
        self.to.write_all(text.as_bytes()).map_err(failed)
    }
}
