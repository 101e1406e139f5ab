//! A bare calculation: one flight.

use super::Failure;
use super::args::{Given, QuantityList, Weather, flags};
use super::context::Context;
use crate::flight::run;
use crate::launch::Launch;
use crate::quantity::Quantity;
use crate::report::{Page, Report, tidy};
use crate::units::{DEG, RPM};
use clap::Args;
use serde::Serialize;

/// The quantities of a launch.
#[derive(Debug, Clone, Default)]
pub(super) struct LaunchFlags;
impl QuantityList for LaunchFlags {
    const LIST: &'static [Quantity] = &[
        Quantity::BallSpeed,
        Quantity::LaunchAngle,
        Quantity::LaunchDirection,
        Quantity::SpinRate,
        Quantity::SpinAxis,
    ];
}

/// One flight, with bounce and run.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  trimtab flight --ball-speed-mph 155 --launch-angle-deg 12 --spin-rate-rpm 2700"
)]
pub(super) struct FlightArgs {
    #[command(flatten)]
    given: Given<LaunchFlags>,
    #[command(flatten)]
    weather: Weather,
}

#[derive(Serialize)]
pub(super) struct FlightReport {
    carry_m: f64,
    offline_m: f64,
    start_m: f64,
    curve_m: f64,
    apex_m: f64,
    time_s: f64,
    landing_angle_deg: f64,
    landing_speed_m_s: f64,
    landing_spin_rpm: f64,
    total_m: f64,
    total_offline_m: f64,
    air_density_kg_m3: f64,
}

impl FlightArgs {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let need = |q: Quantity| {
            self.given.0.get(q).ok_or_else(|| {
                let flags: Vec<String> = flags(q).map(|(name, ..)| format!("--{name}")).collect();
                Failure::usage(format!(
                    "say {}: the {} is missing",
                    flags.join(" or "),
                    q.info().doc
                ))
            })
        };
        let launch = Launch {
            ball_speed: need(Quantity::BallSpeed)?,
            launch_angle: need(Quantity::LaunchAngle)?,
            launch_direction: self.given.0.get(Quantity::LaunchDirection).unwrap_or(0.0),
            spin_rate: need(Quantity::SpinRate)?,
            spin_axis: self.given.0.get(Quantity::SpinAxis).unwrap_or(0.0),
        };
        let report = flight_report(&launch, &self.weather, &c.physics()?)?;
        c.show(&report)
    }
}

/// A flight in the given weather, with bounce and run.
pub(super) fn flight_report(
    launch: &Launch,
    weather: &Weather,
    physics: &crate::physics::Physics,
) -> Result<FlightReport, Failure> {
    let meta = weather.meta()?;
    let conditions = meta.conditions();
    let range = physics
        .range(&conditions)
        .precision(crate::flight::Precision::Tight);
    let f = range.fly(launch);
    let rest = run(&f, launch, &physics.ball, &meta.turf());
    Ok(FlightReport {
        carry_m: tidy(f.carry()),
        offline_m: tidy(f.offline),
        start_m: tidy(f.start_offline(launch.launch_direction)),
        curve_m: tidy(f.curve(launch.launch_direction)),
        apex_m: tidy(f.apex),
        time_s: tidy(f.time),
        landing_angle_deg: tidy(f.landing_angle() / DEG),
        landing_speed_m_s: tidy(f.velocity.norm()),
        landing_spin_rpm: tidy(f.spin_rate / RPM),
        total_m: tidy(rest.total()),
        total_offline_m: tidy(rest.offline),
        air_density_kg_m3: tidy(conditions.air.density()),
    })
}

impl Report for FlightReport {
    fn text(&self, page: &mut Page) {
        page.heading("Flight");
        page.answer(&format!(
            "Carries {}, lands {}, runs to {}.",
            page.length(self.carry_m),
            page.sideways(self.offline_m),
            page.length(self.total_m)
        ));
        page.line(&format!(
            "Starts {}, curves {}; height {}, {:.1} s in the air; lands at {:.0} deg with {} and \
             {:.0} rpm; at rest {}. Air {:.3} kg/m3.",
            page.sideways(self.start_m),
            page.sideways(self.curve_m),
            page.length(self.apex_m),
            self.time_s,
            self.landing_angle_deg,
            page.speed(self.landing_speed_m_s),
            self.landing_spin_rpm,
            page.sideways(self.total_offline_m),
            self.air_density_kg_m3
        ));
    }
}
