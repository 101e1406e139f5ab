//! The file itself: older versions, several writers at once, damage.

mod bench_common;
use bench_common::{BUILD, HEAD, NOW, PLAYER, SESSION, bench, source};
use jiff::civil::date;
use proptest::prelude::*;
use rusqlite::{Connection, params};
use trimtab::bench::session::parse_session;
use trimtab::bench::store::{NewSession, SessionFilter, SessionInfo, SessionMeta};
use trimtab::bench::{Bench, BenchError};
use trimtab::quantity::{Measured, Quantity};

/// A file of schema 1, as that version of the program left it, holding data.
const VERSION_1: &str = include_str!("bench_common/version_1.sql");

#[test]
fn regress_version_1_is_brought_up_to_date() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.db");
    let old = Connection::open(&path).unwrap();
    old.execute_batch(VERSION_1).unwrap();
    let rows = [
        (
            "INSERT INTO heads VALUES ('Heron 10', 'driver', ?1, ?2)",
            HEAD,
        ),
        ("INSERT INTO players VALUES ('Ada', 'left', ?1, ?2)", PLAYER),
        (
            "INSERT INTO builds VALUES ('Ada driver 1', 'Ada', 'Heron 10', '2026-03-02', NULL, ?1, ?2)",
            BUILD,
        ),
    ];
    for (text, toml) in rows {
        old.execute(text, params![toml, NOW]).unwrap();
    }
    // Heads that are refused only since then stay readable.
    let front = HEAD.replace("Heron 10", "Front").replace("-38.0", "2.5");
    old.execute(
        "INSERT INTO heads VALUES ('Front', 'driver', ?1, ?2)",
        params![front, NOW],
    )
    .unwrap();
    old.execute_batch(
        "INSERT INTO sessions VALUES (1, 'first', 'Ada driver 1', '2026-03-05', '{}', 'x', '2026-03-05T10:00:00Z', NULL);
         INSERT INTO shots (session, number, raw, ball_speed) VALUES (1, 1, '{}', 66.5);",
    )
    .unwrap();
    drop(old);
    let mut bench = Bench::open(&path).unwrap();
    assert_eq!(bench.schema_version().unwrap(), 3);
    let session = bench.session("first").unwrap();
    assert_eq!(
        session.shots[0].measured.get(Quantity::BallSpeed),
        Some(66.5)
    );
    assert_eq!(bench.build("Ada driver 1").unwrap().0.head, "Heron 10");
    bench
        .add_model("2026", &serde_json::json!({}), NOW)
        .unwrap();
    assert_eq!(bench.head("Front").unwrap().0.measured.cg_mm[1], 2.5);
    let again = front.replace("\"Front\"", "\"Front 2\"");
    assert!(bench.add_head(&source("h", &again), NOW).is_err());
    drop(bench);
    assert_eq!(Bench::open(&path).unwrap().models().unwrap().len(), 1);
}

/// Four writers and a reader, each with a connection of its own: nothing is lost, and the reader
/// sees whole sessions only.
#[test]
fn inv_writers_and_readers_at_once() {
    const WRITERS: usize = 4;
    const EACH: usize = 12;
    let (folder, bench) = bench();
    let path = folder.path().join("bench.db");
    let parsed = parse_session(SESSION, "day.csv", None).unwrap();
    std::thread::scope(|scope| {
        for w in 0..WRITERS {
            let (path, parsed) = (&path, &parsed);
            scope.spawn(move || {
                let mut bench = Bench::open(path).unwrap();
                for n in 0..EACH {
                    let mut parsed = parsed.clone();
                    parsed.sha256 = format!("{w}-{n}");
                    let name = format!("writer {w} session {n}");
                    let session = NewSession {
                        name: &name,
                        build: "Ada driver 1",
                        date: date(2026, 3, 5),
                        meta: SessionMeta::default(),
                        created_at: NOW,
                    };
                    bench.log_session(&session, &parsed).unwrap();
                }
            });
        }
        let reader = Bench::open(&path).unwrap();
        let mut seen = 0;
        while seen < WRITERS * EACH {
            let whole = |s: &SessionInfo, shots: &mut [Measured]| -> Result<(), BenchError> {
                assert_eq!(shots.len(), 3, "{}", s.name);
                Ok(())
            };
            let all = SessionFilter::default();
            let count = reader.each_session(&all, whole).unwrap();
            assert!(count >= seen);
            seen = count;
        }
    });
    assert_eq!(
        bench.sessions(&SessionFilter::default()).unwrap().len(),
        WRITERS * EACH
    );
}

/// Two programs may open an old file at once.
#[test]
fn inv_migration_by_several_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.db");
    Connection::open(&path)
        .unwrap()
        .execute_batch(VERSION_1)
        .unwrap();
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| assert_eq!(Bench::open(&path).unwrap().schema_version().unwrap(), 3));
        }
    });
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Random bytes, and a good file with random bytes in it: refused or read, never a panic.
    #[test]
    fn prop_no_file_panics(junk in prop::collection::vec(any::<u8>(), 0..3000), at in 0.0..1.0f64) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("junk");
        std::fs::write(&path, &junk).unwrap();
        prop_assert!(Bench::open(&path).is_err());
        let (good, bench) = bench();
        drop(bench);
        let path = good.path().join("bench.db");
        let mut bytes = std::fs::read(&path).unwrap();
        let start = (at * bytes.len() as f64) as usize;
        for (to, from) in bytes[start..].iter_mut().zip(&junk) {
            *to = *from;
        }
        std::fs::write(&path, bytes).unwrap();
        if let Ok(bench) = Bench::open(&path) {
            let _ = bench.build("Ada driver 1");
            let _ = bench.heads();
            let all = SessionFilter::default();
            let _ = bench.each_session(&all, |_, _| Ok::<(), BenchError>(()));
            let _ = trimtab::bench::export::bench_json(&bench, &mut Vec::new());
        }
    }
}
