"""Moist air: the published formula, a property library, and the hydrostatic equation.

`density_cipm` is the formula of Picard et al. 2008 (CIPM-2007), written from the publication;
`flight.py` uses it too. `density_library` and `viscosity_library` are those of CoolProp's humid
air, which rests on other measurements (virial coefficients after ASHRAE RP-1485).
The standard atmosphere is integrated from dp/dz = -g p / (R T) with the lapse rate of ISO 2533.
"""

import math

from CoolProp.HumidAirProp import HAPropsSI
from scipy.constants import g, zero_Celsius
from scipy.integrate import solve_ivp

from common import Draw, fixture

SEED = 20081
DIGITS = 12
# The library's own iterations stop at about 1e-10.
RELATIVE, ABSOLUTE = 1e-9, 1e-12


def water_fraction(temperature, pressure, humidity):
    """Mole fraction of water vapour (Picard et al. 2008, appendix A.1)."""
    saturation = math.exp(
        1.2378847e-5 * temperature**2
        - 1.9121316e-2 * temperature
        + 33.93711047
        - 6.3431645e3 / temperature
    )
    celsius = temperature - zero_Celsius
    fugacity = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius**2
    return humidity * fugacity * saturation / pressure


def density_cipm(temperature, pressure, humidity):
    """kg/m3; Picard et al. 2008, eq. 1 and appendix A.2, 400 umol/mol of carbon dioxide."""
    gas_constant, dry, water = 8.314472, 28.96546e-3, 18.01528e-3
    x = water_fraction(temperature, pressure, humidity)
    t = temperature - zero_Celsius
    first = 1.58123e-6 + t * (-2.9331e-8 + t * 1.1043e-10)
    second = (5.707e-6 - 2.051e-8 * t) * x
    third = (1.9898e-4 - 2.376e-6 * t) * x**2
    ratio = pressure / temperature
    z = 1 - ratio * (first + second + third) + ratio**2 * (1.83e-11 - 0.765e-8 * x**2)
    mean_molar_mass = (1 - x) * dry + x * water
    return pressure * mean_molar_mass / (z * gas_constant * temperature)


def viscosity_sutherland(temperature):
    """Pa s; U.S. Standard Atmosphere 1976, eq. 51."""
    return 1.458e-6 * temperature**1.5 / (temperature + 110.4)


def supercooled_saturation(temperature):
    """Pa, over liquid water; Murphy and Koop 2005, Q. J. R. Meteorol. Soc. 131, eq. 10."""
    t, log = temperature, math.log(temperature)
    return math.exp(
        54.842763
        - 6763.22 / t
        - 4.210 * log
        + 0.000367 * t
        + math.tanh(0.0415 * (t - 218.8))
        * (53.878 - 1331.22 / t - 9.44523 * log + 0.014025 * t)
    )


def library(temperature, pressure, humidity):
    """Density (kg/m3) and viscosity (Pa s) of humid air by CoolProp.

    Below freezing the library takes relative humidity over ice, weather stations and CIPM-2007
    over liquid water; there it is told the mole fraction of water instead.
    """
    state = ("T", temperature, "P", pressure, "R", humidity)
    if temperature < zero_Celsius and humidity > 0:
        fraction = humidity * 1.004 * supercooled_saturation(temperature) / pressure
        state = ("T", temperature, "P", pressure, "Y", fraction)
    dry_part_volume = HAPropsSI("V", *state)  # m3 for a kg of dry air
    water_for_dry = HAPropsSI("W", *state)
    return (1 + water_for_dry) / dry_part_volume, HAPropsSI("M", *state)


def standard_pressure(altitude):
    """Pa; ISO 2533:1975 by integration up from sea level."""
    if altitude == 0.0:
        return 101325.0
    step = solve_ivp(
        lambda z, p: -g * p / (287.05287 * (288.15 - 6.5e-3 * z)),
        (0.0, altitude),
        [101325.0],
        method="DOP853",
        rtol=1e-12,
        atol=1e-6,
    )
    return step.y[0, -1]


def make():
    draw = Draw(SEED)
    cases = []
    for i in range(200):
        # The first half where CIPM-2007 claims its 2.2e-5, the rest wherever golf is played.
        inside = i < 100
        t = zero_Celsius + (draw.between(15, 27) if inside else draw.between(-10, 45))
        p = draw.between(60e3, 106e3)
        h = draw.between(0, 1)
        if i % 10 == 0:
            h = 0.0
        density, viscosity = library(t, p, h)
        cases.append(
            {
                "temperature_k": t,
                "pressure_pa": p,
                "humidity": h,
                "inside_cipm_range": inside,
                "density_cipm": density_cipm(t, p, h),
                "density_library": density,
                "viscosity_sutherland": viscosity_sutherland(t),
                "viscosity_library": viscosity,
            }
        )
    standard = [
        {"altitude_m": float(z), "pressure_pa": standard_pressure(float(z))}
        for z in range(0, 5001, 250)
    ]
    return fixture(
        "air",
        "density and viscosity of moist air; pressure of the standard atmosphere",
        SEED,
        ["CoolProp", "scipy", "numpy"],
        DIGITS,
        cases,
        standard=standard,
    )
