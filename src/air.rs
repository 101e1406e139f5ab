//! Air: moist-air density, viscosity and the standard atmosphere.
//!
//! | quantity | equation | source |
//! |---|---|---|
//! | density | CIPM-2007 | Picard, Davis, Gläser, Fujii 2008, *Revised formula for the density of moist air (CIPM-2007)*, Metrologia 45, 149-155 |
//! | viscosity | Sutherland's law | U.S. Standard Atmosphere 1976, NOAA-S/T 76-1562, eq. 51 |
//! | pressure at altitude | hydrostatic, 6.5 K/km | ISO 2533:1975, *Standard Atmosphere* |

use crate::units::{STANDARD_GRAVITY, ZERO_CELSIUS};

/// The state of the air at the range. All SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Temperature, K. Plausible: 240 to 325.
    pub temperature: f64,
    /// Static pressure, Pa. Plausible: 50 000 to 110 000.
    pub pressure: f64,
    /// Relative humidity, 0 to 1.
    pub humidity: f64,
}

impl Default for Air {
    /// 20 °C, sea level, 50 % humidity.
    fn default() -> Self {
        Air {
            temperature: 20.0 + ZERO_CELSIUS,
            pressure: SEA_LEVEL_PRESSURE,
            humidity: 0.5,
        }
    }
}

/// Sea-level pressure of the standard atmosphere, Pa (ISO 2533:1975).
pub const SEA_LEVEL_PRESSURE: f64 = 101_325.0;
/// Sea-level temperature of the standard atmosphere, K (ISO 2533:1975).
pub const SEA_LEVEL_TEMPERATURE: f64 = 288.15;

/// Molar gas constant, J/(mol K), the CODATA 2006 value that CIPM-2007 is built on.
const GAS_CONSTANT: f64 = 8.314_472;
/// Molar mass of dry air with 400 µmol/mol CO2, kg/mol (CIPM-2007 eq. 1).
const MOLAR_MASS_DRY: f64 = 28.965_46e-3;
/// Molar mass of water, kg/mol (CIPM-2007).
const MOLAR_MASS_WATER: f64 = 18.015_28e-3;

impl Air {
    /// Density of moist air, kg/m³, by CIPM-2007.
    ///
    /// Relative uncertainty of the equation itself is 2.2e-5 for 600 to 1100 hPa, 15 to 27 °C;
    /// outside that range it degrades gracefully and is far better than a flight model needs.
    pub fn density(&self) -> f64 {
        let (t, p) = (self.temperature, self.pressure);
        let celsius = t - ZERO_CELSIUS;
        // Saturation vapour pressure, Pa.
        let saturation =
            (1.237_884_7e-5 * t * t - 1.912_131_6e-2 * t + 33.937_110_47 - 6.343_164_5e3 / t).exp();
        // Enhancement factor.
        let enhancement = 1.000_62 + 3.14e-8 * p + 5.6e-7 * celsius * celsius;
        let x_water = self.humidity * enhancement * saturation / p;
        // Compressibility.
        let z = 1.0
            - p / t
                * (1.581_23e-6 - 2.9331e-8 * celsius
                    + 1.1043e-10 * celsius * celsius
                    + (5.707e-6 - 2.051e-8 * celsius) * x_water
                    + (1.9898e-4 - 2.376e-6 * celsius) * x_water * x_water)
            + (p / t).powi(2) * (1.83e-11 - 0.765e-8 * x_water * x_water);
        p * MOLAR_MASS_DRY / (z * GAS_CONSTANT * t)
            * (1.0 - x_water * (1.0 - MOLAR_MASS_WATER / MOLAR_MASS_DRY))
    }

    /// Dynamic viscosity, Pa s, by Sutherland's law for dry air. Moisture changes it by less than
    /// 1 % at golfing temperatures; it enters through the Reynolds number only.
    pub fn viscosity(&self) -> f64 {
        1.458e-6 * self.temperature.powf(1.5) / (self.temperature + 110.4)
    }

    /// Kinematic viscosity, m²/s.
    pub fn kinematic_viscosity(&self) -> f64 {
        self.viscosity() / self.density()
    }

    /// The standard atmosphere (dry) at an altitude in m, up to the tropopause.
    pub fn standard(altitude: f64) -> Air {
        Air {
            temperature: SEA_LEVEL_TEMPERATURE - LAPSE_RATE * altitude,
            pressure: pressure_at(altitude),
            humidity: 0.0,
        }
    }
}

/// Temperature lapse rate of the standard troposphere, K/m (ISO 2533:1975).
const LAPSE_RATE: f64 = 6.5e-3;
/// Specific gas constant of dry air in the standard atmosphere, J/(kg K) (ISO 2533:1975).
const SPECIFIC_GAS_CONSTANT: f64 = 287.052_87;

/// Pressure of the standard atmosphere at an altitude (m), Pa, for 0 to 11 000 m.
pub fn pressure_at(altitude: f64) -> f64 {
    let ratio = 1.0 - LAPSE_RATE * altitude / SEA_LEVEL_TEMPERATURE;
    SEA_LEVEL_PRESSURE * ratio.powf(STANDARD_GRAVITY / (LAPSE_RATE * SPECIFIC_GAS_CONSTANT))
}
