//! The bare calculations: mass properties, an impact, a flight.

use super::Failure;
use super::args::{Given, QuantityList, Weather, setting_file};
use super::context::{Context, source};
use crate::bench::describe::read_head;
use crate::club::features;
use crate::flight::run;
use crate::hand::Hand;
use crate::head::{Head, Setting};
use crate::hosel::angle_change;
use crate::impact::Delivery;
use crate::launch::Launch;
use crate::proposal::vertical_inertia;
use crate::quantity::Quantity;
use crate::report::{Page, Report, fixed, signed, tidy};
use crate::units::{DEG, G_CM2, MM, RPM};
use clap::Args;
use serde::Serialize;

/// A head from a file or from the bench, at a setting.
#[derive(Debug, Clone, Args)]
struct HeadAt {
    /// Head file; - is standard input.
    #[arg(long, value_name = "TOML", required_unless_present = "head")]
    head_file: Option<String>,
    /// Head in the bench.
    #[arg(long, value_name = "NAME", conflicts_with = "head_file")]
    head: Option<String>,
    /// A lever and where it stands, may be repeated: heel-toe=20%, sole=7g, melt:heel=4g,
    /// sleeve=90deg [default: the head's reference].
    #[arg(long, value_name = "LEVER=VALUE")]
    set: Vec<String>,
}

impl HeadAt {
    fn read(&self, c: &mut Context<'_, '_>) -> Result<(Head, Setting), Failure> {
        let head = match (&self.head_file, &self.head) {
            (Some(file), _) => {
                let text = c.read(file)?;
                read_head(&source(file, &text))?.1
            }
            (None, Some(name)) => c.open()?.head(name)?.1,
            (None, None) => return Err(Failure::usage("name a --head-file or a --head")),
        };
        let setting = setting_file(&self.set, &head)?
            .apply(&head, &head.reference)
            .map_err(Failure::input)?;
        Ok((head, setting))
    }
}

/// Mass, centre of gravity and inertia of a head at a setting.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab mass --head-file heron.toml --set heel-toe=20%")]
pub(super) struct Mass {
    #[command(flatten)]
    head: HeadAt,
}

#[derive(Serialize)]
struct MassReport {
    head: String,
    setting: String,
    mass_g: f64,
    cg_toe_mm: f64,
    cg_out_mm: f64,
    cg_up_mm: f64,
    /// Tensor about the CG in the head frame (x toe-ward, y out of the face, z up), by rows.
    inertia_g_cm2: [[f64; 3]; 3],
    vertical_inertia_at_60_deg_lie_g_cm2: f64,
    mass_change_g: f64,
    cg_change_toe_mm: f64,
    cg_change_back_mm: f64,
    cg_change_up_mm: f64,
    loft_change_deg: f64,
    lie_change_deg: f64,
    face_change_deg: f64,
}

impl Mass {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let (head, setting) = self.head.read(c)?;
        let who = c.global.attitude.into();
        let body = head.mass_properties(&setting);
        let [toe, back, up, mass, ..] = features(&head, &setting, who);
        let turned = angle_change(&head.attitude(&setting, who), head.loft);
        c.show(&MassReport {
            setting: setting.describe(&head),
            mass_g: tidy(body.mass * 1e3),
            cg_toe_mm: tidy(body.cg.x / MM),
            cg_out_mm: tidy(body.cg.y / MM),
            cg_up_mm: tidy(body.cg.z / MM),
            inertia_g_cm2: std::array::from_fn(|i| {
                std::array::from_fn(|j| tidy(body.inertia[(i, j)] / G_CM2))
            }),
            vertical_inertia_at_60_deg_lie_g_cm2: tidy(vertical_inertia(&head, &setting) / G_CM2),
            mass_change_g: tidy(mass),
            cg_change_toe_mm: tidy(toe),
            cg_change_back_mm: tidy(back),
            cg_change_up_mm: tidy(up),
            loft_change_deg: tidy(turned.loft / DEG),
            lie_change_deg: tidy(turned.lie / DEG),
            face_change_deg: tidy(turned.face / DEG),
            head: head.name,
        })
    }
}

impl Report for MassReport {
    fn text(&self, page: &mut Page) {
        page.heading(&format!("{}: {}", self.head, self.setting));
        let row = |name: &str, value: f64, change: f64, unit: &str| {
            vec![
                name.to_string(),
                fixed(value, 2),
                signed(change, 2),
                unit.to_string(),
            ]
        };
        let rows = [
            row("mass", self.mass_g, self.mass_change_g, "g"),
            row("CG toe-ward", self.cg_toe_mm, self.cg_change_toe_mm, "mm"),
            row(
                "CG out of the face",
                self.cg_out_mm,
                -self.cg_change_back_mm,
                "mm",
            ),
            row("CG up", self.cg_up_mm, self.cg_change_up_mm, "mm"),
        ];
        page.table(&["", "value", "change", ""], &rows, 1);
        page.line(&format!(
            "Sleeve and bend: loft {}, lie {}, face {} deg (right-handed, right positive).",
            signed(self.loft_change_deg, 2),
            signed(self.lie_change_deg, 2),
            signed(self.face_change_deg, 2)
        ));
        page.heading("Inertia about the CG, g cm2 (x toe-ward, y out of the face, z up)");
        let rows: Vec<Vec<String>> = self
            .inertia_g_cm2
            .iter()
            .zip(["x", "y", "z"])
            .map(|(r, name)| {
                let mut cells = vec![name.to_string()];
                cells.extend(r.iter().map(|v| fixed(*v, 0)));
                cells
            })
            .collect();
        page.table(&["", "x", "y", "z"], &rows, 1);
        page.line(&format!(
            "About the vertical at 60 deg lie: {:.0}. The rules allow 5900 with a tolerance of 100.",
            self.vertical_inertia_at_60_deg_lie_g_cm2
        ));
    }
}

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
        let body = head.mass_properties(&setting);
        let b = &physics.ball;
        let before = 0.5 * body.mass * delivery.head_speed.powi(2);
        let omega = impact.head_spin;
        // The head's inertia in the target frame is not needed: its energy follows from the
        // impulse, T = T0 - J.u + J.WJ/2; here from the parts that are known in any frame.
        let orientation =
            striker.swing(&delivery).hands * head.attitude(&setting, physics.attitude);
        let inertia = orientation.matrix() * body.inertia * orientation.matrix().transpose();
        let after = 0.5
            * (body.mass * impact.head_velocity.norm_squared()
                + omega.dot(&(inertia * omega))
                + b.mass * impact.ball_velocity.norm_squared()
                + b.inertia * impact.ball_spin.norm_squared());
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
            energy_lost_j: tidy(before - after),
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
struct FlightReport {
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
                Failure::usage(format!(
                    "the {} is missing: see 'trimtab flight --help'",
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

fn flight_report(
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
