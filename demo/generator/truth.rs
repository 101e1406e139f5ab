//! The hidden truth: what the world, the heads and the players do otherwise than the library thinks.

use trimtab::ball::Ball;
use trimtab::constants::ImpactConstants;
use trimtab::flight::AeroSet;
use trimtab::hand::Hand;
use trimtab::head::{ClubKind, Head};
use trimtab::impact::Delivery;
use trimtab::units::{DEG, MM};

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
    let mut impact = ImpactConstants {
        // What a CG does to closing is each player's own.
        opens_per_cg_toe: 0.0,
        ..ImpactConstants::default()
    };
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
pub(super) const LOFT_WITH_FACE: f64 = 0.35;

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
