//! The hidden truth: a world, heads and players that are otherwise than the library thinks.
//!
//! All of it is invented, and drawn before any proposal was made with it. What is known of no one,
//! such as who squares the face again after the sleeve was turned, is spread evenly. SI and
//! radians unless a name says otherwise; right-handed frame.

use crate::draws::{Draws, Swing};
use trimtab::ball::Ball;
use trimtab::constants::ImpactConstants;
use trimtab::flight::AeroSet;
use trimtab::hand::Hand;
use trimtab::head::Head;
use trimtab::impact::Delivery;
use trimtab::units::{DEG, MM};

/// What holds for everybody.
pub struct World {
    /// Impact of the true world.
    pub impact: ImpactConstants,
    /// Its aerodynamics.
    pub aero: AeroSet,
}

impl World {
    /// Another restitution, spring and friction than the library's, another coefficient set.
    pub fn new() -> World {
        let mut impact = ImpactConstants::default();
        for kind in &mut impact.kinds {
            kind.normal -= 0.011;
            kind.tangential += 0.06;
        }
        impact.restitution_slope = 0.0034;
        impact.friction = 0.34;
        // What a CG does to closing is each player's own.
        impact.opens_per_cg_toe = 0.0;
        World {
            impact,
            aero: AeroSet::named("indoor-range-2001").expect("comes with the library"),
        }
    }
}

/// How a player answers to the levers, beyond the physics.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Response {
    /// Face angle, deg for each mm of toe-ward CG shift: toe-ward opens, heel-ward closes.
    pub face_per_cg_toe: f64,
    /// Club path, deg for each mm of toe-ward CG shift.
    pub path_per_cg_toe: f64,
    /// Dynamic loft, deg for each deg by which the CG opens the face.
    pub loft_with_face: f64,
    /// Dynamic loft, deg for each mm by which the CG goes back.
    pub loft_per_cg_back: f64,
    /// Face angle, deg for each g of head mass: a heavier head comes later.
    pub face_per_gram: f64,
    /// Strike toe-ward, mm for each g of head mass.
    pub toe_per_gram: f64,
    /// Exponent `n` in `M V^n = const`.
    pub mass_exponent: f64,
    /// Habit after the sleeve was turned: 0 keeps the grip, 1 squares the face again.
    pub squares: f64,
}

/// Which device the player's shots are logged with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Device {
    /// Ball and club.
    BallAndClub,
    /// Ball, head speed and strike location.
    BallAndStrike,
    /// Ball only.
    Ball,
}

/// Share of each kind of mishit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mishits {
    /// Topped.
    pub topped: f64,
    /// Skied.
    pub skied: f64,
    /// Far off the heel.
    pub heel: f64,
}

/// One player with a driver.
#[derive(Debug, Clone)]
pub struct Player {
    /// Name.
    pub name: String,
    /// Hand.
    pub hand: Hand,
    /// Index of the head.
    pub head: usize,
    /// Device.
    pub device: Device,
    /// Mean delivery at the head's reference setting.
    pub mean: Delivery,
    /// Standard deviations of a usual shot: head speed, path, attack, face, loft, toe, up.
    pub spread: [f64; 7],
    /// Mishits.
    pub mishits: Mishits,
    /// Answer to the levers.
    pub response: Response,
    /// The player's ball.
    pub ball: Ball,
    /// What this head adds to the restitution of its kind.
    pub restitution: f64,
}

/// Degrees of freedom of the usual scatter: a wild swing is wild in everything.
pub const TAILS: f64 = 5.0;
/// Share of a path error that the face follows, from shot to shot.
const FACE_FOLLOWS_PATH: f64 = 0.4;
/// What heads add: face for each mm of toe-ward CG shift (deg), restitution.
const HEADS: [(f64, f64); 5] = [
    (0.04, 0.003),
    (0.02, -0.002),
    (-0.03, 0.002),
    (0.0, -0.004),
    (-0.02, 0.001),
];

impl Player {
    /// A player by number, the same in a field of any size.
    pub fn draw(number: usize, seed: u64, heads: &[Head]) -> Player {
        let mut z = Draws::new(seed, number as u64, 0);
        let hand = if z.uniform() < 0.25 {
            Hand::Left
        } else {
            Hand::Right
        };
        let head = number % heads.len();
        let device = [Device::BallAndClub, Device::BallAndStrike, Device::Ball][z.below(3)];
        let path = -1.0 + 3.0 * z.tailed(TAILS);
        // Who swings to the left plays with a face that is open to that path.
        let face = 0.6 + 0.5 * path + 1.3 * z.tailed(TAILS);
        let mean = Delivery {
            head_speed: 44.0 + 4.0 * z.tailed(TAILS),
            club_path: path * DEG,
            attack_angle: (-0.5 + 2.2 * z.normal()) * DEG,
            face_angle: face * DEG,
            dynamic_loft: heads[head].loft + (3.2 + 1.8 * z.normal()) * DEG,
            strike_toe: (-1.0 + 5.0 * z.normal()) * MM,
            strike_up: (1.0 + 3.5 * z.normal()) * MM,
        };
        let steady = (0.2 * z.normal()).exp();
        let spread = [
            0.8,
            1.5 * DEG,
            1.1 * DEG,
            1.7 * DEG,
            1.2 * DEG,
            8.0 * MM,
            6.0 * MM,
        ]
        .map(|sd| sd * steady);
        let mishits = Mishits {
            topped: 0.02 * z.uniform(),
            skied: 0.03 * z.uniform(),
            heel: 0.06 * z.uniform(),
        };
        let response = Response {
            // Trade claims for a slider from end to end are some 15 to 20 yd (common practice, no
            // source); a third of a degree for a millimetre makes half of that, impact the rest.
            face_per_cg_toe: 0.3 * (0.5 * z.normal()).exp() + HEADS[head].0,
            path_per_cg_toe: 0.06 + 0.05 * z.normal(),
            loft_with_face: 0.3 + 0.1 * z.normal(),
            loft_per_cg_back: 0.09 + 0.05 * z.normal(),
            face_per_gram: 0.03 + 0.02 * z.normal(),
            toe_per_gram: -0.05 + 0.1 * z.normal(),
            mass_exponent: 3.5 + 4.0 * z.uniform(),
            squares: z.uniform(),
        };
        let ball = Ball {
            drag_factor: 1.02 + 0.02 * z.normal(),
            lift_factor: 0.96 + 0.03 * z.normal(),
            ..Ball::conforming()
        };
        Player {
            name: format!("player {:03}", number + 1),
            hand,
            head,
            device,
            mean,
            spread,
            mishits,
            response,
            ball,
            restitution: HEADS[head].1,
        }
    }

    /// The delivery and the kind of one swing.
    pub fn swing(&self, mean: &Delivery, s: &Swing) -> (Delivery, Kind) {
        let e: [f64; 7] = std::array::from_fn(|i| self.spread[i] * s.z[i] * s.scale);
        let mut d = Delivery {
            head_speed: mean.head_speed + e[0],
            club_path: mean.club_path + e[1],
            attack_angle: mean.attack_angle + e[2],
            face_angle: mean.face_angle + e[3] + FACE_FOLLOWS_PATH * e[1],
            dynamic_loft: mean.dynamic_loft + e[4],
            strike_toe: mean.strike_toe + e[5],
            strike_up: mean.strike_up + e[6],
        };
        let m = &self.mishits;
        let kind = if s.which < m.topped {
            d.strike_up = -(20.0 + 6.0 * s.how) * MM;
            Kind::Topped
        } else if s.which < m.topped + m.skied {
            d.strike_up = (20.0 + 6.0 * s.how) * MM;
            Kind::Skied
        } else if s.which < m.topped + m.skied + m.heel {
            d.strike_toe = -(24.0 + 10.0 * s.how) * MM;
            Kind::Heel
        } else {
            Kind::Usual
        };
        (d, kind)
    }
}

/// Kinds of shots.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// As usual, tails included.
    Usual,
    /// Topped.
    Topped,
    /// Skied.
    Skied,
    /// Far off the heel.
    Heel,
}
