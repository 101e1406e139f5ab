//! Flight: invariants over scattered launches, batches, threads and nonsense.

mod common;
use common::*;
use nalgebra::Vector3;
use trimtab::air::Air;
use trimtab::ball::Ball;
use trimtab::flight::{AeroSet, Conditions, Flight, Flights, Launches, Precision, Range, Wind};
use trimtab::hand::Mirror;
use trimtab::launch::Launch;
use trimtab::units::DEG;

/// Typical launches from the driver to the wedge (common practice, no source).
fn typical() -> [Launch; 5] {
    [
        launch(74.7, 10.9, 0.0, 2686.0, 0.0),
        launch(70.6, 9.2, 0.0, 3655.0, 0.0),
        launch(59.0, 12.1, 0.0, 5361.0, 0.0),
        launch(53.6, 16.3, 0.0, 7097.0, 0.0),
        launch(45.6, 24.2, 0.0, 9304.0, 0.0),
    ]
}

fn fly(l: &Launch, c: &Conditions) -> Flight {
    Range::new(&Ball::modern(), &AeroSet::default(), c).fly(l)
}

fn same(all: &Flights, i: usize, f: &Flight) -> bool {
    let a = [
        all.offline[i],
        all.downrange[i],
        all.apex[i],
        all.landing_angle[i],
    ];
    let b = [f.offline, f.downrange, f.apex, f.landing_angle()];
    (0..4).all(|k| a[k].to_bits() == b[k].to_bits())
}

#[test]
fn inv_batch_equals_single_to_the_bit() {
    let aero = AeroSet::default();
    for c in [Conditions::default(), scattered(3).1, scattered(4).1] {
        let launches: Launches = (0..1000)
            .map(|i| scattered(i).0)
            .collect::<Vec<_>>()
            .iter()
            .collect();
        let range = Range::new(&Ball::modern(), &aero, &c);
        let mut all = Flights::default();
        range.fly_all(&launches, &mut all);
        for i in 0..launches.len() {
            let f = range.fly(&launches.get(i));
            assert!(same(&all, i, &f), "{i}: {f:?}");
            assert!(f.carry() > 1.0, "{i} went nowhere");
        }
    }
}

#[test]
fn inv_batch_equals_single_for_flights_without_end() {
    // No drag and far too fast: beyond the longest flight that is followed.
    let (aero, c) = (AeroSet::default(), Conditions::default());
    let ball = Ball {
        drag_factor: 0.0,
        lift_factor: 0.0,
        ..Ball::conforming()
    };
    let range = Range::new(&ball, &aero, &c);
    let launches: Launches = (0..50)
        .map(|i| {
            launch(
                spread(i, 0, 20.0, 400.0),
                spread(i, 1, 5.0, 89.0),
                0.0,
                2000.0,
                0.0,
            )
        })
        .collect::<Vec<_>>()
        .iter()
        .collect();
    let mut all = Flights::default();
    range.fly_all(&launches, &mut all);
    for i in 0..launches.len() {
        let f = range.fly(&launches.get(i));
        assert!(
            same(&all, i, &f),
            "{i}: {f:?} against {} m",
            all.downrange[i]
        );
    }
}

#[test]
fn inv_threads_do_not_show() {
    let (aero, c) = (AeroSet::default(), scattered(5).1);
    let launches: Launches = (0..3000)
        .map(|i| scattered(i).0)
        .collect::<Vec<_>>()
        .iter()
        .collect();
    let range = Range::new(&Ball::modern(), &aero, &c);
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("pool");
        let mut out = Flights::default();
        pool.install(|| range.fly_all(&launches, &mut out));
        out
    };
    let (one, two) = (with(1), with(2));
    for i in 0..launches.len() {
        assert_eq!(one.offline[i].to_bits(), two.offline[i].to_bits());
        assert_eq!(one.downrange[i].to_bits(), two.downrange[i].to_bits());
        assert_eq!(one.apex[i].to_bits(), two.apex[i].to_bits());
    }
}

#[test]
fn prop_mirror_image() {
    for i in 0..500 {
        let (l, c) = scattered(i);
        let (a, b) = (fly(&l, &c), fly(&l.mirrored(), &c.mirrored()));
        assert!((a.offline + b.offline).abs() < 1e-9 * 200.0, "{l:?}");
        assert!((a.downrange - b.downrange).abs() < 1e-9 * 200.0, "{l:?}");
        assert!((a.apex - b.apex).abs() < 1e-9 * 200.0, "{l:?}");
    }
}

#[test]
fn prop_no_tilt_and_no_wind_is_straight() {
    for i in 0..200 {
        let (l, c) = scattered(i);
        let l = Launch {
            launch_direction: 0.0,
            spin_axis: 0.0,
            ..l
        };
        let c = Conditions {
            wind: Wind::default(),
            ..c
        };
        assert!(fly(&l, &c).offline.abs() < 1e-12, "{l:?}");
        let right = Launch {
            spin_axis: 0.1,
            ..l
        };
        assert!(
            fly(&right, &c).offline > 0.0,
            "a tilt to the right curves right: {l:?}"
        );
    }
}

#[test]
fn prop_dense_air_and_head_wind_cost_carry() {
    for l in typical() {
        let mut before = f64::INFINITY;
        for pressure in [70_000.0, 80_000.0, 90_000.0, 100_000.0, 105_000.0] {
            let air = Air {
                pressure,
                ..Air::default()
            };
            let c = Conditions {
                air,
                ..Conditions::default()
            };
            let carry = fly(&l, &c).carry();
            assert!(carry < before, "{l:?} at {pressure} Pa");
            before = carry;
        }
        let mut before = f64::INFINITY;
        for toward_target in [6.0, 3.0, 0.0, -3.0, -6.0] {
            let wind = Wind {
                toward_target,
                ..Wind::default()
            };
            let carry = fly(
                &l,
                &Conditions {
                    wind,
                    ..Conditions::default()
                },
            )
            .carry();
            assert!(carry < before, "{l:?} in {toward_target} m/s");
            before = carry;
        }
    }
}

#[test]
fn prop_a_cross_wind_drifts_with_it() {
    for l in typical() {
        let wind = Wind {
            toward_right: 4.0,
            ..Wind::default()
        };
        let f = fly(
            &l,
            &Conditions {
                wind,
                ..Conditions::default()
            },
        );
        assert!(f.offline > 3.0 && f.offline < 4.0 * f.time, "{f:?}");
    }
}

#[test]
fn prop_tiny_changes_stay_tiny() {
    let c = Conditions::default();
    for i in 0..300 {
        let (l, _) = scattered(i);
        let f = fly(&l, &c);
        for which in 0..4 {
            let mut m = l;
            match which {
                0 => m.ball_speed *= 1.0 + 1e-6,
                1 => m.launch_angle += 1e-6,
                2 => m.spin_rate *= 1.0 + 1e-6,
                _ => m.spin_axis += 1e-6,
            }
            let g = fly(&m, &c);
            // A part in a million of at most 300 m, with room for a slope of ten.
            assert!((f.downrange - g.downrange).abs() < 3e-3, "{which} {l:?}");
            assert!((f.offline - g.offline).abs() < 3e-3, "{which} {l:?}");
            assert!((f.apex - g.apex).abs() < 3e-3, "{which} {l:?}");
        }
    }
}

/// No jump where the apex or the landing passes from one step of the integrator to the next: the
/// launch angles at which that happens are found by bisection.
#[test]
fn inv_no_jump_where_a_step_ends() {
    let aero = AeroSet::default();
    let mut joints = [0; 2];
    for i in 0..120 {
        let (l, c) = scattered(i);
        let range = Range::new(&Ball::modern(), &aero, &c);
        let at = |angle: f64| {
            range.trace(&Launch {
                launch_angle: angle,
                ..l
            })
        };
        // In which step it is: that of the highest point, and that of the landing.
        let steps = |angle: f64| {
            let points = at(angle).1;
            let top = points
                .windows(2)
                .position(|w| w[1].position.z < w[0].position.z);
            [top.unwrap_or(0), points.len()]
        };
        for (which, joints) in joints.iter_mut().enumerate() {
            let (mut lo, mut hi) = (l.launch_angle, l.launch_angle + 2.0 * DEG);
            let before = steps(lo)[which];
            if steps(hi)[which] == before {
                continue;
            }
            while hi - lo > 1e-14 && 0.5 * (lo + hi) > lo && 0.5 * (lo + hi) < hi {
                let mid = 0.5 * (lo + hi);
                if steps(mid)[which] == before {
                    lo = mid;
                } else {
                    hi = mid;
                }
            }
            *joints += 1;
            let (a, b) = (at(lo).0, at(hi).0);
            for (a, b) in [
                (a.offline, b.offline),
                (a.downrange, b.downrange),
                (a.apex, b.apex),
                (a.time, b.time),
            ] {
                assert!((a - b).abs() < 1e-9, "{i} {which}: {a} {b}");
            }
        }
    }
    println!("joints of apex and landing: {joints:?}");
    assert!(joints.iter().all(|n| *n >= 10), "{joints:?}");
}

#[test]
fn prop_energy_falls_and_apex_is_the_top() {
    let aero = AeroSet::default();
    let mut balls = vec![Ball::modern(); 60];
    // A ball with much lift and little drag climbs, dives and climbs again.
    for (i, b) in balls.iter_mut().enumerate().skip(40) {
        b.drag_factor = spread(i, 3, 0.02, 0.3);
        b.lift_factor = spread(i, 4, 1.0, 4.0);
    }
    for (i, ball) in balls.iter().enumerate() {
        let (l, mut c) = scattered(i);
        c.wind = Wind::default();
        let range = Range::new(ball, &aero, &c).precision(Precision::Tight);
        let (f, points) = range.trace(&l);
        let mut before = f64::INFINITY;
        // The last step is cut short by the ground.
        for w in points[..points.len() - 1].windows(2) {
            let v: Vector3<f64> = (w[1].position - w[0].position) / (w[1].time - w[0].time);
            let height = 0.5 * (w[0].position.z + w[1].position.z);
            let energy = 0.5 * v.norm_squared() + 9.80665 * height;
            assert!(energy < before, "{i}: energy grew at {:.3} s", w[0].time);
            before = energy;
        }
        assert!(f.velocity.norm() < l.ball_speed);
        let top = points.iter().map(|p| p.position.z).fold(0.0, f64::max);
        assert!(
            (f.apex - top).abs() < 1e-3,
            "{i}: apex {} but {top} was passed",
            f.apex
        );
        assert!(f.spin_rate < l.spin_rate && f.spin_rate > 0.0);
    }
}

#[test]
fn prop_nonsense_neither_panics_nor_hangs() {
    let odd = [
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        -1.0,
        0.0,
        1e-300,
        1e6,
        1e300,
    ];
    let aero = AeroSet::default();
    let range = Range::new(&Ball::modern(), &aero, &Conditions::default());
    let mut launches = Vec::new();
    for a in odd {
        for b in odd {
            for which in 0..10 {
                let mut v = [70.0, 0.2, 0.0, 300.0, 0.0];
                v[which % 5] = a;
                v[(which + 1 + which / 5) % 5] = b;
                launches.push(Launch {
                    ball_speed: v[0],
                    launch_angle: v[1],
                    launch_direction: v[2],
                    spin_rate: v[3],
                    spin_axis: v[4],
                });
            }
        }
    }
    let mut all = Flights::default();
    range.fly_all(&launches.iter().collect(), &mut all);
    for (i, l) in launches.iter().enumerate() {
        let (f, v) = (range.fly(l), l.velocity());
        let usable = (v.norm() + l.spin().norm()).is_finite();
        if !usable {
            // Said by every number that a reader may use, not by the velocity alone.
            assert!(f.carry().is_nan() && f.apex.is_nan(), "{l:?} made {f:?}");
            assert!(all.downrange[i].is_nan(), "{l:?}");
        } else if v.z <= 0.0 {
            assert_eq!(f.carry(), 0.0, "{l:?}");
        }
    }
}
