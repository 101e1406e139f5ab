//! Sessions made of landing points alone.

use super::{Noise, driver};
use trimtab::delivery::{Inferred, Matrix7, Open, SessionReading, ShotReading};
use trimtab::flight::Flight;
use trimtab::impact::Delivery;
use trimtab::launch::Launch;
use trimtab::priors;
use trimtab::quantity::Measured;
use trimtab::units::DEG;

/// A session whose ball lands where a normal draw about a start line says: the scatter is that of
/// the usual driver, 9 m of start and 14 m of curve.
pub fn landed(n: usize, start: f64, noise: &mut Noise) -> SessionReading {
    let shot = |index: usize, noise: &mut Noise| {
        let (start, curve) = (start + 9.0 * noise.normal(), 14.0 * noise.normal());
        let downrange = 210.0 + 10.0 * noise.normal();
        ShotReading {
            day: 0,
            index,
            launch: Launch {
                ball_speed: 65.0 + noise.normal(),
                launch_angle: (13.0 + noise.normal()) * DEG,
                launch_direction: (start / downrange).atan(),
                spin_rate: 280.0,
                spin_axis: 0.0,
            },
            measured: Measured::default(),
            inferred: Inferred {
                delivery: Delivery::from_vector(&priors::player(&driver()).mean),
                covariance: Matrix7::identity(),
                misfit: 0.0,
                converged: true,
                evaluations: 0,
            },
            flight: Flight {
                offline: start + curve,
                downrange,
                apex: 28.0 + 4.0 * noise.normal(),
                ..Flight::default()
            },
        }
    };
    SessionReading {
        centre: shot(0, noise).inferred,
        shots: (0..n).map(|i| shot(i, noise)).collect(),
        empty: vec![],
        open: Open::default(),
    }
}
