//! What each column of a session holds.

use super::mapping::{MappedColumn, Mapping, Positive};
use crate::quantity::{Dimension, Quantity, TABLE};

/// A quantity's column as it was read: the unit is needed to tell a mix-up of units.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadColumn {
    /// Name in the header line.
    pub header: String,
    /// What it holds.
    pub quantity: Quantity,
    /// Unit, one of those of the quantity's dimension.
    pub unit: &'static str,
}

pub(super) const BACK_SPIN: &str = "back_spin";
pub(super) const SIDE_SPIN: &str = "side_spin";

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Role {
    /// A number.
    Value(Value),
    /// Number of the shot.
    Shot,
    /// Anything.
    Note,
    /// Nothing that is known; kept as it came.
    Ignored,
}

/// What a column of numbers holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Value {
    pub what: What,
    pub unit: &'static str,
    /// SI size of the unit.
    pub size: f64,
    /// Whether left is positive in the file.
    pub left_positive: bool,
}

/// A quantity or one of the two parts of spin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum What {
    Quantity(Quantity),
    BackSpin,
    SideSpin,
}

impl What {
    fn named(name: &str) -> Option<What> {
        match name {
            BACK_SPIN => Some(What::BackSpin),
            SIDE_SPIN => Some(What::SideSpin),
            _ => Quantity::named(name).map(What::Quantity),
        }
    }

    pub fn dimension(self) -> Dimension {
        match self {
            What::Quantity(q) => q.info().dimension,
            What::BackSpin | What::SideSpin => Dimension::Rotation,
        }
    }

    /// Whether it has a left and a right.
    pub fn sided(self) -> bool {
        match self {
            What::Quantity(q) => q.info().mirrored,
            What::BackSpin => false,
            What::SideSpin => true,
        }
    }

    /// Bounds, SI. Each part of the spin lies within the bounds of the whole, either way round.
    pub fn bounds(self) -> (f64, f64) {
        match self {
            What::Quantity(q) => q.info().bounds,
            What::BackSpin | What::SideSpin => {
                let most = Quantity::SpinRate.info().bounds.1;
                (-most, most)
            }
        }
    }
}

/// Every name that a column or a mapping may have, with its units; `shot` and `note` have none.
pub fn column_names() -> Vec<(&'static str, Vec<&'static str>)> {
    let spin = [(BACK_SPIN, What::BackSpin), (SIDE_SPIN, What::SideSpin)];
    let quantities = TABLE.iter().map(|i| (i.name, i.dimension));
    let all = quantities.chain(spin.map(|(name, what)| (name, what.dimension())));
    all.map(|(name, dimension)| (name, dimension.units().iter().map(|u| u.0).collect()))
        .collect()
}

/// The role of each column of a header line.
///
/// # Errors
/// A mapped column that is not there; two columns for one thing; a misspelt name.
pub(super) fn roles(header: &[String], mapping: Option<&Mapping>) -> Result<Vec<Role>, String> {
    let plain: Vec<String> = header.iter().map(|h| h.trim().to_lowercase()).collect();
    let mut roles: Vec<Role> = vec![Role::Ignored; header.len()];
    let mapped = mapping.iter().flat_map(|m| &m.columns);
    for (key, column) in mapped {
        let wanted = column.column.trim().to_lowercase();
        let Some(n) = plain.iter().position(|h| *h == wanted) else {
            let have = header.join(", ");
            let name = &column.column;
            return Err(format!(
                "the mapping wants a column '{name}'; the file has {have}"
            ));
        };
        if roles[n] != Role::Ignored {
            return Err(format!("the mapping uses the column '{}' twice", header[n]));
        }
        roles[n] = mapped_role(key, column).ok_or(format!("the mapping's '{key}' is unknown"))?;
    }
    let taken: Vec<Role> = roles
        .iter()
        .filter(|r| **r != Role::Ignored)
        .copied()
        .collect();
    for (role, name) in roles.iter_mut().zip(&plain) {
        let named = role_by_name(first_of_twins(name, &plain));
        if *role == Role::Ignored && !taken.iter().any(|t| same(t, &named)) {
            *role = named;
        }
    }
    if mapping.is_none() {
        misspelt(header, &plain, &roles)?;
    }
    for (n, role) in roles.iter().enumerate() {
        if let Some(first) = roles[..n].iter().position(|r| same(r, role)) {
            let (a, b) = (&header[first], first_of_twins(&header[n], header));
            return Err(format!(
                "the columns '{a}' and '{b}' hold the same thing; keep one"
            ));
        }
    }
    Ok(roles)
}

/// The name without the number that it got because it was there before.
fn first_of_twins<'n>(name: &'n str, all: &[String]) -> &'n str {
    match name.rsplit_once(" (") {
        Some((first, _)) if all.iter().any(|n| n == first) => first,
        _ => name,
    }
}

/// How units are written that are not known by that name.
const WRITTEN: &[&str] = &[
    "kn", "kt", "kts", "knot", "knots", "kph", "kmh", "km", "kmph", "mi", "mile", "miles", "ms",
    "mps", "fps", "yds", "yard", "yards", "meter", "meters", "metre", "metres", "feet", "foot",
    "inch", "inches", "degree", "degrees", "radian", "radians", "percent", "rps", "hz",
];

/// So many letters wrong, missing, too many or swapped still look like a slip.
const SLIP: usize = 2;

/// Refuses a column that is unknown but nearly the name of one that the file does not have.
fn misspelt(header: &[String], plain: &[String], roles: &[Role]) -> Result<(), String> {
    let known: Vec<(String, Role)> = column_names()
        .into_iter()
        .flat_map(|(name, units)| units.into_iter().map(move |unit| format!("{name}_{unit}")))
        .map(|name| (name.clone(), role_by_name(&name)))
        .filter(|(_, role)| !roles.iter().any(|r| same(r, role)))
        .collect();
    let unknown = roles.iter().zip(plain).zip(header);
    for ((_, name), told) in unknown.filter(|((role, _), _)| **role == Role::Ignored) {
        let bare = |k: &&(String, Role)| {
            let rest = k.0.strip_prefix(name.as_str());
            What::named(name).is_some() && rest.is_some_and(|r| r.starts_with('_'))
        };
        let units: Vec<&str> = known.iter().filter(bare).map(|k| k.0.as_str()).collect();
        if !units.is_empty() {
            return Err(format!(
                "the column '{told}' lacks its unit: say {}",
                units.join(" or ")
            ));
        }
        let of = |k: &&(String, Role)| {
            let unit = name.rsplit_once('_').filter(|(_, u)| WRITTEN.contains(u));
            unit.is_some_and(|(what, _)| {
                let rest = k.0.strip_prefix(what);
                What::named(what).is_some() && rest.is_some_and(|r| r.starts_with('_'))
            })
        };
        let units: Vec<&str> = known.iter().filter(of).map(|k| k.0.as_str()).collect();
        if !units.is_empty() {
            return Err(format!(
                "the column '{told}' has a unit that is not known: say {}",
                units.join(" or ")
            ));
        }
        let near = known
            .iter()
            .map(|(k, _)| (strsim::damerau_levenshtein(name, k), k))
            .min();
        if let Some((_, meant)) = near.filter(|(slips, _)| *slips <= SLIP) {
            return Err(format!(
                "the column '{told}' is not known: did you mean {meant}? If it is something else, \
                 name it otherwise"
            ));
        }
    }
    Ok(())
}

/// Whether two columns hold the same thing, whatever the unit.
fn same(a: &Role, b: &Role) -> bool {
    match (a, b) {
        (Role::Value(a), Role::Value(b)) => a.what == b.what,
        (Role::Ignored, _) => false,
        (a, b) => a == b,
    }
}

fn mapped_role(key: &str, column: &MappedColumn) -> Option<Role> {
    match key {
        "shot" => return Some(Role::Shot),
        "note" => return Some(Role::Note),
        _ => {}
    }
    let left_positive = column.positive == Some(Positive::Left);
    value(What::named(key)?, column.unit.as_deref()?, left_positive)
}

fn role_by_name(name: &str) -> Role {
    match name {
        "shot" => return Role::Shot,
        "note" => return Role::Note,
        _ => {}
    }
    let spin = [BACK_SPIN, SIDE_SPIN].into_iter().find_map(|what| {
        let unit = name.strip_prefix(what)?.strip_prefix('_')?;
        value(What::named(what)?, unit, false)
    });
    let quantity = || {
        let (q, _) = Quantity::column(name)?;
        let unit = name.strip_prefix(q.info().name)?.strip_prefix('_')?;
        value(What::Quantity(q), unit, false)
    };
    spin.or_else(quantity).unwrap_or(Role::Ignored)
}

fn value(what: What, unit: &str, left_positive: bool) -> Option<Role> {
    let units = what.dimension().units();
    let &(unit, size) = units.iter().find(|(name, _)| *name == unit)?;
    Some(Role::Value(Value {
        what,
        unit,
        size,
        left_positive,
    }))
}
