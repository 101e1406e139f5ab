//! A bare calculation: one impact.

use super::Failure;
use super::args::{Given, QuantityList, Weather};
use super::context::Context;
use super::flight::{FlightReport, flight_report};
use super::mass::HeadAt;
use crate::hand::Hand;
use crate::impact::Delivery;
use crate::quantity::Quantity;
use crate::report::{Page, Report, fixed, signed, tidy};
use crate::units::{DEG, RPM};
use clap::Args;
use serde::Serialize;

/// The quantities of a delivery.
#[derive(Debug, Clone, Default)]
pub(super) struct DeliveryFlags;
impl QuantityList for DeliveryFlags {
    const LIST: &'static [Quantity] = &crate::delivery::COMPONENTS;
}

/// One impact: a delivery with a head gives a launch, and its flight.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  trimtab impact --head-file heron.toml --head-speed-mph 105 --strike-toe-mm 5"
)]
pub(super) struct ImpactArgs {
    #[command(flatten)]
    head: HeadAt,
    /// Left-handed.
    #[arg(long)]
    left: bool,
    #[command(flatten)]
    given: Given<DeliveryFlags>,
    #[command(flatten)]
    weather: Weather,
}

#[derive(Serialize)]
struct ImpactReport {
    head: String,
    setting: String,
    ball_speed_m_s: f64,
    speed_ratio: f64,
    launch_angle_deg: f64,
    launch_direction_deg: f64,
    spin_rate_rpm: f64,
    spin_axis_deg: f64,
    sliding: bool,
    head_speed_after_m_s: f64,
    energy_lost_j: f64,
    flight: FlightReport,
}

impl ImpactArgs {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let (head, setting) = self.head.read(c)?;
        let physics = c.physics()?;
        let hand = if self.left { Hand::Left } else { Hand::Right };
        let prior = crate::priors::player(&head).mean;
        let given = hand.turn(self.given.0);
        let mut v = prior;
        for (i, q) in crate::delivery::COMPONENTS.iter().enumerate() {
            v[i] = given.get(*q).unwrap_or(prior[i]);
        }
        let delivery = Delivery::from_vector(&v);
        let striker = physics.striker(&head, &setting, &setting)?;
        let impact = striker.strike(&striker.swing(&delivery), &physics.ball, &physics.impact);
        let launch = hand.turn(impact.launch());
        let flight = flight_report(&launch, &self.weather, &physics)?;
        c.show(&ImpactReport {
            setting: setting.describe(&head),
            head: head.name,
            ball_speed_m_s: tidy(launch.ball_speed),
            speed_ratio: tidy(launch.ball_speed / delivery.head_speed),
            launch_angle_deg: tidy(launch.launch_angle / DEG),
            launch_direction_deg: tidy(launch.launch_direction / DEG),
            spin_rate_rpm: tidy(launch.spin_rate / RPM),
            spin_axis_deg: tidy(launch.spin_axis / DEG),
            sliding: impact.sliding,
            head_speed_after_m_s: tidy(impact.head_velocity.norm()),
            energy_lost_j: tidy(impact.energy_lost),
            flight,
        })
    }
}

impl Report for ImpactReport {
    fn text(&self, page: &mut Page) {
        page.heading(&format!("{}: {}", self.head, self.setting));
        page.answer(&format!(
            "Ball {}, launch {} deg, direction {} deg, spin {:.0} rpm, axis {} deg.",
            page.speed(self.ball_speed_m_s),
            fixed(self.launch_angle_deg, 1),
            signed(self.launch_direction_deg, 1),
            self.spin_rate_rpm,
            signed(self.spin_axis_deg, 1)
        ));
        page.line(&format!(
            "Ball over head speed {:.3}; head {} after; {:.0} J lost; the ball {} the face.",
            self.speed_ratio,
            page.speed(self.head_speed_after_m_s),
            self.energy_lost_j,
            if self.sliding { "slid on" } else { "gripped" }
        ));
        page.line("What was not given is that of a usual player with this kind of club.");
        self.flight.text(page);
    }
}
