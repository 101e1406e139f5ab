//! Sessions in which the club is measured, with a scatter that hangs on the delivery as was chosen.

use super::{Noise, driver, landed::landed};
use trimtab::delivery::{SessionReading, Vector7};
use trimtab::priors;
use trimtab::quantity::Quantity;
use trimtab::units::{DEG, MM};

/// Offline per rad of face and path and per m of strike toe-ward; what else there is, m. Made up,
/// near what the impact gives for a driver.
pub const FACE: f64 = 8.0 / DEG;
pub const PATH: f64 = -4.5 / DEG;
pub const TOE: f64 = 0.2 / MM;
pub const OTHER: f64 = 4.0;

pub fn bears() -> Vector7 {
    Vector7::from([0.0, PATH, 0.0, FACE, 0.0, TOE, 0.0])
}

pub fn usual() -> Vector7 {
    priors::within(driver().kind)
}

/// A player with a club.
#[derive(Clone, Copy)]
pub struct Player {
    /// What the club does at the same delivery, m.
    pub direct: f64,
    /// How far the face comes otherwise with this club, rad.
    pub face: f64,
    /// Share of mishits.
    pub mishits: f64,
    /// Whether the club is measured.
    pub club: bool,
}

pub const STEADY: Player = Player {
    direct: 0.0,
    face: 0.0,
    mishits: 0.0,
    club: true,
};

/// `n` shots, as a device with the usual errors shows them.
pub fn session(n: usize, p: Player, noise: &mut Noise) -> SessionReading {
    let mut s = landed(n, 0.0, noise);
    let within = usual();
    for shot in &mut s.shots {
        let face = p.face + within[3] * noise.normal();
        let (path, toe) = (within[1] * noise.normal(), within[5] * noise.normal());
        let mut offline = p.direct + FACE * face + PATH * path + TOE * toe + OTHER * noise.normal();
        if noise.uniform() < p.mishits {
            offline += 45.0 * noise.normal();
            shot.launch.ball_speed -= 4.0 * noise.uniform();
        }
        // A third of it starts there, the rest is curve.
        shot.launch.launch_direction = (0.33 * offline / shot.flight.downrange).atan();
        shot.flight.offline = offline;
        if p.club {
            for (q, v) in [
                (Quantity::FaceAngle, face),
                (Quantity::ClubPath, path),
                (Quantity::StrikeToe, toe),
            ] {
                shot.measured
                    .set(q, Some(v + q.info().device_sd * noise.normal()));
            }
        }
    }
    s
}
