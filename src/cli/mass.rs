//! A bare calculation: mass properties of a head.

use super::Failure;
use super::args::setting_file;
use super::context::{Context, source};
use super::names::{Named, full_name};
use crate::bench::describe::read_head;
use crate::club::features;
use crate::hand::Hand;
use crate::head::{ClubKind, Head, Setting};
use crate::hosel::angle_change;
use crate::report::{Page, Report, fixed, signed, tidy};
use crate::rules::vertical_inertia;
use crate::units::{DEG, G_CM2, MM};
use clap::Args;
use serde::Serialize;

/// A head from a file or from the bench, at a setting.
#[derive(Debug, Clone, Args)]
pub(super) struct HeadAt {
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
    /// The head, how it is set, and for which hand it is: the right one where the file does not say.
    pub fn read(&self, c: &mut Context<'_, '_>) -> Result<(Head, Setting, Hand), Failure> {
        let (file, head) = match (&self.head_file, &self.head) {
            (Some(file), _) => {
                let text = c.read(file)?;
                read_head(&source(file, &text))?
            }
            (None, Some(name)) => {
                let bench = c.open()?;
                bench.head(&full_name(&bench, Named::Head, name)?)?
            }
            (None, None) => return Err(Failure::usage("name a --head-file or a --head")),
        };
        let setting = setting_file(&self.set, &head)?
            .apply(&head, &head.reference)
            .map_err(Failure::input)?;
        Ok((head, setting, file.hand.unwrap_or(Hand::Right)))
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
    #[serde(skip)]
    kind: ClubKind,
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
        let (head, setting, _) = self.head.read(c)?;
        let who = c.global.attitude.into();
        let body = head.mass_properties(&setting);
        let [toe, back, up, mass, ..] = features(&head, &setting, who);
        let turned = angle_change(&head.attitude(&setting, who), head.loft);
        c.show(&MassReport {
            kind: head.kind,
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
            "Sleeve and bend: loft {}, lie {}, face {} deg (more open is positive).",
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
        // The limit is one for drivers.
        let rule = match self.kind {
            ClubKind::Driver => " The rules allow 5900 with a tolerance of 100.",
            _ => "",
        };
        page.line(&format!(
            "About the vertical at 60 deg lie: {:.0}.{rule}",
            self.vertical_inertia_at_60_deg_lie_g_cm2
        ));
    }
}
