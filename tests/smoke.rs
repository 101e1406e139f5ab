use nalgebra::*;
use trimtab::{
    club::*, correction::Local, flight::Conditions, hand::*, head::*, hosel::Sleeve, miss,
    physics::Physics, priors, proposal::*, units::*, workshop::Part,
};
fn driver() -> Head {
    let base = Head {
        name: "d".into(),
        kind: ClubKind::Driver,
        loft: 10.5 * DEG,
        lie: 58. * DEG,
        face: Face {
            bulge_radius: 0.305,
            roll_radius: 0.3,
            half_width: 0.05,
            half_height: 0.028,
        },
        restitution: None,
        bounce: None,
        volume: None,
        bare: MassProperties {
            mass: 0.203,
            cg: Vector3::new(0.001, -0.038, 0.003),
            inertia: Matrix3::from_diagonal(&Vector3::new(2900., 4100., 5300.)) * G_CM2,
        },
        tracks: vec![Track {
            name: "heel-toe".into(),
            path: vec![
                Vector3::new(-0.035, -0.055, -0.018),
                Vector3::new(0.035, -0.055, -0.018),
            ],
            masses: vec![0.012],
            size: Vector3::zeros(),
            stops: 0,
        }],
        ports: vec![],
        zones: vec![
            Zone {
                name: "heel".into(),
                at: Vector3::new(-0.035, -0.025, -0.015),
                max: 0.016,
                size: Vector3::zeros(),
            },
            Zone {
                name: "toe".into(),
                at: Vector3::new(0.04, -0.025, -0.005),
                max: 0.016,
                size: Vector3::zeros(),
            },
            Zone {
                name: "back".into(),
                at: Vector3::new(0., -0.08, -0.005),
                max: 0.016,
                size: Vector3::zeros(),
            },
        ],
        sleeve: Some(Sleeve {
            tilt: 1.2 * DEG,
            positions: (0..8).map(|i| i as f64 * 45. * DEG).collect(),
            reference: 0,
        }),
        bend: None,
        reference: Setting::default(),
    };
    let reference = Setting::neutral(&base);
    Head { reference, ..base }.from_measured().unwrap()
}
#[test]
fn smoke() {
    let head = driver();
    let setting = head.reference.clone();
    let club = Club {
        head: head.clone(),
        setting,
        length: 45. * INCH,
        parts: vec![
            Part {
                mass: 0.06,
                balance: 0.5,
            },
            Part {
                mass: 0.05,
                balance: 0.1,
            },
        ],
    };
    println!("sw {}", club.swing_weight(&club.setting));
    let physics = Physics::default();
    for text in [
        "starts 5 right, curves 15 right, carries 240, high",
        "starts 2 left, curves 18 left, carries 230",
        "leaks right",
        "curves 3 right, carries 235",
    ] {
        let m = Hand::Right.turn(miss::parse(text, Hand::Right).unwrap());
        let t = std::time::Instant::now();
        let s = Situation::from_words(
            &club,
            &physics,
            Conditions::default(),
            &m,
            &priors::player(&head),
            Goal::default(),
            Local::unlearned(),
            200,
            1,
        )
        .unwrap();
        let p = propose(&s, &Options::default()).unwrap();
        println!(
            "{text}: {:?} {} settings {:?} reach {:.2} in {:?}",
            p.answer,
            p.settings,
            p.held_back,
            p.reach,
            t.elapsed()
        );
        for r in std::iter::once(&p.now).chain(&p.rows) {
            println!(
                "  {} | start {:.1} curve {:.1} carry {:.1} apex {:.1} off {:.1} [{:.1},{:.1}] d {:.1} [{:.1},{:.1}] spin {:.0} loss {:.1} helps {:.2} sw {} sd {:.1}",
                r.steps
                    .iter()
                    .map(|s| s.instruction.clone())
                    .collect::<Vec<_>>()
                    .join("; "),
                r.ground[0].mean / YARD,
                r.ground[1].mean / YARD,
                r.ground[2].mean / YARD,
                r.ground[3].mean / YARD,
                r.offline.mean / YARD,
                r.offline.low / YARD,
                r.offline.high / YARD,
                r.offline_change.mean / YARD,
                r.offline_change.low / YARD,
                r.offline_change.high / YARD,
                r.spin_rate.mean / RPM,
                r.loss / YARD,
                r.helps,
                r.swing_weight,
                r.outcome.offline_sd / YARD
            );
        }
    }
}
