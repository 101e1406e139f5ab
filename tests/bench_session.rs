//! Session import: what is read, what is refused and what is said.

mod bench_common;
mod common;
use bench_common::{SESSION, source};
use proptest::prelude::*;
use trimtab::bench::session::{
    Expected, ParsedSession, SessionError, Severity, Usual, flown, parse_session, plausibility,
    read_mapping,
};
use trimtab::flight::Conditions;
use trimtab::head::ClubKind;
use trimtab::physics::Physics;
use trimtab::quantity::Measured;
use trimtab::quantity::Quantity::{self, *};
use trimtab::units::{DEG, MM, MPH, RPM, YARD};

fn read(text: &str) -> ParsedSession {
    parse_session(text, "day.csv", None).unwrap_or_else(|e| panic!("{text}\n{e}"))
}

fn refused(text: &str) -> String {
    parse_session(text, "day.csv", None)
        .unwrap_err()
        .to_string()
}

fn get(session: &ParsedSession, shot: usize, q: Quantity) -> f64 {
    session.shots[shot].measured.get(q).unwrap()
}

#[test]
fn ref_values_signs_and_notes() {
    let s = read(SESSION);
    assert_eq!(s.shots.len(), 3);
    assert_eq!(get(&s, 0, BallSpeed), 150.5 * MPH);
    assert_eq!(get(&s, 0, LaunchDirection), 2.0 * DEG);
    assert_eq!(get(&s, 1, LaunchDirection), -3.0 * DEG);
    assert_eq!(s.shots[2].measured.get(BallSpeed), None);
    assert_eq!(s.shots[2].note.as_deref(), Some("low, toe"));
    assert_eq!(s.shots[1].note, None);
    assert_eq!(s.shots[1].raw["launch_direction_deg"], "L 3");
    assert_eq!(s.columns[0].unit, "mph");
    assert!(s.ignored.is_empty());
}

/// The same shots in other clothes: mark of order, line ends, delimiter, decimal mark, capitals.
#[test]
fn alt_dialects_give_the_same_shots() {
    let plain = read(SESSION);
    let comma = "\u{feff}Shot ; BALL_SPEED_MPH;launch_angle_deg;Launch_Direction_deg;note\r\n\
                 1;150,5;12,5;2,0R;solid\r\n\r\n2;148;11;-3;\r\n3;n/a;13;r1;low, toe\r\n";
    let tab = "shot\tball_speed_mph\tlaunch_angle_deg\tlaunch_direction_deg\tnote\n\
               1\t150.5\t12.5\t2\tsolid\n2\t148\t11\t3 L\t\n3\tNA\t13\t1\tlow, toe\n\t\t\t\t\n";
    for text in [comma, tab] {
        let other = read(text);
        assert_eq!(other.shots.len(), 3, "{text}");
        for (a, b) in plain.shots.iter().zip(&other.shots) {
            assert_eq!(
                (a.number, a.measured, &a.note),
                (b.number, b.measured, &b.note)
            );
        }
    }
}

#[test]
fn ref_spin_from_its_parts() {
    let s = read("back_spin_rpm,side_spin_rpm\n3000,400 L\n3000,0\n-500,100\n,300\n");
    // By hand: 3000 and 400 make 3026.549 rpm, tilted by atan(400 / 3000) = 7.5946 deg.
    assert!((get(&s, 0, SpinRate) / RPM - 3_026.549_190_08).abs() < 1e-6);
    assert!((get(&s, 0, SpinAxis) / DEG + 7.594_643_368_59).abs() < 1e-9);
    assert_eq!(get(&s, 1, SpinAxis), 0.0);
    // Top spin and half a pair tell nothing.
    assert_eq!((s.shots.len(), s.skipped_lines), (2, vec![4, 5]));
    let both = read("spin_rate_rpm,back_spin_rpm,side_spin_rpm\n2500,3000,400\n");
    assert_eq!(get(&both, 0, SpinRate), 2500.0 * RPM);
}

#[test]
fn ref_mapping() {
    let toml = "[columns.ball_speed]\ncolumn = \"Speed of ball\"\nunit = \"mph\"\n\
                [columns.offline]\ncolumn = \"Side\"\nunit = \"yd\"\npositive = \"left\"\n\
                [columns.shot]\ncolumn = \"No\"\n";
    let mapping = read_mapping(&source("map.toml", toml)).unwrap();
    let text = "No,speed of ball,Side,Side,Club\n4,150,10,x,driver\n7,150,10 R,y,driver\n";
    let s = parse_session(text, "day.csv", Some(&mapping)).unwrap();
    assert_eq!(s.shots.iter().map(|s| s.number).collect::<Vec<_>>(), [4, 7]);
    assert_eq!(get(&s, 0, BallSpeed), 150.0 * MPH);
    assert_eq!(
        (get(&s, 0, Offline), get(&s, 1, Offline)),
        (-10.0 * YARD, 10.0 * YARD)
    );
    assert_eq!(s.ignored, ["Side (2)", "Club"]);
    assert_eq!(s.shots[1].raw["Side (2)"], "y");
    let missing = parse_session("No,Side\n1,2\n", "day.csv", Some(&mapping)).unwrap_err();
    let said = "day.csv:1: the mapping wants a column 'Speed of ball'; the file has No, Side";
    assert_eq!(missing.to_string(), said);
}

#[test]
fn ref_mapping_refusals() {
    #[rustfmt::skip]
    let rows = [
        ("[columns.speed]\ncolumn = \"a\"\n", "m:2:10: "),
        ("[columns.carry]\ncolumn = \"a\"\n", "unit must be one of m, yd, ft, in, cm, mm"),
        ("[columns.carry]\ncolumn = \"a\"\nunit = \"mph\"\n", "m:3:8: columns.carry.unit = mph: unit must be"),
        ("[columns.carry]\ncolumn = \"a\"\nunit = \"m\"\npositive = \"left\"\n", "only for quantities with a left"),
        ("[columns.carry]\ncolumn = \"a\"\nunits = \"m\"\n", "unknown field `units`"),
        ("[columns.note]\ncolumn = \"a\"\nunit = \"m\"\n", "has no unit"),
    ];
    for (toml, said) in &rows[1..] {
        let error = read_mapping(&source("m", toml)).unwrap_err().to_string();
        assert!(error.contains(said), "{toml}{error}");
    }
    let error = read_mapping(&source("m", rows[0].0))
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("columns.speed: no such quantity; there are ball_speed,"),
        "{error}"
    );
}

#[test]
fn ref_refusals() {
    #[rustfmt::skip]
    let rows = [
        ("", "day.csv: the file is empty"),
        ("ball_speed,launch_angle_deg\n60,12\n", "'ball_speed' lacks its unit: say ball_speed_m_s or"),
        ("\n\n", "day.csv: the file is empty"),
        ("a,b\n1,2\n", "day.csv:1: no column is known"),
        ("carry_m\n", "day.csv: no shots: no line has a value in any of the columns carry_m"),
        ("carry_m\nNA\n", "day.csv: no shots"),
        ("carry_m,carry_yd\n1,2\n", "day.csv:1: the columns 'carry_m' and 'carry_yd' hold the same thing"),
        ("shot,carry_m\n1,100\n1,100\n", "day.csv:3: shot = '1': the number is there twice"),
        ("shot,carry_m\n0,100\n", "day.csv:2: shot = '0': a whole number from 1"),
        ("carry_m,apex_m\n100\n", "day.csv:2: line = '100': the line has 1 cells, the header line 2"),
        ("carry_m\n100,5\n", "the line has 2 cells, the header line 1"),
        ("\n\ncarry_m,note\n\n100,\"a\nb\"\n\n9x,\n", "day.csv:8: carry_m = '9x': not a number; must be 0 to 400 m"),
        ("offline_yd\nR\n", "day.csv:2: offline_yd = 'R': not a number, R or L before or after it; must be -218.723 to 218.723 yd"),
    ];
    for (text, said) in rows {
        let error = refused(text);
        assert!(
            error.starts_with(said) || error.contains(said),
            "{text}:\n{error}"
        );
    }
}

#[test]
fn inv_all_bad_cells_are_told_and_twenty_shown() {
    let text = format!("ball_speed_m_s,carry_m\n{}", "165,230\n".repeat(25));
    let error = parse_session(&text, "day.csv", None).unwrap_err();
    let SessionError::BadCells { cells, .. } = &error else {
        panic!("{error}");
    };
    assert_eq!(cells.len(), 25);
    let said = error.to_string();
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines.len(), 22);
    assert_eq!(
        lines[0],
        "day.csv:2: ball_speed_m_s = '165': must be 1 to 110 m_s"
    );
    assert_eq!(
        lines[19],
        "day.csv:21: ball_speed_m_s = '165': must be 1 to 110 m_s"
    );
    assert_eq!(lines[20], "and 5 more");
    assert_eq!(
        lines[21],
        "every number in ball_speed_m_s would be allowed in mph, not m_s"
    );
}

/// A driver's usual numbers: centre and standard deviation, SI.
const DRIVER: [Expected; 3] = [
    (BallSpeed, 65.0, 6.0),
    (LaunchAngle, 12.0 * DEG, 3.0 * DEG),
    (StrikeToe, 0.0, 10.0 * MM),
];

fn usual(expected: &[Expected]) -> Usual<'_> {
    Usual {
        expected,
        ..Usual::default()
    }
}

/// What is found, if anything.
type Said = Option<(Severity, &'static str)>;

#[test]
fn ref_mix_ups_of_units() {
    #[rustfmt::skip]
    let rows: [(&str, &str, Said); 8] = [
        ("ball_speed_mph", "150\n148\n30\n152", None),
        // m/s under a header that says mph.
        ("ball_speed_mph", "66\n68\n65", Some((Severity::Error, "ball_speed looks like m_s, not mph: the median is 66.0, usual is 145.4 mph"))),
        // rad under deg: 0.2 deg is within 4 sd of 12 deg, so it cannot be told.
        ("launch_angle_deg", "0.2\n0.22\n0.19", None),
        // Slow, but within 4 sd.
        ("ball_speed_mph", "100\n101\n99", None),
        ("ball_speed_m_s", "33\n34\n34", Some((Severity::Warning, "the median is 34.0 m_s, usual is 65.0"))),
        ("ball_speed_mph", "66\n68", None), // two values say nothing
        ("ball_speed_mph,head_speed_mph", "150,103\n148,100\n152,104", None),
        ("ball_speed_mph,head_speed_mph", "150,46\n148,45\n152,46", Some((Severity::Error, "it would fit with head_speed in m_s"))),
    ];
    for (header, cells, want) in rows {
        let s = read(&format!("{header}\n{cells}\n"));
        let found = s.plausibility(&usual(&DRIVER));
        let refused = matches!(want, Some((Severity::Error, _)));
        assert_eq!(
            s.check_plausible(&usual(&DRIVER)).is_err(),
            refused,
            "{header}"
        );
        match want {
            None => assert!(found.is_empty(), "{header}: {found:?}"),
            Some((severity, said)) => {
                assert_eq!(found.len(), 1, "{header}: {found:?}");
                assert_eq!(found[0].severity, severity);
                assert!(found[0].text.contains(said), "{}", found[0]);
            }
        }
    }
}

#[test]
fn ref_carry_against_ball_speed() {
    let carries = |header: &str, cells: &str| {
        let text = format!("ball_speed_m_s,{header}\n{cells}\n");
        read(&text).plausibility(&Usual::default())
    };
    assert!(carries("carry_m", "65,210\n66,215\n64,20").is_empty());
    // Yards and metres cannot be told apart.
    assert!(carries("carry_yd", "65,210\n66,215\n64,205").is_empty());
    // Metres under a header that says feet.
    let found = carries("carry_ft", "65,210\n66,215\n64,205");
    assert!(
        found[0]
            .text
            .contains("it would fit with carry in m or carry in yd"),
        "{}",
        found[0]
    );
    // Topped all of them: odd, but no unit explains it.
    let found = carries("carry_m", "65,20\n66,22\n64,30");
    assert_eq!(found[0].severity, Severity::Warning);
    assert!(plausibility(&[], &usual(&DRIVER), &[]).is_empty());
}

/// Typical figures of skilled players (common practice, no source: the rows of
/// `data/constants.toml`), club by club: read in the unit that the column says they pass; metres
/// under yards and yards under metres do not.
#[test]
fn ref_carry_against_the_flight() {
    let physics = Physics::default();
    let range = physics.range(&Conditions::default());
    for club in common::clubs() {
        let row = |carry: f64| {
            format!(
                "{},{},{},{carry:.1}\n",
                club.ball_speed_m_s, club.launch_angle_deg, club.spin_rate_rpm
            )
        };
        let found = |unit: &str, carry: f64| {
            let header = format!("ball_speed_m_s,launch_angle_deg,spin_rate_rpm,carry_{unit}\n");
            let s = read(&(header + &row(carry - 1.0) + &row(carry) + &row(carry + 1.0)));
            let shots: Vec<Measured> = s.shots.iter().map(|s| s.measured).collect();
            s.plausibility(&Usual {
                flown: &flown(&shots, &range),
                ..Usual::default()
            })
        };
        let (m, yd) = (club.carry_m, club.carry_m / YARD);
        assert_eq!(found("m", m), [], "{club:?}");
        assert_eq!(found("yd", yd), [], "{club:?}");
        for (unit, carry, meant) in [("yd", m, "m"), ("m", yd, "yd"), ("ft", yd, "yd")] {
            let found = found(unit, carry);
            assert_eq!(found.len(), 1, "{club:?} {found:?}");
            assert_eq!(found[0].severity, Severity::Error);
            let said = format!(": it looks like {meant}, not {unit};");
            assert!(found[0].text.contains(&said), "{}", found[0]);
        }
        // Topped or into a net: odd, but no unit explains it.
        let net = found("m", 0.6 * m);
        assert_eq!((net.len(), net[0].severity), (1, Severity::Warning));
    }
    // Nothing to fly from: nothing is said.
    let s = read("carry_yd\n200\n201\n199\n");
    let shots: Vec<Measured> = s.shots.iter().map(|s| s.measured).collect();
    assert!(flown(&shots, &range).iter().all(|m| m.iter().count() == 0));
}

/// A usual session passes; with any two of its columns the other way round it is refused, and they
/// are named, wherever their values cannot be those of a ball.
#[test]
fn ref_columns_that_look_swapped() {
    use ClubKind::{Driver, Iron};
    let angles = ["launch_angle_deg", "launch_direction_deg", "spin_axis_deg"];
    let look = |kind, cells: [&str; 3]| {
        let s = read(&format!("{}\n{}\n", angles.join(","), cells.join("\n")));
        let found = s.plausibility(&Usual {
            kind: Some(kind),
            ..Usual::default()
        });
        found
            .into_iter()
            .map(|f| (f.severity, f.text))
            .collect::<Vec<_>>()
    };
    assert_eq!(look(Driver, ["12,1,4", "11,-2,6", "13,2,-3"]), []);
    assert_eq!(look(Iron, ["18,1 L,4", "17,-2,6 R", "3,2,-3"]), []);
    #[rustfmt::skip]
    let rows = [
        (Driver, ["1,12,4", "-2,11,6", "2,13,-3"], "launch_angle_deg and launch_direction_deg look swapped"),
        (Driver, ["12,14,1", "11,16,-2", "13,-13,2"], "launch_direction_deg and spin_axis_deg look swapped"),
        (Driver, ["3,1,12", "2,-2,11", "-3,2,13"], "launch_angle_deg and spin_axis_deg look swapped"),
        (Iron, ["1,18,4", "-2,17,6", "2,19,-3"], "launch_angle_deg and launch_direction_deg look swapped"),
        (Iron, ["1,2,34", "-2,3,33", "2,-2,35"], "launch_angle_deg and spin_axis_deg look swapped"),
        (Driver, ["12,44,43", "11,42,43", "13,-45,45"], "no two columns would be usual"),
    ];
    for (kind, cells, said) in rows {
        let found = look(kind, cells);
        assert_eq!(found.len(), 1, "{cells:?}: {found:?}");
        assert_eq!(found[0].0, Severity::Error);
        assert!(found[0].1.contains(said), "{}", found[0].1);
    }
    let s = read("carry_yd,offline_yd\n9,201\n12,199\n4,205\n");
    let found = s
        .check_plausible(&Usual::default())
        .unwrap_err()
        .to_string();
    let said = "day.csv: offline_yd is larger than carry_yd: carry_yd and offline_yd look swapped";
    assert_eq!(found, said);
    let s = read("carry_yd,offline_yd\n9,201\n212,19\n204,25 L\n");
    assert_eq!(s.plausibility(&Usual::default()), []);
}

proptest! {
    #[test]
    fn prop_no_text_panics(text in any::<String>(), rest in "[-0-9,;\t\"\n\r.RLnae ]{0,200}") {
        let _ = parse_session(&text, "t", None);
        for header in ["ball_speed_mph,offline_yd,shot,note", "offline_m;back_spin_rpm;side_spin_rpm", "shot\tcarry_m"] {
            if let Ok(s) = parse_session(&format!("{header}\n{rest}{text}"), "t", None) {
                let _ = s.plausibility(&usual(&DRIVER));
                prop_assert!(s.shots.iter().all(|s| s.measured.iter().all(|(_, v)| v.is_finite())));
            }
        }
    }

    /// The line in a complaint is the line in the file, whatever stands before it.
    #[test]
    fn prop_line_numbers(before in prop::collection::vec(0..4usize, 0..12), crlf in any::<bool>()) {
        let mut text = "carry_m,note\n".to_string();
        for kind in before {
            text += ["100,a\n", "\n", "100,\"a\nb\"\n", "100,\"\n\n\"\n"][kind];
        }
        let line = text.matches('\n').count() + 1;
        text += "bad,\n";
        if crlf {
            text = text.replace('\n', "\r\n");
        }
        let said = refused(&text);
        prop_assert!(said.starts_with(&format!("day.csv:{line}: ")), "{}\n{}", text, said);
    }
}

/// A bad shot number takes no other line's number.
#[test]
fn inv_a_bad_shot_number_is_blamed_alone() {
    for (numbers, bad) in [([0, 1, 2, 3], 2), ([1, 1, 2, 3], 3), ([2, 0, 3, 4], 3)] {
        let lines: String = numbers.iter().map(|n| format!("{n},100\n")).collect();
        let error = refused(&format!("shot,carry_m\n{lines}"));
        assert!(error.starts_with(&format!("day.csv:{bad}: ")), "{error}");
        assert_eq!(error.lines().count(), 1, "{numbers:?}: {error}");
    }
}
