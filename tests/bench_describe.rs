//! Descriptions: what they become and how they are refused.

mod bench_common;
use bench_common::{BUILD, HEAD, PLAYER, source};
use nalgebra::{Matrix3, Vector3};
use proptest::prelude::*;
use trimtab::bench::describe::{SettingFile, read_build, read_head, read_player};
use trimtab::bench::session::read_mapping;
use trimtab::hosel::{Attitude, angle_change};
use trimtab::units::{DEG, INCH, MPH, YARD};

#[test]
fn ref_head_is_what_was_measured_at_its_reference() {
    let (_, head) = read_head(&source("head.toml", HEAD)).unwrap();
    let whole = head.mass_properties(&head.reference);
    assert!((whole.mass - 0.203).abs() < 1e-15);
    assert!((whole.cg - Vector3::new(1.0, -38.0, 3.0) * 1e-3).norm() < 1e-15);
    let inertia = Matrix3::from_diagonal(&Vector3::new(2800.0, 4100.0, 5200.0)) * 1e-7;
    assert!((whole.inertia - inertia).norm() < 1e-15);
    assert!((head.bare.mass - (0.203 - 0.012 - 0.007)).abs() < 1e-15);
    assert_eq!(head.face.roll_radius, f64::INFINITY);
    assert!((head.volume.unwrap() - 455e-6).abs() < 1e-15);
}

#[test]
fn ref_player_in_si() {
    let player = read_player(&source("p", PLAYER)).unwrap();
    assert_eq!(player.head_speed(), Some(95.0 * MPH));
    let aim = player.aim();
    assert_eq!((aim.start, aim.curve), (Some(2.0 * YARD), Some(-3.0)));
}

#[test]
fn ref_build_takes_the_gauge_offset_off() {
    let (_, head) = read_head(&source("h", HEAD)).unwrap();
    let build = read_build(&source("b", BUILD)).unwrap();
    let club = build.club(&head, &source("b", BUILD)).unwrap();
    assert!((club.head.loft - 9.9 * DEG).abs() < 1e-12);
    assert!((club.head.lie - 58.7 * DEG).abs() < 1e-12);
    assert_eq!(club.length, 45.0 * INCH);
    assert_eq!(club.head.bare, head.bare);
    // Named levers are set, the others stay at the head's reference.
    assert!((club.setting.tracks[0].position - 0.2).abs() < 1e-15);
    assert_eq!(club.setting.tracks[0].mass, 0.012);
    assert_eq!(club.setting.ports, [0.007]);
    assert_eq!(club.setting.clock, 2);
    club.check().unwrap();
}

/// Readings at the setting: turned by the setting, the reference angles show the readings again.
#[test]
fn inv_readings_at_the_setting_come_back() {
    let (_, head) = read_head(&source("h", HEAD)).unwrap();
    let text = BUILD.replace("[measured]", "[measured]\ntaken_at = \"setting\"");
    let build = read_build(&source("b", &text)).unwrap();
    let club = build.club(&head, &source("b", &text)).unwrap();
    let turned = club.head.attitude(&club.setting, Attitude::FaceSquared);
    let change = angle_change(&turned, club.head.loft);
    assert!((club.head.loft + change.loft - 9.9 * DEG).abs() < 1e-12);
    assert!((club.head.lie + change.lie - 58.7 * DEG).abs() < 1e-12);
    // By hand, first order: from clock 0 to 90 the head turns by 1.5 deg about the fore-and-aft
    // axis and by 1.5 deg flat; squaring the face about the shaft gives some of that to the loft.
    // The bend adds its 0.5.
    let ((sin, cos), tan_loft) = (club.head.lie.sin_cos(), club.head.loft.tan());
    let want = 9.9 - 1.5 * (sin + cos * (cos - tan_loft) / sin) - 0.5;
    assert!(
        (club.head.loft / DEG - want).abs() < 0.05,
        "{} {want}",
        club.head.loft / DEG
    );
}

/// There and back: setting, file form, TOML, file form, setting.
#[test]
fn inv_setting_there_and_back() {
    let (_, head) = read_head(&source("h", HEAD)).unwrap();
    let build = read_build(&source("b", BUILD)).unwrap();
    let club = build.club(&head, &source("b", BUILD)).unwrap();
    let mut next = build.clone();
    next.name = "Ada driver 2".into();
    next.replaces = Some(build.name.clone());
    next.setting = SettingFile::of(&club.setting, &club.head);
    let text = next.to_toml();
    let read = read_build(&source("new", &text)).unwrap();
    assert_eq!(read, next);
    assert_eq!(read.club(&head, &source("new", &text)).unwrap(), club);
}

/// What is changed in a good file, what is said, and where.
#[test]
fn ref_refusals_of_heads() {
    #[rustfmt::skip]
    let rows = [
        ("loft_deg = 10.5", "loft_deg = 105", "head.toml:4:12: loft_deg = 105: 0 to 75 deg (static loft)"),
        ("loft_deg = 10.5", "loft_deg = 0.18", "head.toml:4:12: loft_deg = 0.18: 4 to 20 deg with kind = \"driver\", usual 8 to 13"),
        ("loft_deg = 10.5", "loft_deg = 56", "loft_deg = 56: 4 to 20 deg with kind = \"driver\""),
        ("kind = \"driver\"", "kind = \"wedge\"", "loft_deg = 10.5: 38 to 75 deg with kind = \"wedge\""),
        ("loft_deg = 10.5", "loft_deg = nan", "head.toml:4:12: loft_deg = nan: must be a finite number"),
        ("loft_deg = 10.5", "loft_deg = inf", "head.toml:4:12: loft_deg = inf: must be a finite number"),
        ("loft_deg = 10.5", "", "missing field `loft_deg`"),
        ("loft_deg = 10.5", "loft_deg = 10.5\nloft = 3", "head.toml:5:1: unknown field `loft`"),
        ("loft_deg = 10.5", "loft_deg = \"ten\"", "head.toml:4:12: invalid type: string \"ten\""),
        ("loft_deg = 10.5", "loft_deg = ", "head.toml:4:12: "),
        ("mass_g = 203.0", "mass_g = 20300", "measured.mass_g = 20300: 80 to 600 g"),
        ("[8, 12, 16]", "[]", "track[0].masses_g = []: 1 to 100 masses"),
        ("[8, 12, 16]", "[8, 16, 12]", "each larger than the one before"),
        ("[[-35, -55, -18], [35, -55, -18]]", "[[-35, -55, -18]]", "track[0].path_mm: 2 to 100 points"),
        ("reference_deg = 0", "reference_deg = 10", "head.toml:34:17: sleeve.reference_deg = 10: the sleeve has 0, 45,"),
        ("screw_g = { sole = 7 }", "screw_g = { soul = 7 }", "measured.setting.screw_g.soul: 'Heron 10' has no such lever; it has track heel-toe; screw_g sole; hot_melt_g heel"),
        ("screw_g = { sole = 7 }", "screw_g = { sole = 5 }", "sole: 5.0 g is not at hand; there are 3.0, 7.0, 11.0 g"),
        ("[2800, 4100, 5200]", "[2800, 4100, 9200]", "no rigid body has principal moments"),
        ("name = \"Heron 10\"", "name = \"\"", "head.toml:2:8: name = \"\": a name has"),
        ("position_percent = 50", "position_percent = 150", "measured.setting.track.heel-toe.position_percent = 150: 0 to 100 %"),
    ];
    for (from, to, said) in rows {
        assert!(HEAD.contains(from));
        let text = HEAD.replacen(from, to, 1);
        let error = read_head(&source("head.toml", &text)).unwrap_err();
        assert!(
            error.to_string().contains(said),
            "{to}:\n{error}\nwanted: {said}"
        );
    }
}

#[test]
fn inv_everything_wrong_is_told_at_once() {
    let text = HEAD
        .replace("10.5", "105")
        .replace("58.0", "inf")
        .replace("kind", "sort");
    let error = read_head(&source("head.toml", &text)).unwrap_err();
    assert_eq!(error.violations.len(), 3, "{error}");
}

#[test]
fn ref_refusals_of_builds_and_players() {
    let (_, head) = read_head(&source("h", HEAD)).unwrap();
    #[rustfmt::skip]
    let rows = [
        ("length_in = 45", "", "length_in: give length_in or length_mm"),
        ("length_in = 45", "length_in = 45\nlength_mm = 1143", "length_in: give length_in or length_mm"),
        ("length_in = 45", "length_in = 1143", "20 to 59 in"),
        ("2026-03-02", "2026-02-30", "built_on = 2026-02-30: a day as in"),
        ("\"D2.5\"", "\"D25\"", "is no swing weight"),
        ("balance_in = 4", "", "part[1] = grip: give balance_in or balance_mm"),
        ("sleeve_deg = 90", "sleeve_deg = 80", "the sleeve has 0, 45"),
        ("bend_loft_deg = 0.5", "bend_loft_deg = 3", "the hosel takes 2.00 deg"),
        ("hot_melt_g = { heel = 4 }", "hot_melt_g = { toe = 4 }", "b:26:22: "),
        ("heel-toe =", "toe-heel =", "setting.track.toe-heel: 'Heron 10' has no such lever"),
    ];
    for (from, to, said) in rows {
        let text = BUILD.replacen(from, to, 1);
        let source = source("b", &text);
        let error = read_build(&source)
            .and_then(|b| b.club(&head, &source))
            .unwrap_err();
        assert!(
            error.to_string().contains(said),
            "{to}:\n{error}\nwanted: {said}"
        );
    }
    let twice = format!("head_speed_m_s = 40{PLAYER}");
    let error = read_player(&source("p", &twice)).unwrap_err();
    assert!(error.to_string().contains("not both"), "{error}");
}

#[test]
fn inv_stops_hold_the_slider() {
    let text = HEAD.replace("size_mm = [14, 14, 8]", "stops = 4");
    let text = text.replace("position_percent = 50", "position_percent = 33.3");
    let (_, head) = read_head(&source("h", &text)).unwrap();
    assert_eq!(head.reference.tracks[0].position, 1.0 / 3.0);
    let between = text.replace("33.3", "50");
    let error = read_head(&source("h", &between)).unwrap_err().to_string();
    assert!(
        error.contains("stops at 0.0, 33.3, 66.7, 100.0 %"),
        "{error}"
    );
}

proptest! {
    #[test]
    fn prop_no_text_panics(text in ".{0,200}", at in 0..HEAD.len(), cut in 0..40usize) {
        let mangled = |good: &str| {
            let at = at % good.len();
            let end = (at + cut).min(good.len());
            format!("{}{}{}", &good[..at], text, &good[end..])
        };
        for t in [text.clone(), mangled(HEAD), mangled(PLAYER), mangled(BUILD)] {
            let s = source("t", &t);
            let _ = read_head(&s);
            let _ = read_player(&s);
            let _ = read_mapping(&s);
            if let Ok(build) = read_build(&s) {
                let (_, head) = read_head(&source("h", HEAD)).unwrap();
                let _ = build.club(&head, &s);
            }
        }
    }

    /// Numbers of any size, in any place of the head file.
    #[test]
    fn prop_no_number_panics(n in any::<f64>(), place in 0..30usize) {
        let numbers: Vec<_> = HEAD.match_indices(|c: char| c.is_ascii_digit()).collect();
        let (at, _) = numbers[place * numbers.len() / 30];
        let text = format!("{}{n:?}{}", &HEAD[..at], &HEAD[at + 1..]);
        let _ = read_head(&source("t", &text));
    }
}
