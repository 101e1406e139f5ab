//! Everything out again.

mod bench_common;
use bench_common::{HEAD, NOW, SESSION, bench};
use jiff::civil::date;
use proptest::prelude::*;
use serde_json::Value;
use std::collections::BTreeMap;
use trimtab::bench::export::{bench_json, session_csv, shots_csv};
use trimtab::bench::session::{ShotRow, parse_session};
use trimtab::bench::store::{NewSession, SessionMeta};
use trimtab::quantity::{Measured, TABLE};

fn logged() -> (tempfile::TempDir, trimtab::bench::Bench) {
    let (folder, mut bench) = bench();
    let session = NewSession {
        name: "first",
        build: "Ada driver 1",
        date: date(2026, 3, 5),
        meta: SessionMeta::default(),
        created_at: NOW,
    };
    let parsed = parse_session(SESSION, "day.csv", None).unwrap();
    bench.log_session(&session, &parsed).unwrap();
    (folder, bench)
}

#[test]
fn ref_csv() {
    let (_folder, bench) = logged();
    let mut out = Vec::new();
    session_csv(&bench.session("first").unwrap(), &mut out).unwrap();
    let text = String::from_utf8(out).unwrap();
    assert!(text.starts_with("shot,ball_speed_m_s,launch_angle_deg,launch_direction_deg,note\n1,67.27952,12.5,2,solid\n"), "{text}");
    assert!(text.contains("\n3,,13,1,\"low, toe\"\n"), "{text}");
}

#[test]
fn inv_json_holds_everything() {
    let (_folder, mut bench) = logged();
    bench
        .add_model("2026", &serde_json::json!({"a": 1}), NOW)
        .unwrap();
    bench.withdraw_session("first", NOW).unwrap();
    let mut out = Vec::new();
    bench_json(&bench, &mut out).unwrap();
    let all: Value = serde_json::from_slice(&out).unwrap();
    assert_eq!(all["format"], "trimtab bench");
    assert_eq!(all["heads"][0]["toml"], HEAD);
    assert_eq!(all["heads"][0]["says"]["loft_deg"], 10.5);
    assert_eq!(all["builds"][0]["says"]["gauge"]["name"], "bench gauge");
    let session = &all["sessions"][0];
    assert_eq!(session["hand"], "left");
    assert_eq!(session["withdrawn_at"], NOW);
    assert_eq!(session["shots"][0]["measured"]["ball_speed_m_s"], 67.27952);
    assert_eq!(session["shots"][2]["raw"]["ball_speed_mph"], "-");
    assert_eq!(all["models"][0]["body"]["a"], 1);
    // Stable: twice the same.
    let mut again = Vec::new();
    bench_json(&bench, &mut again).unwrap();
    assert_eq!(out, again);
}

/// Readings on their bounds pass the rounding of two conversions.
#[test]
fn inv_bounds_there_and_back() {
    for high in [false, true] {
        let mut measured = Measured::default();
        for info in TABLE {
            let (low, top) = info.bounds;
            measured.set(info.quantity, Some(if high { top } else { low }));
        }
        let shot = ShotRow {
            number: 1,
            raw: BTreeMap::new(),
            measured,
            note: None,
        };
        let mut out = Vec::new();
        shots_csv(&[shot], &mut out).unwrap();
        let text = String::from_utf8(out).unwrap();
        parse_session(&text, "t", None).unwrap();
        // 500 m in yards comes back as 500.00000000000006 m.
        let yards = if high { 500.0 } else { 0.0 } / trimtab::units::YARD;
        parse_session(&format!("total_yd\n{yards}\n"), "t", None).unwrap();
    }
}

fn shots() -> impl Strategy<Value = Vec<ShotRow>> {
    let values = prop::collection::vec(prop::option::of(0.0..=1.0f64), TABLE.len());
    let note = prop::option::of("[ -~é]{1,12}");
    prop::collection::vec((values, note), 1..6).prop_map(|rows| {
        let shot = |(n, (values, note)): (usize, (Vec<Option<f64>>, Option<String>))| {
            let mut measured = Measured::default();
            for (info, share) in TABLE.iter().zip(values) {
                let (low, high) = info.bounds;
                measured.set(info.quantity, share.map(|s| low + (high - low) * s));
            }
            let note: Option<String> = note.map(|n| n.trim().to_string());
            ShotRow {
                number: n as u32 * 2 + 1,
                raw: BTreeMap::new(),
                measured,
                note: note.filter(|n| !n.is_empty()),
            }
        };
        let shots = rows.into_iter().enumerate().map(shot);
        shots
            .filter(|s| s.measured.iter().next().is_some())
            .collect()
    })
}

proptest! {
    /// Out and in again: the same shots to 1e-12 of each value (rounding of two conversions).
    #[test]
    fn inv_csv_there_and_back(shots in shots()) {
        prop_assume!(!shots.is_empty());
        let mut out = Vec::new();
        shots_csv(&shots, &mut out).unwrap();
        let back = parse_session(&String::from_utf8(out).unwrap(), "t", None).unwrap();
        prop_assert_eq!(back.shots.len(), shots.len());
        for (was, is) in shots.iter().zip(&back.shots) {
            prop_assert_eq!((was.number, &was.note), (is.number, &is.note));
            for info in TABLE {
                let (a, b) = (was.measured.get(info.quantity), is.measured.get(info.quantity));
                prop_assert_eq!(a.is_some(), b.is_some());
                let (a, b) = (a.unwrap_or(0.0), b.unwrap_or(0.0));
                prop_assert!((a - b).abs() <= 1e-12 * a.abs(), "{} {a} {b}", info.name);
            }
        }
    }
}

/// The rounding of two conversions does not show: what was written comes out as it was written.
#[test]
fn inv_written_numbers_come_out_as_written() {
    for rpm in [2900, 2901, 2743, 10403, 3] {
        for deg in ["12.3", "-0.7", "0.1"] {
            let text = format!("shot,launch_direction_deg,spin_rate_rpm\n1,{deg},{rpm}\n");
            let shots = parse_session(&text, "t", None).unwrap().shots;
            let mut out = Vec::new();
            shots_csv(&shots, &mut out).unwrap();
            assert_eq!(String::from_utf8(out).unwrap(), text);
        }
    }
}
