//! The log of record: what goes in comes out, whole or not at all.

mod bench_common;
use bench_common::{BUILD, HEAD, NOW, PLAYER, SESSION, bench, source};
use jiff::civil::{Date, date};
use rusqlite::Connection;
use serde_json::json;
use trimtab::bench::session::{ParsedSession, parse_session};
use trimtab::bench::store::{Added, NewProposal, NewSession, SessionFilter, SessionMeta};
use trimtab::bench::{Bench, BenchError, ErrorKind};
use trimtab::hand::Hand;
use trimtab::head::ClubKind;
use trimtab::quantity::{Measured, Quantity};
use trimtab::units::{DEG, MPH};

const DAY: Date = date(2026, 3, 5);

fn new(name: &str) -> NewSession<'_> {
    NewSession {
        name,
        build: "Ada driver 1",
        date: DAY,
        meta: SessionMeta::default(),
        created_at: NOW,
    }
}

fn parsed() -> ParsedSession {
    parse_session(SESSION, "day.csv", None).unwrap()
}

fn kind<T: std::fmt::Debug>(result: Result<T, BenchError>) -> ErrorKind {
    result.unwrap_err().kind()
}

#[test]
fn inv_descriptions_come_back() {
    let (_folder, mut bench) = bench();
    assert_eq!(bench.head("Heron 10").unwrap().1.kind, ClubKind::Driver);
    assert_eq!(bench.player("Ada").unwrap().hand, Hand::Left);
    assert_eq!(bench.build("Ada driver 1").unwrap().0.player, "Ada");
    assert_eq!(bench.heads().unwrap()[0].toml, HEAD);
    // The same again is no error, another one of that name is.
    let again = bench.add_head(&source("h", HEAD), NOW).unwrap();
    assert_eq!(again.0, Added::Same);
    let other = HEAD.replace("10.5", "10.6");
    assert_eq!(
        kind(bench.add_head(&source("h", &other), NOW)),
        ErrorKind::Conflict
    );
    let other = PLAYER.replace("95", "96");
    assert_eq!(
        kind(bench.add_player(&source("p", &other), NOW)),
        ErrorKind::Conflict
    );
    let other = BUILD.replace("sleeve_deg = 90", "");
    assert_eq!(
        kind(bench.add_build(&source("b", &other), NOW)),
        ErrorKind::Conflict
    );
    let other = BUILD.replace("\"Ada\"", "\"Bea\"");
    assert_eq!(
        kind(bench.add_build(&source("b", &other), NOW)),
        ErrorKind::NotFound
    );
    assert_eq!(
        kind(bench.add_head(&source("h", HEAD), "today")),
        ErrorKind::Usage
    );
    let error = bench.head("Heron").unwrap_err();
    assert_eq!(error.to_string(), "no head 'Heron'; there is Heron 10");
}

#[test]
fn inv_latest_build_is_of_the_last_day() {
    let (_folder, mut bench) = bench();
    let next = |name: &str, day: &str| {
        BUILD.replace("Ada driver 1", name).replace(
            "built_on = \"2026-03-02\"",
            &format!("built_on = \"{day}\"\nreplaces = \"Ada driver 1\""),
        )
    };
    bench
        .add_build(&source("b", &next("late", "2026-04-01")), NOW)
        .unwrap();
    bench
        .add_build(&source("b", &next("early", "2026-01-01")), NOW)
        .unwrap();
    assert_eq!(bench.latest_build("Ada", None).unwrap().0.name, "late");
    assert_eq!(
        bench.builds_of("Ada", None).unwrap(),
        ["early", "Ada driver 1", "late"]
    );
    assert_eq!(
        kind(bench.latest_build("Ada", Some(ClubKind::Iron))),
        ErrorKind::NotFound
    );
    assert_eq!(kind(bench.latest_build("Bea", None)), ErrorKind::NotFound);
}

#[test]
fn inv_session_comes_back() {
    let (_folder, mut bench) = bench();
    let meta = SessionMeta {
        temperature_c: Some(12.5),
        altitude_m: Some(1500.0),
        wind_toward_right_m_s: Some(2.0),
        turf_firmness: Some(0.9),
        ..SessionMeta::default()
    };
    let mut session = new("first");
    session.meta = meta.clone();
    let id = bench.log_session(&session, &parsed()).unwrap();
    let back = bench.session("first").unwrap();
    assert_eq!(back, bench.session(&id.to_string()).unwrap());
    assert_eq!(
        (back.info.id, back.info.hand, back.info.date),
        (id, Hand::Left, DAY)
    );
    assert_eq!(back.info.meta.source_file.as_deref(), Some("day.csv"));
    assert_eq!(back.shots.len(), 3);
    for (was, is) in parsed().shots.iter().zip(&back.shots) {
        assert_eq!(
            (was.number, was.measured, &was.raw, &was.note),
            (is.number, is.measured, &is.raw, &is.note)
        );
    }
    // Real-world frame, for a left-hander too.
    assert_eq!(
        back.shots[1].measured.get(Quantity::LaunchDirection),
        Some(-3.0 * DEG)
    );
    assert_eq!(
        back.shots[0].measured.get(Quantity::BallSpeed),
        Some(150.5 * MPH)
    );
    let conditions = back.info.meta.conditions();
    assert!((conditions.air.pressure - 84_556.0).abs() < 2.0); // ISO 2533, 1500 m
    assert_eq!(conditions.wind.toward_right, 2.0);
    assert_eq!(back.info.meta.turf(), trimtab::flight::Turf::firmness(0.9));
}

#[test]
fn inv_sessions_are_logged_once_and_whole() {
    let (_folder, mut bench) = bench();
    bench.log_session(&new("first"), &parsed()).unwrap();
    assert_eq!(
        kind(bench.log_session(&new("second"), &parsed())),
        ErrorKind::Conflict
    );
    let mut other = parsed();
    other.sha256 = "0".into();
    assert_eq!(
        kind(bench.log_session(&new("first"), &other)),
        ErrorKind::Conflict
    );
    assert_eq!(
        kind(bench.log_session(&new("7"), &other)),
        ErrorKind::BadInput
    );
    let mut lost = new("second");
    lost.build = "none";
    assert_eq!(kind(bench.log_session(&lost, &other)), ErrorKind::NotFound);
    let mut hot = new("second");
    hot.meta.temperature_c = Some(f64::NAN);
    assert_eq!(kind(bench.log_session(&hot, &other)), ErrorKind::BadInput);
    // A shot that the schema refuses, after one that it has taken: nothing stays.
    other.shots[2].number = 1;
    assert_eq!(
        kind(bench.log_session(&new("second"), &other)),
        ErrorKind::Conflict
    );
    assert_eq!(kind(bench.session("second")), ErrorKind::NotFound);
    assert_eq!(
        shots_by_session(&bench, &SessionFilter::default()),
        [(1, 3)]
    );
}

/// Ids of sessions with their numbers of shots, as they are streamed to another thread; each session
/// the same as when it is read alone.
fn shots_by_session(bench: &Bench, filter: &SessionFilter) -> Vec<(i64, usize)> {
    let door = bench.door();
    let read = move |filter: SessionFilter| {
        let (bench, mut seen) = (door.open().unwrap(), Vec::new());
        bench
            .each_session(&filter, |s, shots| -> Result<(), BenchError> {
                let alone = bench.session(&s.name)?;
                assert_eq!(*s, alone.info);
                let measured: Vec<Measured> = alone.shots.iter().map(|s| s.measured).collect();
                assert_eq!(shots, measured);
                seen.push((s.id, shots.len()));
                Ok(())
            })
            .unwrap();
        seen
    };
    let filter = filter.clone();
    std::thread::spawn(move || read(filter)).join().unwrap()
}

#[test]
fn inv_filters_and_withdrawal() {
    let (_folder, mut bench) = bench();
    for (n, day) in [(1, DAY), (2, date(2026, 4, 1)), (3, date(2026, 5, 1))] {
        let mut p = parsed();
        p.sha256 = n.to_string();
        let name = format!("s{n}");
        let session = NewSession {
            date: day,
            ..new(&name)
        };
        bench.log_session(&session, &p).unwrap();
    }
    let names = |bench: &Bench, f: &SessionFilter| -> Vec<String> {
        let sessions = bench.sessions(f).unwrap();
        sessions.into_iter().map(|s| s.name).collect()
    };
    let all = SessionFilter::default();
    let april = SessionFilter {
        from: Some(date(2026, 4, 1)),
        to: Some(date(2026, 4, 1)),
        ..all.clone()
    };
    assert_eq!(names(&bench, &april), ["s2"]);
    let hers = SessionFilter {
        player: Some("Ada".into()),
        ..all.clone()
    };
    assert_eq!(names(&bench, &hers), ["s1", "s2", "s3"]);
    let nobodys = SessionFilter {
        build: Some("x".into()),
        ..all.clone()
    };
    assert!(names(&bench, &nobodys).is_empty());
    bench.withdraw_session("s2", NOW).unwrap();
    assert_eq!(kind(bench.withdraw_session("2", NOW)), ErrorKind::Conflict);
    assert_eq!(names(&bench, &all), ["s1", "s3"]);
    let withdrawn = SessionFilter {
        withdrawn: true,
        ..all.clone()
    };
    assert_eq!(names(&bench, &withdrawn), ["s1", "s2", "s3"]);
    assert_eq!(bench.session_ids(&all).unwrap(), [1, 3]);
    assert_eq!(shots_by_session(&bench, &all), [(1, 3), (3, 3)]);
    let later = SessionFilter {
        ids: Some((2, 4)),
        ..all.clone()
    };
    assert_eq!(bench.session_ids(&later).unwrap(), [3]);
    assert_eq!(shots_by_session(&bench, &later), [(3, 3)]);
    // What was withdrawn can be logged again, under another name.
    let mut p = parsed();
    p.sha256 = "2".into();
    bench.log_session(&new("s2 again"), &p).unwrap();
}

#[test]
fn inv_documents_come_back() {
    let (_folder, mut bench) = bench();
    let body = json!({"carry_m": 0.1 + 0.2, "why": ["gear effect"], "tiny": 5e-324});
    let proposal = NewProposal {
        player: "Ada",
        build: "Ada driver 1",
        name: "slider to the heel",
        body: &body,
        created_at: NOW,
    };
    let id = bench.add_proposal(&proposal).unwrap();
    assert_eq!(bench.proposal(id).unwrap().body, body);
    assert_eq!(bench.latest_proposal(Some("Ada")).unwrap().id, id);
    assert_eq!(
        kind(bench.latest_proposal(Some("Bea"))),
        ErrorKind::NotFound
    );
    bench
        .add_verdict(Some(id), &json!({"verdict": "as predicted"}), NOW)
        .unwrap();
    bench.add_verdict(None, &json!({}), NOW).unwrap();
    assert_eq!(
        kind(bench.add_verdict(Some(9), &json!({}), NOW)),
        ErrorKind::NotFound
    );
    assert_eq!(bench.verdicts(Some(id)).unwrap().len(), 1);
    assert_eq!(bench.verdicts(None).unwrap().len(), 2);
    assert_eq!(bench.latest_model().unwrap(), None);
    bench.add_model("2025", &body, NOW).unwrap();
    let version = bench.add_model("2026", &json!({"n": 1}), NOW).unwrap();
    assert_eq!(bench.latest_model().unwrap().unwrap().version, version);
    assert_eq!(bench.model(1).unwrap().body, body);
    assert_eq!(kind(bench.model(3)), ErrorKind::NotFound);
}

#[test]
fn inv_files_that_are_no_bench() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    assert_eq!(kind(Bench::open(&at("none.db"))), ErrorKind::NotFound);
    std::fs::write(
        at("text"),
        "not a database, and long enough to be read as one".repeat(50),
    )
    .unwrap();
    assert_eq!(kind(Bench::open(&at("text"))), ErrorKind::BadInput);
    std::fs::write(at("empty"), "").unwrap();
    assert_eq!(kind(Bench::open(&at("empty"))), ErrorKind::BadInput);
    Connection::open(at("other"))
        .unwrap()
        .execute_batch("CREATE TABLE t (a)")
        .unwrap();
    let error = Bench::open(&at("other")).unwrap_err().to_string();
    assert!(
        error.ends_with("is not a bench: it was made by another program"),
        "{error}"
    );
    drop(Bench::create(&at("new")).unwrap());
    assert_eq!(kind(Bench::create(&at("new"))), ErrorKind::Conflict);
    Connection::open(at("new"))
        .unwrap()
        .pragma_update(None, "user_version", 99)
        .unwrap();
    let error = Bench::open(&at("new")).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::BadInput);
    assert!(error.to_string().contains("of schema 99"), "{error}");
}
