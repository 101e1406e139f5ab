//! Aerodynamic coefficient sets: drag and lift against Reynolds number and spin ratio.
//!
//! A set is a data file in `data/aero/` that names its source, its range of validity and what
//! happens outside it. `S = r omega / V`, `Re = V D / nu`, forces are on `A = pi r²`.

use serde::Deserialize;
use std::f64::consts::PI;

/// One published coefficient set, ready to evaluate.
#[derive(Debug, Clone)]
pub struct AeroSet {
    /// Name of the set.
    pub name: String,
    /// Where it was published.
    pub source: String,
    /// What happens outside its range of validity.
    pub outside_range: String,
    /// Spin decay constant `k` in `d omega/dt = -k (rho/rho_ref) omega V / r`.
    pub spin_decay: f64,
    /// Air density at which the decay constant holds, kg/m³.
    pub spin_decay_density: f64,
    form: Form,
}

#[derive(Debug, Clone)]
enum Form {
    Analytic(Analytic),
    Polynomial(Polynomial),
    Table(Table),
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct SetFile {
    name: String,
    source: String,
    outside_range: String,
    spin_decay: f64,
    spin_decay_density_kg_m3: f64,
    analytic: Option<Analytic>,
    polynomial: Option<Polynomial>,
    table: Option<TableFile>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Analytic {
    cd_a: f64,
    cd_b: f64,
    cd_c: f64,
    re0: f64,
    re1: f64,
    cl_d: f64,
    cl_n: f64,
    re_range: [f64; 2],
    s_range: [f64; 2],
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Polynomial {
    cd: [f64; 4],
    cl: [f64; 4],
    re_range: [f64; 2],
    s_range: [f64; 2],
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct TableFile {
    /// Name of the CSV; the caller reads it.
    #[allow(dead_code)]
    csv: String,
    diameter_mm: f64,
    kinematic_viscosity_m2_s: f64,
}

/// A set file that cannot be used, and why.
#[derive(Debug, Clone, thiserror::Error)]
#[error("aerodynamic set: {0}")]
pub struct AeroError(String);

/// The sets that come with the library: name, set file, table.
const BUILT_IN: [(&str, &str, &str); 3] = [
    (
        "bearman-harvey-1976",
        include_str!("../../data/aero/bearman-harvey-1976.toml"),
        include_str!("../../data/aero/bearman-harvey-1976.csv"),
    ),
    (
        "smits-smith-1994",
        include_str!("../../data/aero/smits-smith-1994.toml"),
        "",
    ),
    (
        "indoor-range-2001",
        include_str!("../../data/aero/indoor-range-2001.toml"),
        "",
    ),
];

impl AeroSet {
    /// Names of the sets that come with the library; the first is the default.
    pub fn names() -> impl Iterator<Item = &'static str> {
        BUILT_IN.iter().map(|(name, ..)| *name)
    }

    /// A set by its name; `None` if there is none of that name.
    pub fn named(name: &str) -> Option<AeroSet> {
        let (_, file, table) = BUILT_IN.iter().find(|(n, ..)| *n == name)?;
        Some(AeroSet::parse(file, table).expect("the built-in sets are tested"))
    }

    /// A set from the text of its set file and of its table (empty if it has none).
    ///
    /// # Errors
    /// If a key is missing or unknown, if it does not give exactly one form, or if the table is
    /// not a complete grid of `speed_m_s` by `spin_rpm`.
    pub fn parse(file: &str, table: &str) -> Result<AeroSet, AeroError> {
        let f: SetFile = toml::from_str(file).map_err(|e| AeroError(e.to_string()))?;
        let form = match (f.analytic, f.polynomial, f.table) {
            (Some(a), None, None) => Form::Analytic(a),
            (None, Some(p), None) => Form::Polynomial(p),
            (None, None, Some(t)) => Form::Table(Table::parse(&t, table)?),
            _ => {
                return Err(AeroError(format!(
                    "{}: give exactly one of [analytic], [polynomial], [table]",
                    f.name
                )));
            }
        };
        Ok(AeroSet {
            name: f.name,
            source: f.source,
            outside_range: f.outside_range,
            spin_decay: f.spin_decay,
            spin_decay_density: f.spin_decay_density_kg_m3,
            form,
        })
    }

    /// Drag and lift coefficients for several balls at once.
    #[inline(always)]
    pub(super) fn lanes<const L: usize>(&self, re: &[f64; L], s: &[f64; L]) -> [[f64; L]; 2] {
        let mut out = [[0.0; L]; 2];
        for i in 0..L {
            (out[0][i], out[1][i]) = match &self.form {
                Form::Table(t) => t.at(re[i], s[i]),
                _ => self.coefficients(re[i], s[i]),
            };
        }
        out
    }

    /// Drag and lift coefficient at a Reynolds number and spin ratio.
    #[inline]
    pub fn coefficients(&self, re: f64, s: f64) -> (f64, f64) {
        match &self.form {
            Form::Table(t) => t.at(re, s),
            Form::Analytic(a) => {
                let re = re.clamp(a.re_range[0], a.re_range[1]);
                // No spin, no lift: below the range the lift goes to zero in proportion.
                let held = s.clamp(a.s_range[0], a.s_range[1]);
                let fade = (s / a.s_range[0]).min(1.0);
                let cd = a.cd_a + a.cd_b * held + a.cd_c * (PI * (re - a.re0) / a.re1).sin();
                (cd, a.cl_d * held.powf(a.cl_n) * fade)
            }
            Form::Polynomial(p) => {
                let r = re.clamp(p.re_range[0], p.re_range[1]) / 1e5;
                let held = s.clamp(p.s_range[0], p.s_range[1]);
                let fade = (s / p.s_range[0]).min(1.0);
                let cd = p.cd[0] + p.cd[1] * held * held + p.cd[2] * r + p.cd[3] * held;
                let cl = p.cl[0] + p.cl[1] * held + p.cl[2] / (r * r) + p.cl[3] * held * held;
                (cd, cl * fade)
            }
        }
    }
}

impl Default for AeroSet {
    fn default() -> Self {
        AeroSet::named(BUILT_IN[0].0).expect("the first built-in set")
    }
}

/// A grid of speed by spin, bilinear inside and held at the edge; lift fades to zero below the
/// lowest spin in the table.
#[derive(Debug, Clone)]
struct Table {
    speed: Axis,
    spin: Axis,
    /// By speed, then spin: `c0 + ca a + cb b + cab a b` with `a`, `b` the place in the cell from 0
    /// to 1, first the four of the drag coefficient, then the four of lift.
    cells: Vec<[f64; 8]>,
    /// Table speed per Reynolds number, m/s.
    speed_per_re: f64,
    /// Table spin per (spin ratio times speed), rpm.
    rpm_per_sv: f64,
}

impl Table {
    fn parse(file: &TableFile, csv: &str) -> Result<Table, AeroError> {
        #[derive(Deserialize)]
        struct Row {
            speed_m_s: f64,
            spin_rpm: f64,
            cd: f64,
            cl: f64,
        }
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_reader(csv.as_bytes());
        let mut rows = Vec::new();
        for row in reader.deserialize() {
            let row: Row = row.map_err(|e| AeroError(e.to_string()))?;
            let all = [row.speed_m_s, row.spin_rpm, row.cd, row.cl];
            if all.iter().any(|v| !v.is_finite()) {
                return Err(AeroError(
                    "the table holds a value that is not finite".into(),
                ));
            }
            rows.push(row);
        }
        let axis = |pick: fn(&Row) -> f64| {
            let mut v: Vec<f64> = rows.iter().map(pick).collect();
            v.sort_by(f64::total_cmp);
            v.dedup();
            Axis::new(v)
        };
        let speed = axis(|r| r.speed_m_s)?;
        let spin = axis(|r| r.spin_rpm)?;
        let mut values = vec![[f64::NAN; 2]; speed.knots.len() * spin.knots.len()];
        for r in &rows {
            let i = speed.knots.partition_point(|v| *v < r.speed_m_s);
            let j = spin.knots.partition_point(|v| *v < r.spin_rpm);
            values[i * spin.knots.len() + j] = [r.cd, r.cl];
        }
        if values.iter().any(|v| v[0].is_nan()) {
            return Err(AeroError(
                "the table is not a complete grid of speed by spin".into(),
            ));
        }
        let n = spin.knots.len();
        let mut cells = Vec::with_capacity(values.len());
        for i in 0..speed.knots.len() - 1 {
            for j in 0..n - 1 {
                let corner = |di: usize, dj: usize, k: usize| values[(i + di) * n + j + dj][k];
                let mut cell = [0.0; 8];
                for k in 0..2 {
                    let c = [
                        corner(0, 0, k),
                        corner(1, 0, k),
                        corner(0, 1, k),
                        corner(1, 1, k),
                    ];
                    cell[4 * k] = c[0];
                    cell[4 * k + 1] = c[1] - c[0];
                    cell[4 * k + 2] = c[2] - c[0];
                    cell[4 * k + 3] = c[3] - c[2] - c[1] + c[0];
                }
                cells.push(cell);
            }
        }
        let diameter = file.diameter_mm * 1e-3;
        Ok(Table {
            speed,
            spin,
            cells,
            speed_per_re: file.kinematic_viscosity_m2_s / diameter,
            rpm_per_sv: 60.0 / (PI * diameter),
        })
    }

    #[inline]
    fn at(&self, re: f64, s: f64) -> (f64, f64) {
        let v = re * self.speed_per_re;
        let rpm = s * v * self.rpm_per_sv;
        let (i, a) = self.speed.locate(v);
        let (j, b) = self.spin.locate(rpm);
        let c = &self.cells[i * self.spin.cells() + j];
        let ab = a * b;
        let cd = c[0] + c[1] * a + c[2] * b + c[3] * ab;
        let cl = c[4] + c[5] * a + c[6] * b + c[7] * ab;
        (cd, cl * (rpm * self.spin.inverse_first).min(1.0))
    }
}

/// Ascending knots with a bucket index for constant-time look-up.
#[derive(Debug, Clone)]
struct Axis {
    knots: Vec<f64>,
    inverse_width: Vec<f64>,
    bucket: Vec<u16>,
    buckets_per_unit: f64,
    first: f64,
    last: f64,
    inverse_first: f64,
}

impl Axis {
    fn new(knots: Vec<f64>) -> Result<Axis, AeroError> {
        if knots.first().is_some_and(|k| *k <= 0.0) || !(2..=1000).contains(&knots.len()) {
            return Err(AeroError(
                "each axis of the table needs 2 to 1000 positive values".into(),
            ));
        }
        let (first, last) = (knots[0], knots[knots.len() - 1]);
        let narrowest = knots
            .windows(2)
            .map(|w| w[1] - w[0])
            .fold(f64::INFINITY, f64::min);
        // Buckets no wider than the narrowest cell, so that one comparison finds the cell.
        let count = (((last - first) / narrowest).ceil() as usize).clamp(1, 100_000);
        let width = (last - first) / count as f64;
        let cells = knots.len() - 2;
        let bucket = (0..=count)
            .map(|b| {
                let x = first + b as f64 * width;
                (knots.partition_point(|k| *k <= x).saturating_sub(1)).min(cells) as u16
            })
            .collect();
        Ok(Axis {
            inverse_width: knots.windows(2).map(|w| 1.0 / (w[1] - w[0])).collect(),
            bucket,
            buckets_per_unit: 1.0 / width,
            first,
            last,
            inverse_first: 1.0 / first,
            knots,
        })
    }

    /// Cell and position in it (0 to 1), held at the edges.
    #[inline]
    fn locate(&self, x: f64) -> (usize, f64) {
        // `max` before `min` turns a NaN into the first knot.
        let x = x.max(self.first).min(self.last);
        let b = ((x - self.first) * self.buckets_per_unit) as usize;
        let i = self.bucket[b.min(self.bucket.len() - 1)] as usize;
        let i = (i + usize::from(x >= self.knots[i + 1])).min(self.cells() - 1);
        (i, (x - self.knots[i]) * self.inverse_width[i])
    }

    /// Number of cells.
    #[inline]
    fn cells(&self) -> usize {
        self.inverse_width.len()
    }
}
