//! The hidden truth of the demo, and the shots that it makes. All of it is invented.
//!
//! The library must not be tested on its own assumptions: here the ball springs otherwise from the
//! face, flies by another coefficient set, each player answers to the levers in a way of their own
//! that no physics foretells, each head adds something, each day shifts a little, and the devices
//! are noisy. Plain functions, no input or output; the same seed gives the same shots.
//!
//! Everything is computed for a right-handed player and mirrored at the end.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::fmt::Write as _;
use trimtab::air::Air;
use trimtab::ball::Ball;
use trimtab::constants::ImpactConstants;
use trimtab::flight::{AeroSet, Conditions, Range, Wind};
use trimtab::hand::Hand;
use trimtab::head::{ClubKind, Head, Setting, SettingError};
use trimtab::hosel::{self, Attitude};
use trimtab::impact::{Delivery, Striker, Swing};
use trimtab::launch::Launch;
use trimtab::quantity::{Measured, Quantity};
use trimtab::units::{DEG, HPA, MM, MPH, RPM, YARD, ZERO_CELSIUS};

/// What holds for everybody: where the true world differs from the library's constants.
#[derive(Debug, Clone)]
pub struct Truth {
    /// Impact of the true world.
    pub impact: ImpactConstants,
    /// The ball as the devices' own flight model takes it.
    pub ball: Ball,
    /// The coefficient set of that flight model.
    pub aero: AeroSet,
}

/// The true world.
pub fn truth() -> Truth {
    let mut impact = ImpactConstants::default();
    for (k, kind) in impact.kinds.iter_mut().enumerate() {
        kind.normal -= 0.011;
        kind.tangential += if k == 0 { 0.06 } else { 0.03 };
    }
    impact.restitution_slope = 0.0034;
    impact.friction = 0.34;
    Truth {
        impact,
        ball: Ball {
            drag_factor: 1.02,
            lift_factor: 0.96,
            ..Ball::conforming()
        },
        aero: AeroSet::named("indoor-range-2001").expect("comes with the library"),
    }
}

/// What a head does beyond its mass properties, on top of the player's answer.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HeadTruth {
    /// Added to the face's answer, deg for each mm of toe-ward CG shift.
    pub face_per_cg_toe: f64,
    /// Added to the restitution of the kind.
    pub restitution: f64,
}

/// The hidden truth of a head by its name; nothing for a head that is not in the table.
pub fn head_truth(name: &str) -> HeadTruth {
    let (face_per_cg_toe, restitution) = match name {
        "Ternwick A" => (0.02, 0.002),
        "Ternwick B" => (0.02, -0.001),
        "Plovermere" => (-0.02, 0.003),
        "Sallowreed" => (0.03, -0.004),
        "Heronbeck" => (0.0, 0.001),
        _ => (0.0, 0.0),
    };
    HeadTruth {
        face_per_cg_toe,
        restitution,
    }
}

/// Mean delivery with a driver at its reference setting, right-handed frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mean {
    /// Head speed, m/s.
    pub head_speed: f64,
    /// Club path, deg.
    pub path: f64,
    /// Attack angle, deg.
    pub attack: f64,
    /// Face angle, deg.
    pub face: f64,
    /// Dynamic loft less static loft, deg.
    pub loft_added: f64,
    /// Strike toe-ward, mm.
    pub toe: f64,
    /// Strike crown-ward, mm.
    pub up: f64,
}

/// Share of each kind of mishit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Mishits {
    /// Topped.
    pub topped: f64,
    /// Skied.
    pub skied: f64,
    /// Far off the heel.
    pub heel: f64,
}

/// How a player answers to the levers, beyond the physics.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Response {
    /// Face angle, deg for each mm of toe-ward CG shift: toe-ward opens, heel-ward closes.
    pub face_per_cg_toe: f64,
    /// Club path, deg for each mm of toe-ward CG shift.
    pub path_per_cg_toe: f64,
    /// Dynamic loft, deg for each mm by which the CG goes back.
    pub loft_per_cg_back: f64,
    /// Face angle, deg for each g of head mass: a heavier head comes later.
    pub face_per_gram: f64,
    /// Strike toe-ward, mm for each g of head mass.
    pub toe_per_gram: f64,
    /// Exponent `n` in `M V^n = const` for this player.
    pub mass_exponent: f64,
    /// Share of the sleeve's rotation that arrives at impact.
    pub sleeve_carry: f64,
}

/// Share of an opening of the face, by the CG, that comes as loft.
const LOFT_WITH_FACE: f64 = 0.35;

/// One player's hidden truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlayerTruth {
    /// Name, as in the player file.
    pub name: &'static str,
    /// Hand.
    pub hand: Hand,
    /// Mean delivery with a driver.
    pub mean: Mean,
    /// Factor on the usual shot-to-shot spread.
    pub spread: f64,
    /// Mishits.
    pub mishits: Mishits,
    /// Answer to the levers.
    pub response: Response,
}

/// A row of the players' table.
type Row = (&'static str, Hand, [f64; 7], f64, [f64; 3], [f64; 7]);

/// Name, hand, mean (head speed, path, attack, face, loft added, toe, up), spread, mishits
/// (topped, skied, heel), response (in the order of its fields).
#[rustfmt::skip]
const PLAYERS: [Row; 8] = [
    ("Ines Varlund", Hand::Right, [44.4, -1.6, 0.2, 1.6, 3.8, -3.0, 0.0], 1.0, [0.02, 0.01, 0.03],
        [0.51, 0.10, 0.10, 0.030, -0.10, 4.5, 0.85]),
    ("Tomas Quellby", Hand::Right, [49.2, -0.4, -2.2, -0.1, 3.6, 1.0, -2.5], 0.9, [0.01, 0.01, 0.01],
        [0.27, 0.05, 0.14, 0.015, 0.00, 6.5, 0.95]),
    ("Maren Osterfjell", Hand::Left, [43.0, 2.6, 0.8, 0.7, 3.8, 2.0, 0.0], 0.9, [0.01, 0.00, 0.02],
        [0.65, 0.15, 0.08, 0.060, -0.20, 3.6, 0.75]),
    ("Jorik Dunnaway", Hand::Right, [46.6, 3.4, 1.0, 0.9, 2.6, 6.0, 1.0], 1.05, [0.01, 0.02, 0.01],
        [0.37, 0.09, 0.06, 0.020, -0.05, 5.3, 1.00]),
    ("Petra Lindwarp", Hand::Right, [42.6, 0.4, -1.6, 0.1, 2.2, 0.0, -2.0], 0.85, [0.02, 0.00, 0.01],
        [0.44, 0.07, 0.18, 0.035, 0.00, 4.2, 0.90]),
    ("Anselm Tarrowick", Hand::Left, [47.9, -2.4, -0.6, 0.6, 3.0, -1.0, 0.0], 1.0, [0.01, 0.01, 0.02],
        [0.20, 0.03, 0.09, 0.010, 0.05, 7.0, 0.60]),
    ("Noor Feldhaven", Hand::Right, [45.7, 0.6, 0.2, 0.2, 3.0, 0.0, 1.0], 0.7, [0.00, 0.00, 0.01],
        [0.34, 0.09, 0.10, 0.025, 0.00, 5.0, 0.92]),
    ("Silas Brackenhoe", Hand::Right, [50.2, -1.8, -0.8, 1.1, 2.6, -4.0, 1.5], 1.35, [0.02, 0.04, 0.10],
        [0.73, 0.17, 0.12, 0.045, -0.15, 4.0, 0.80]),
];

/// The players' hidden truth.
pub fn truths() -> Vec<PlayerTruth> {
    let player = |&(name, hand, m, spread, t, r): &Row| PlayerTruth {
        name,
        hand,
        mean: Mean {
            head_speed: m[0],
            path: m[1],
            attack: m[2],
            face: m[3],
            loft_added: m[4],
            toe: m[5],
            up: m[6],
        },
        spread,
        mishits: Mishits {
            topped: t[0],
            skied: t[1],
            heel: t[2],
        },
        response: Response {
            face_per_cg_toe: r[0],
            path_per_cg_toe: r[1],
            loft_per_cg_back: r[2],
            face_per_gram: r[3],
            toe_per_gram: r[4],
            mass_exponent: r[5],
            sleeve_carry: r[6],
        },
    };
    PLAYERS.iter().map(player).collect()
}

/// What another kind of club makes of the driver's mean: factor on head speed, added attack angle,
/// added loft (both deg), factor on path and face, added strike height (mm).
fn by_kind(kind: ClubKind) -> [f64; 5] {
    match kind {
        ClubKind::Driver => [1.0, 0.0, 0.0, 1.0, 0.0],
        ClubKind::Fairway => [0.955, -2.4, -3.6, 0.8, -1.5],
        ClubKind::Hybrid => [0.915, -3.2, -5.5, 0.75, -2.0],
        ClubKind::Iron => [0.83, -4.0, -9.5, 0.7, -2.0],
        ClubKind::Wedge => [0.73, -4.8, -12.5, 0.6, -3.0],
    }
}

impl PlayerTruth {
    /// Mean delivery with a head at its reference setting. SI, right-handed frame.
    pub fn delivery(&self, head: &Head) -> Delivery {
        let m = &self.mean;
        let [speed, attack, loft, side, up] = by_kind(head.kind);
        Delivery {
            head_speed: m.head_speed * speed,
            club_path: m.path * side * DEG,
            attack_angle: (m.attack + attack) * DEG,
            face_angle: m.face * side * DEG,
            dynamic_loft: head.loft + (m.loft_added + loft) * DEG,
            strike_toe: m.toe * MM,
            strike_up: (m.up + up) * MM,
        }
    }
}

/// Which device logged the session. All of them are invented.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Device {
    /// Outdoors; ball and club, yards and miles an hour.
    Owlpost,
    /// Indoors, in still air; ball and strike location.
    Glowtent,
    /// Outdoors; ball only, metric.
    Metrelark,
    /// Outdoors; few columns, sides as letters, no spin axis.
    Fieldnote,
}

/// What the export of a session is spoilt by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dirt {
    /// Nothing.
    Clean,
    /// Some shots have no spin: an empty cell or a dash.
    MissingSpin,
    /// Ball speeds in m/s in a column that says mph. The import must refuse it.
    WrongUnit,
    /// Capital letters and blanks in the header. The import must take it.
    OddHeader,
    /// A column twice, the second in other letters. The import must refuse it.
    TwinColumn,
    /// Semicolons between the cells and commas for the decimal point. The import must take it.
    DecimalComma,
}

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

/// The columns of a device: quantity, unit in the column's name, its SI size, decimals.
fn columns(device: Device) -> Vec<(Quantity, &'static str, f64, usize)> {
    use Quantity::*;
    let (mph, yd, deg) = (("mph", MPH, 1), ("yd", YARD, 1), ("deg", DEG, 1));
    let (m_s, m, mm) = (("m_s", 1.0, 1), ("m", 1.0, 1), ("mm", MM, 0));
    let rpm = ("rpm", RPM, 0);
    let table: Vec<(Quantity, (&'static str, f64, usize))> = match device {
        Device::Owlpost => vec![
            (BallSpeed, mph),
            (LaunchAngle, deg),
            (LaunchDirection, deg),
            (SpinRate, rpm),
            (SpinAxis, deg),
            (HeadSpeed, mph),
            (ClubPath, deg),
            (FaceAngle, deg),
            (AttackAngle, deg),
            (DynamicLoft, deg),
            (Carry, yd),
            (Offline, yd),
        ],
        Device::Glowtent => vec![
            (BallSpeed, mph),
            (LaunchAngle, deg),
            (LaunchDirection, deg),
            (SpinRate, rpm),
            (SpinAxis, deg),
            (HeadSpeed, mph),
            (StrikeToe, mm),
            (StrikeUp, mm),
            (Carry, yd),
            (Offline, yd),
        ],
        Device::Metrelark => vec![
            (BallSpeed, m_s),
            (LaunchAngle, deg),
            (LaunchDirection, deg),
            (SpinRate, rpm),
            (SpinAxis, deg),
            (Carry, m),
            (Offline, m),
        ],
        Device::Fieldnote => vec![
            (BallSpeed, mph),
            (LaunchAngle, deg),
            (LaunchDirection, deg),
            (SpinRate, rpm),
            (Carry, yd),
            (Offline, yd),
        ],
    };
    table
        .into_iter()
        .map(|(q, (unit, size, decimals))| (q, unit, size, decimals))
        .collect()
}

/// The export of a session, as the device writes it and as the dirt spoils it.
pub fn to_csv(shots: &[Shot], device: Device, dirt: Dirt) -> String {
    let columns = columns(device);
    let mut header: Vec<String> = vec!["shot".into()];
    for (q, unit, ..) in &columns {
        header.push(format!("{}_{unit}", q.info().name));
    }
    header.push("note".into());
    if dirt == Dirt::OddHeader {
        for (n, name) in header.iter_mut().enumerate() {
            *name = match n % 3 {
                0 => format!(" {name} "),
                1 => name.to_uppercase(),
                _ => format!("{name}  "),
            };
        }
    }
    if dirt == Dirt::TwinColumn {
        header.push(" Ball_Speed_MPH".into());
    }
    let delimiter = if dirt == Dirt::DecimalComma { ";" } else { "," };
    let mut text = header.join(delimiter);
    text.push('\n');
    for (n, shot) in shots.iter().enumerate() {
        let mut cells: Vec<String> = vec![shot.number.to_string()];
        for &(q, _, size, decimals) in &columns {
            let size = match (q, dirt) {
                (Quantity::BallSpeed, Dirt::WrongUnit) => 1.0,
                _ => size,
            };
            let spin = matches!(q, Quantity::SpinRate | Quantity::SpinAxis);
            let value = match shot.measured.get(q) {
                // Every fifth shot or so: fixed by its number, so that nothing else changes.
                Some(_) if spin && dirt == Dirt::MissingSpin && n % 5 == 2 => None,
                value => value.map(|v| v / size),
            };
            let letters = device == Device::Fieldnote && q.info().mirrored;
            let cell = match value {
                None if n % 2 == 0 => "-".to_string(),
                None => String::new(),
                Some(v) if letters => with_letter(v, decimals),
                Some(v) => fixed(v, decimals),
            };
            cells.push(cell);
        }
        cells.push(shot.note.to_string());
        if dirt == Dirt::TwinColumn {
            cells.push(cells[1].clone());
        }
        if dirt == Dirt::DecimalComma {
            for cell in &mut cells {
                *cell = cell.replace('.', ",");
            }
        }
        let _ = writeln!(text, "{}", cells.join(delimiter));
    }
    text
}

/// A number with so many decimals, without a negative zero.
fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.bytes().any(|b| b.is_ascii_digit() && b != b'0') {
        return text;
    }
    text.trim_start_matches('-').to_string()
}

/// A number with its side as a letter.
fn with_letter(value: f64, decimals: usize) -> String {
    let side = if value < 0.0 { "L" } else { "R" };
    format!("{} {side}", fixed(value.abs(), decimals))
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
