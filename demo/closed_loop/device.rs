//! What a device logs of a session: the day's form, noise with tails, a device that is not quite
//! aligned.

use crate::club::TrueClub;
use crate::draws::Draws;
use crate::truth::{Device, Kind, Player, TAILS};
use trimtab::impact::Delivery;
use trimtab::launch::Launch;
use trimtab::quantity::{Measured, Quantity};
use trimtab::units::{DEG, MM, RPM};

/// The day's form: head speed (m/s), path, face, loft (deg).
const DAY: [f64; 4] = [0.35, 0.35, 0.30, 0.25];
/// The device's alignment and its error of the spin axis on that day, deg.
const ALIGNMENT: [f64; 2] = [0.25, 0.7];
/// Loss of head speed from the first shot to the thirtieth, m/s.
const FATIGUE: f64 = 0.4;
/// Degrees of freedom of the device's noise.
const NOISE_TAILS: f64 = 4.0;

/// What a day adds to a mean delivery, and to what the device shows.
#[derive(Debug, Clone, Copy)]
pub struct Day {
    form: [f64; 4],
    alignment: [f64; 2],
}

impl Day {
    /// The day of a visit, which its sessions share; `factor` 1 is the usual day, 0 none at all.
    pub fn draw(z: &mut Draws, factor: f64) -> Day {
        Day {
            form: DAY.map(|sd| sd * factor * z.normal()),
            alignment: ALIGNMENT.map(|sd| sd * factor * z.normal() * DEG),
        }
    }
}

/// The shots of a session, real-world frame.
pub fn session(
    club: &TrueClub<'_>,
    player: &Player,
    day: &Day,
    shots: usize,
    z: &mut Draws,
) -> Vec<Measured> {
    let mean = club.mean();
    let [speed, path, face, loft] = day.form;
    (0..shots)
        .map(|i| {
            let tired = FATIGUE * (i as f64 / 30.0).min(2.0);
            let today = Delivery {
                head_speed: mean.head_speed + speed - tired,
                club_path: mean.club_path + path * DEG,
                face_angle: mean.face_angle + face * DEG,
                dynamic_loft: mean.dynamic_loft + loft * DEG,
                ..*mean
            };
            let (seen, launch, kind) = club.hit(&today, &z.swing(TAILS));
            player
                .hand
                .turn(logged(&seen, &launch, kind, player.device, day, club, z))
        })
        .collect()
}

fn logged(
    seen: &Delivery,
    launch: &Launch,
    kind: Kind,
    device: Device,
    day: &Day,
    club: &TrueClub<'_>,
    z: &mut Draws,
) -> Measured {
    let [alignment, tilt] = day.alignment;
    let mut noisy = |value: f64, sd: f64| value + sd * z.tailed(NOISE_TAILS);
    let l = Launch {
        ball_speed: noisy(launch.ball_speed, 0.3),
        launch_angle: noisy(launch.launch_angle, 0.25 * DEG),
        launch_direction: noisy(launch.launch_direction + alignment, 0.25 * DEG),
        spin_rate: noisy(launch.spin_rate, 90.0 * RPM).max(0.0),
        spin_axis: noisy(launch.spin_axis + tilt, 1.3 * DEG).clamp(-85.0 * DEG, 85.0 * DEG),
    };
    let club_data = [
        (Quantity::ClubPath, seen.club_path + alignment, 0.6 * DEG),
        (Quantity::FaceAngle, seen.face_angle + alignment, 0.6 * DEG),
        (Quantity::AttackAngle, seen.attack_angle, 0.5 * DEG),
        (Quantity::DynamicLoft, seen.dynamic_loft, 0.7 * DEG),
    ];
    let strike = [
        (Quantity::StrikeToe, seen.strike_toe, 1.8 * MM),
        (Quantity::StrikeUp, seen.strike_up, 1.8 * MM),
    ];
    let mut m = Measured::default()
        .with(Quantity::BallSpeed, l.ball_speed)
        .with(Quantity::LaunchAngle, l.launch_angle)
        .with(Quantity::LaunchDirection, l.launch_direction);
    if kind != Kind::Topped {
        // A topped ball has top spin: there is no axis to tell, and no device tells the rate.
        m.set(Quantity::SpinRate, Some(l.spin_rate));
        m.set(Quantity::SpinAxis, Some(l.spin_axis));
    }
    let flight = club.range().fly(&l);
    m.set(Quantity::Carry, Some(flight.carry()));
    m.set(Quantity::Offline, Some(flight.offline));
    if device != Device::Ball {
        m.set(Quantity::HeadSpeed, Some(noisy(seen.head_speed, 0.45)));
    }
    let rest: &[(Quantity, f64, f64)] = match device {
        Device::BallAndClub => &club_data,
        Device::BallAndStrike => &strike,
        Device::Ball => &[],
    };
    for &(q, value, sd) in rest {
        m.set(q, Some(noisy(value, sd)));
    }
    m
}
