//! The hidden truth of the demo, and the shots that it makes. All of it is invented.
//!
//! The library must not be tested on its own assumptions: here the ball springs otherwise from the
//! face, flies by another coefficient set, each player answers to the levers in a way of their own
//! that no physics foretells, each head adds something, each day shifts a little, and the devices
//! are noisy. Plain functions, no input or output; the same seed gives the same shots.
//!
//! Everything is computed for a right-handed player and mirrored at the end.

mod export;
mod truth;

pub use export::{Device, Dirt, to_csv};
pub use truth::*;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use trimtab::air::Air;
use trimtab::ball::Ball;
use trimtab::constants::ImpactConstants;
use trimtab::flight::{Conditions, Range, Wind};
use trimtab::head::{ClubKind, Head, Setting, SettingError};
use trimtab::hosel::{self, Attitude};
use trimtab::impact::{Delivery, Striker, Swing};
use trimtab::launch::Launch;
use trimtab::quantity::{Measured, Quantity};
use trimtab::units::{DEG, HPA, MM, RPM, ZERO_CELSIUS};

/// Weather of a day, real world.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weather {
    /// Temperature, degrees Celsius.
    pub celsius: f64,
    /// Pressure, hPa.
    pub hpa: f64,
    /// Relative humidity, %.
    pub humidity: f64,
    /// Wind toward the right, m/s.
    pub toward_right: f64,
    /// Wind toward the target, m/s.
    pub toward_target: f64,
}

impl Weather {
    /// Still air in a heated room.
    pub const INDOORS: Weather = Weather {
        celsius: 20.0,
        hpa: 1013.25,
        humidity: 50.0,
        toward_right: 0.0,
        toward_target: 0.0,
    };

    /// As the core takes it.
    pub fn conditions(&self) -> Conditions {
        Conditions {
            air: Air {
                temperature: self.celsius + ZERO_CELSIUS,
                pressure: self.hpa * HPA,
                humidity: self.humidity / 100.0,
            },
            wind: Wind {
                toward_right: self.toward_right,
                toward_target: self.toward_target,
                shear: 0.0,
            },
        }
    }
}

/// What a session is made of, besides player, head and setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Day {
    /// Seed of this session: swings, mishits and the device's noise.
    pub seed: u64,
    /// Seed of the visit: the day's offset, which the sessions of a visit share.
    pub visit_seed: u64,
    /// Number of shots.
    pub shots: usize,
    /// Device.
    pub device: Device,
    /// Weather.
    pub weather: Weather,
}

/// One shot as the device saw it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    /// Number, from 1.
    pub number: usize,
    /// All that any device could report, SI, real-world frame; [`to_csv`] picks the columns.
    pub measured: Measured,
    /// Note of the technician on a mishit.
    pub note: &'static str,
}

/// Kinds of shots.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Usual,
    Topped,
    Skied,
    Heel,
}

/// Shot-to-shot standard deviations: head speed (m/s), path, attack, face, loft (deg), toe, up (mm).
const SPREAD: [f64; 7] = [0.8, 1.5, 1.1, 1.7, 1.2, 8.0, 6.0];
/// Share of a path error that the face follows.
const FACE_FOLLOWS_PATH: f64 = 0.4;
/// The day's offset: head speed (m/s), path, face, loft, device's alignment (deg).
const DAY: [f64; 5] = [0.35, 0.35, 0.30, 0.25, 0.25];
/// Loss of head speed from the first shot to the thirtieth, m/s.
const FATIGUE: f64 = 0.4;

/// The shots of a session. `reference` is the setting at which the mean delivery holds, usually
/// that of the head. The same seed gives the same swings at any setting.
///
/// # Errors
/// If the setting is not one that the head has.
pub fn session(
    truth: &Truth,
    player: &PlayerTruth,
    head: &Head,
    setting: &Setting,
    reference: &Setting,
    day: &Day,
) -> Result<Vec<Shot>, SettingError> {
    setting.check(head)?;
    let club = TrueClub::new(truth, player, head, setting, reference)?;
    let conditions = player.hand.turn(match day.device {
        Device::Glowtent => Weather::INDOORS.conditions(),
        _ => day.weather.conditions(),
    });
    let range = Range::new(&truth.ball, &truth.aero, &conditions);
    let mut swings = stream(day.seed, 1);
    let mut noise = stream(day.seed, 2);
    let mut of_day = stream(day.visit_seed, 3);
    let offset = DAY.map(|sd| sd * normal(&mut of_day));
    let mean = player.delivery(head);
    let shots = (1..=day.shots).map(|number| {
        let mut d = mean;
        d.head_speed += offset[0] - FATIGUE * number as f64 / 30.0;
        d.club_path += offset[1] * DEG;
        d.face_angle += offset[2] * DEG;
        d.dynamic_loft += offset[3] * DEG;
        let kind = scatter(&mut d, player, head.kind, &mut swings);
        let (seen, launch) = club.hit(&d, kind, &mut swings);
        let mut measured = report(&seen, &launch, offset[4] * DEG, kind, &range, &mut noise);
        measured = player.hand.turn(measured);
        Shot {
            number,
            measured,
            note: match kind {
                Kind::Usual => "",
                Kind::Topped => "topped",
                Kind::Skied => "skied",
                Kind::Heel => "heel",
            },
        }
    });
    Ok(shots.collect())
}

/// A head at a setting in the hands of a player, in the true world.
struct TrueClub {
    impact: ImpactConstants,
    /// With the mass properties of the setting and the attitude of the reference.
    striker: Striker,
    /// With both of the reference.
    before: Striker,
    /// What of the sleeve and the bend arrives.
    turn: nalgebra::Rotation3<f64>,
    /// Normal of the face centre at the reference attitude, head frame.
    normal: nalgebra::Vector3<f64>,
    /// Change of face, path, loft (rad), strike (m) by the levers.
    answer: [f64; 4],
}

impl TrueClub {
    fn new(
        truth: &Truth,
        player: &PlayerTruth,
        head: &Head,
        setting: &Setting,
        reference: &Setting,
    ) -> Result<Self, SettingError> {
        let r = &player.response;
        let own = head_truth(&head.name);
        let mut impact = truth.impact;
        impact.head_mass_exponent = r.mass_exponent;
        for kind in &mut impact.kinds {
            kind.normal += own.restitution;
        }
        let who = Attitude::GripKept;
        let unturned = Setting {
            clock: reference.clock,
            bend_loft: reference.bend_loft,
            bend_lie: reference.bend_lie,
            ..setting.clone()
        };
        let straight = Setting {
            bend_loft: 0.0,
            bend_lie: 0.0,
            ..setting.clone()
        };
        let at_reference = head.attitude(reference, who);
        let sleeve = head.attitude(&straight, who) * {
            let straight = Setting {
                bend_loft: 0.0,
                bend_lie: 0.0,
                ..reference.clone()
            };
            head.attitude(&straight, who).inverse()
        };
        let bend = hosel::bend(setting.bend_loft, setting.bend_lie)
            * hosel::bend(reference.bend_loft, reference.bend_lie).inverse();
        let (now, then) = (
            head.mass_properties(setting),
            head.mass_properties(reference),
        );
        let cg = (now.cg - then.cg) / MM;
        let grams = (now.mass - then.mass) * 1e3;
        let by_cg = (r.face_per_cg_toe + own.face_per_cg_toe) * cg.x;
        Ok(TrueClub {
            impact,
            striker: Striker::new(head, &unturned, reference, who, &impact)?,
            before: Striker::new(head, reference, reference, who, &impact)?,
            turn: sleeve.powf(r.sleeve_carry) * bend,
            normal: at_reference * hosel::face_normal(head.loft),
            answer: [
                (by_cg + r.face_per_gram * grams) * DEG,
                r.path_per_cg_toe * cg.x * DEG,
                (LOFT_WITH_FACE * by_cg - r.loft_per_cg_back * cg.y) * DEG,
                r.toe_per_gram * grams * MM,
            ],
        })
    }

    /// Hits: what a perfect device would see of the delivery, and the launch.
    fn hit(&self, d: &Delivery, kind: Kind, rng: &mut ChaCha8Rng) -> (Delivery, Launch) {
        let [face, path, loft, toe] = self.answer;
        let answered = Delivery {
            face_angle: d.face_angle + face,
            club_path: d.club_path + path,
            dynamic_loft: d.dynamic_loft + loft,
            strike_toe: d.strike_toe + toe,
            ..*d
        };
        let swing = self.before.swing(&answered);
        let swing = Swing {
            hands: swing.hands * self.turn,
            ..swing
        };
        let n = swing.hands * self.normal;
        let seen = Delivery {
            head_speed: self.striker.head_speed(&swing),
            face_angle: n.x.atan2(n.y),
            dynamic_loft: n.z.clamp(-1.0, 1.0).asin(),
            ..answered
        };
        let ball = Ball::conforming();
        let mut launch = self.striker.strike(&swing, &ball, &self.impact).launch();
        let (a, b): (f64, f64) = (rng.random(), rng.random());
        match kind {
            Kind::Topped => {
                launch.ball_speed *= 0.45 + 0.2 * a;
                launch.launch_angle = (-4.0 + 7.0 * b) * DEG;
                launch.spin_rate = (600.0 + 900.0 * a) * RPM;
            }
            Kind::Skied => {
                launch.ball_speed *= 0.78 + 0.08 * a;
                launch.launch_angle += (12.0 + 6.0 * b) * DEG;
                launch.spin_rate += (1500.0 + 1000.0 * a) * RPM;
            }
            Kind::Usual | Kind::Heel => {}
        }
        (seen, launch)
    }
}

/// Scatters a delivery and says what kind of shot it became.
fn scatter(d: &mut Delivery, p: &PlayerTruth, club: ClubKind, rng: &mut ChaCha8Rng) -> Kind {
    // Always as many draws, so that every shot starts at the same place of the stream.
    let z: [f64; 7] = std::array::from_fn(|_| normal(rng));
    let (which, how): (f64, f64) = (rng.random(), rng.random());
    let shorter = match club {
        ClubKind::Driver => 1.0,
        ClubKind::Fairway | ClubKind::Hybrid => 0.9,
        ClubKind::Iron | ClubKind::Wedge => 0.75,
    };
    let s = SPREAD.map(|sd| sd * p.spread * shorter);
    let path = s[1] * z[1];
    d.head_speed += s[0] * z[0];
    d.club_path += path * DEG;
    d.attack_angle += s[2] * z[2] * DEG;
    d.face_angle += (s[3] * z[3] + FACE_FOLLOWS_PATH * path) * DEG;
    d.dynamic_loft += s[4] * z[4] * DEG;
    d.strike_toe += s[5] * z[5] * MM;
    d.strike_up += s[6] * z[6] * MM;
    let m = &p.mishits;
    if which < m.topped {
        d.strike_up = -(20.0 + 6.0 * how) * MM;
        Kind::Topped
    } else if which < m.topped + m.skied {
        d.strike_up = (20.0 + 6.0 * how) * MM;
        Kind::Skied
    } else if which < m.topped + m.skied + m.heel {
        d.strike_toe = -(24.0 + 10.0 * how) * MM;
        Kind::Heel
    } else {
        Kind::Usual
    }
}

/// What the devices make of a shot: noise, alignment, and a flight of their own.
fn report(
    seen: &Delivery,
    launch: &Launch,
    alignment: f64,
    kind: Kind,
    range: &Range<'_>,
    rng: &mut ChaCha8Rng,
) -> Measured {
    let mut noisy = |value: f64, sd: f64| value + sd * normal(rng);
    let l = Launch {
        ball_speed: noisy(launch.ball_speed, 0.3),
        launch_angle: noisy(launch.launch_angle, 0.25 * DEG),
        launch_direction: noisy(launch.launch_direction + alignment, 0.25 * DEG),
        spin_rate: noisy(launch.spin_rate, 90.0 * RPM).max(0.0),
        spin_axis: noisy(launch.spin_axis, 1.3 * DEG).clamp(-85.0 * DEG, 85.0 * DEG),
    };
    let strike_sd = 1.8 * MM;
    let mut m = Measured::default()
        .with(Quantity::BallSpeed, l.ball_speed)
        .with(Quantity::LaunchAngle, l.launch_angle)
        .with(Quantity::LaunchDirection, l.launch_direction)
        .with(Quantity::HeadSpeed, noisy(seen.head_speed, 0.45))
        .with(
            Quantity::ClubPath,
            noisy(seen.club_path + alignment, 0.6 * DEG),
        )
        .with(
            Quantity::FaceAngle,
            noisy(seen.face_angle + alignment, 0.6 * DEG),
        )
        .with(Quantity::AttackAngle, noisy(seen.attack_angle, 0.5 * DEG))
        .with(Quantity::DynamicLoft, noisy(seen.dynamic_loft, 0.7 * DEG))
        .with(Quantity::StrikeToe, noisy(seen.strike_toe, strike_sd))
        .with(Quantity::StrikeUp, noisy(seen.strike_up, strike_sd));
    let flight = range.fly(&l);
    m.set(Quantity::Carry, Some(flight.carry()));
    m.set(Quantity::Offline, Some(flight.offline));
    if kind != Kind::Topped {
        // A topped ball has top spin: there is no axis to tell, and no device tells the rate.
        m.set(Quantity::SpinRate, Some(l.spin_rate));
        m.set(Quantity::SpinAxis, Some(l.spin_axis));
    }
    m
}

/// One of several independent streams of a seed.
fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(number);
    rng
}

/// A standard normal deviate (Box and Muller 1958).
fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let (a, b): (f64, f64) = (rng.random(), rng.random());
    (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}
