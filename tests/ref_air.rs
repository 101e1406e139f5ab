//! Air against published densities and viscosities.

mod common;
use common::*;
use trimtab::air::{Air, pressure_at};

const CIPM: &str = "Picard, Davis, Glaeser, Fujii 2008, Revised formula for the density of moist \
                    air (CIPM-2007), Metrologia 45, 149-155; constants second-hand, evaluated by a second program";
const ISA: &str = "ISO 2533:1975, Standard Atmosphere";
const USSA: &str = "U.S. Standard Atmosphere 1976, table of sea-level properties (from memory)";

fn air(celsius: f64, pressure: f64, humidity: f64) -> Air {
    Air {
        temperature: celsius + 273.15,
        pressure,
        humidity,
    }
}

// The 30 C value had been noted as 1.1556; evaluating the equation again gives 1.1555.
#[test]
fn ref_density_of_moist_air() {
    let at = |c, h| air(c, 101_325.0, h).density();
    let digit = Abs(0.000_005);
    let why = "half of the last digit given";
    table! {
        "20 C, 50 %", at(20.0, 0.5), 1.199_31, "kg/m3", digit, why, CIPM;
        "20 C, dry", at(20.0, 0.0), 1.204_56, "kg/m3", digit, why, CIPM;
        "30 C, 50 %", at(30.0, 0.5), 1.155_51, "kg/m3", digit, why, CIPM;
        "35 C, 90 %", at(35.0, 0.9), 1.124_22, "kg/m3", digit, why, CIPM;
    }
}

#[test]
fn ref_density_by_ideal_gases() {
    // Dalton's law with two ideal gases and the Magnus formula: another road to the same density.
    let why = "compressibility 0.9996, enhancement factor 1.004 on 1 % of the moisture term";
    let src = "Dalton's law; Alduchov, Eskridge 1996, Improved Magnus form approximation, J. Appl. \
               Meteorol. 35, 601-609 (constants from memory)";
    let mut rows = Vec::new();
    for (c, p, h) in [
        (5.0, 101_325.0, 0.8),
        (20.0, 101_325.0, 0.5),
        (25.0, 85_000.0, 0.3),
        (30.0, 99_000.0, 0.9),
    ] {
        let vapour = h * 610.94 * f64::exp(17.625 * c / (c + 243.04));
        let t = c + 273.15;
        let want = (p - vapour) / (287.05 * t) + vapour / (461.5 * t);
        let got = air(c, p, h).density();
        rows.push(row(
            format!("{c} C {p} Pa"),
            got,
            want,
            "kg/m3",
            Rel(7e-4),
            why,
            src,
        ));
    }
    check(&rows);
}

#[test]
fn ref_standard_atmosphere() {
    let density = |h| Air::standard(h).density();
    let real = "the standard takes an ideal gas, CIPM-2007 has Z = 0.9996 and M heavier by 4e-5";
    let digit = "half of the last digit given";
    table! {
        "density 0 m", density(0.0), 1.2250, "kg/m3", Rel(6e-4), real, ISA;
        "density 1000 m", density(1000.0), 1.1116, "kg/m3", Rel(6e-4), real, ISA;
        "density 2000 m", density(2000.0), 1.0065, "kg/m3", Rel(6e-4), real, ISA;
        "pressure 0 m", pressure_at(0.0), 101_325.0, "Pa", Abs(0.5), digit, ISA;
        "pressure 1000 m", pressure_at(1000.0), 89_874.6, "Pa", Abs(0.5), digit, USSA;
        "pressure 2000 m", pressure_at(2000.0), 79_495.2, "Pa", Abs(0.5), digit, USSA;
        "temperature", Air::standard(2000.0).temperature, 275.15, "K", Abs(1e-9), "exact", ISA;
    }
}

#[test]
fn ref_viscosity() {
    let sea = Air::standard(0.0);
    let cold = air(0.0, 101_325.0, 0.0);
    let digit = "last digits given";
    table! {
        "15 C", sea.viscosity() * 1e5, 1.7894, "1e-5 Pa s", Abs(0.0001), digit, USSA;
        "0 C", cold.viscosity() * 1e5, 1.716, "1e-5 Pa s", Rel(0.002),
            "three digits, and Sutherland constants differ between sources",
            "White 1974, Viscous Fluid Flow (from memory)";
        "kinematic, 15 C", sea.kinematic_viscosity() * 1e5, 1.4607, "1e-5 m2/s", Rel(7e-4),
            "density is of the real gas", USSA;
    }
}

#[test]
fn inv_default_is_twenty_degrees_at_sea_level() {
    let want = air(20.0, 101_325.0, 0.5).density();
    assert_eq!(Air::default().density().to_bits(), want.to_bits());
}

#[test]
fn prop_warm_moist_or_thin_air_is_lighter() {
    for i in 0..200 {
        let c = spread(i, 0, 0.0, 40.0);
        let p = spread(i, 1, 70_000.0, 105_000.0);
        let h = spread(i, 2, 0.0, 0.9);
        let d = air(c, p, h).density();
        assert!(air(c + 1.0, p, h).density() < d, "warmer at {c} {p} {h}");
        assert!(air(c, p, h + 0.05).density() < d, "moister at {c} {p} {h}");
        assert!(air(c, p - 500.0, h).density() < d, "thinner at {c} {p} {h}");
    }
}
