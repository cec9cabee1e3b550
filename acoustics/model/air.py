"""Moist air with carbon dioxide: what the sound in a flute travels in.

The air is taken as a mixture of nitrogen, oxygen, argon, carbon dioxide and water vapour. Heat capacities follow from
the vibrations of the molecules; density and the small real-gas part follow from the second virial coefficient
(CIPM-2007); viscosity and conductivity from Wilke's mixing rule. Unlike a polynomial fitted to laboratory air this
holds for breath, which carries several per cent of carbon dioxide.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from acoustics.errors import InvalidInput
from acoustics.fields import mapping, number

GAS_CONSTANT = 8.314472
"""J/(mol K), the value that CIPM-2007 uses (Picard and others 2008)."""

_MOIST = ("temperature", "relative_humidity", "co2", "pressure")
_PINNED = ("speed_of_sound", "density", "viscosity", "prandtl", "gamma")

# mole fraction in dry air, molar mass [kg/mol], heat capacity without vibration over R, vibration temperatures [K]
# (textbook statistical mechanics; characteristic temperatures from memory), viscosity at 300 K [Pa s] with its exponent
# of temperature, conductivity at 300 K [W/(m K)] with its exponent (handbook values at 250 to 350 K, from memory).
_GASES: dict[str, tuple[float, float, tuple[float, ...], float, float, float, float]] = {
    "N2": (28.0134e-3, 3.5, (3393.0,), 1.789e-5, 0.69, 0.02600, 0.75),
    "O2": (31.9988e-3, 3.5, (2273.0,), 2.072e-5, 0.72, 0.02665, 0.82),
    "Ar": (39.948e-3, 2.5, (), 2.272e-5, 0.77, 0.01772, 0.77),
    "CO2": (44.0095e-3, 3.5, (960.0, 960.0, 1997.0, 3380.0), 1.500e-5, 0.93, 0.01679, 1.35),
    "H2O": (18.01528e-3, 4.0, (2294.0, 5261.0, 5432.0), 0.985e-5, 1.10, 0.01867, 1.30),
}


@dataclass(frozen=True, slots=True)
class Air:
    """The medium, in SI units.

    Attributes
    ----------
    speed_of_sound : [m/s]
    density : [kg/m3]
    viscosity : dynamic viscosity [Pa s]
    prandtl : Prandtl number [-]
    gamma : ratio of heat capacities [-]
    """

    speed_of_sound: float
    density: float
    viscosity: float = 1.82e-5
    prandtl: float = 0.71
    gamma: float = 1.4

    @staticmethod
    def moist(
        temperature: float = 24.0, relative_humidity: float = 0.9, co2: float = 0.03, pressure: float = 101.325
    ) -> Air:
        """Return moist air.

        Parameters
        ----------
        temperature : [degrees C], 0 to 45
        relative_humidity : 0 (dry) to 1 (saturated)
        co2 : mole fraction of carbon dioxide in the dry part, 0 to 0.1; it takes the place of oxygen
        pressure : [kPa], 60 to 110

        Raises
        ------
        InvalidInput : where a value is outside its range

        The speed of sound is within 0.25 cent of Cramer (1993, J. Acoust. Soc. Am. 93, 2510, eq. 15) where that applies
        (0 to 30 degrees C, up to 1 % carbon dioxide).
        """
        t = number(temperature, "temperature", 0.0, 45.0, "degrees C")
        h = number(relative_humidity, "relative_humidity", 0.0, 1.0)
        xc = number(co2, "co2", 0.0, 0.1)
        p = 1e3 * number(pressure, "pressure", 60.0, 110.0, "kPa")
        return _mixture(t, water_fraction(t, h, p), xc, p)

    @staticmethod
    def from_json(document: object, field: str = "air") -> Air:
        """Return the air of a JSON document: either moist air or a pinned medium, never both."""
        if not isinstance(document, Mapping):
            raise InvalidInput(field, document, "must be a JSON object")
        if "speed_of_sound" not in document and "density" not in document:
            values = mapping(document, field, _MOIST)
            try:
                return Air.moist(**values)
            except InvalidInput as refused:
                raise InvalidInput(f"{field}.{refused.field}", refused.value, refused.limit) from None
        values = mapping(document, field, _PINNED, required=("speed_of_sound", "density"))
        limits = {
            "speed_of_sound": (250.0, 450.0, "m/s"),
            "density": (0.5, 2.5, "kg/m3"),
            "viscosity": (5e-6, 5e-5, "Pa s"),
            "prandtl": (0.4, 1.2, ""),
            "gamma": (1.05, 1.7, ""),
        }
        return Air(**{name: number(value, f"{field}.{name}", *limits[name]) for name, value in values.items()})

    def to_json(self) -> dict[str, float]:
        """Return the pinned medium, which ``from_json`` reads back unchanged."""
        return {name: getattr(self, name) for name in _PINNED}


def saturation_pressure(temperature: float) -> float:
    """Return the saturation vapour pressure of water [Pa] at ``temperature`` [degrees C].

    CIPM-2007 (Picard and others 2008, Metrologia 45, 149, eq. A1.1).
    """
    T = temperature + 273.15
    return math.exp(1.2378847e-5 * T * T - 1.9121316e-2 * T + 33.93711047 - 6343.1645 / T)


def water_fraction(temperature: float, relative_humidity: float, pressure: float) -> float:
    """Return the mole fraction of water vapour; temperature [degrees C], humidity 0 to 1, pressure [Pa].

    CIPM-2007 (Picard and others 2008, Metrologia 45, 149, eq. A1.2 and A1.3), with the enhancement factor.
    """
    enhancement = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * temperature**2
    return relative_humidity * enhancement * saturation_pressure(temperature) / pressure


def _virial(t: float, xv: float) -> tuple[float, float, float]:
    """Return B [m3/mol], T B' and T^2 B'' of moist air: compressibility of CIPM-2007, coefficients from memory."""
    a0, a1, a2, b0, b1, c0, c1 = 1.58123e-6, -2.9331e-8, 1.1043e-10, 5.707e-6, -2.051e-8, 1.9898e-4, -2.376e-6
    T = t + 273.15
    value = a0 + a1 * t + a2 * t * t + (b0 + b1 * t) * xv + (c0 + c1 * t) * xv * xv
    slope = a1 + 2 * a2 * t + b1 * xv + c1 * xv * xv
    return -GAS_CONSTANT * value, -GAS_CONSTANT * T * slope, -GAS_CONSTANT * T * T * 2 * a2


def _mixture(t: float, xv: float, xc: float, p: float) -> Air:
    T = t + 273.15
    dry = {"N2": 0.78084, "Ar": 0.00934, "CO2": xc}
    dry["O2"] = 1.0 - sum(dry.values())
    x = {name: part * (1.0 - xv) for name, part in dry.items()} | {"H2O": xv}
    M = sum(part * _GASES[name][0] for name, part in x.items())
    heat = {name: _GASES[name][1] + sum(_einstein(theta / T) for theta in _GASES[name][2]) for name in x}
    cp0 = sum(part * heat[name] for name, part in x.items())
    gamma0 = cp0 / (cp0 - 1.0)
    B, TB1, TTB2 = _virial(t, xv)
    n = p / (GAS_CONSTANT * T)
    # speed of sound to first order in the second virial coefficient (textbook, such as Hirschfelder and others 1954)
    real = 1.0 + 2.0 * n * (B + (gamma0 - 1) * TB1 + (gamma0 - 1) ** 2 / (2 * gamma0) * TTB2)
    cp = cp0 - n * TTB2
    gamma = cp / (cp - (1.0 + n * TB1) ** 2)
    mu, conductivity = _transport(T, x, heat)
    return Air(
        speed_of_sound=math.sqrt(gamma0 * GAS_CONSTANT * T / M * real),
        density=n * M / (1.0 + n * B),
        viscosity=mu,
        prandtl=mu * cp * GAS_CONSTANT / M / conductivity,
        gamma=gamma,
    )


def _einstein(y: float) -> float:
    return y * y * math.exp(y) / math.expm1(y) ** 2


def _transport(T: float, x: dict[str, float], heat: dict[str, float]) -> tuple[float, float]:
    """Return viscosity and conductivity by Wilke's rule (1950, J. Chem. Phys. 18, 517, eq. 13 and 14).

    The same weights serve for the conductivity (Mason and Saxena 1958, Phys. Fluids 1, 361).
    """
    mu = {name: _GASES[name][3] * (T / 300.0) ** _GASES[name][4] for name in x}
    k = {name: _GASES[name][5] * (T / 300.0) ** _GASES[name][6] for name in x}
    viscosity = conductivity = 0.0
    for i, part in x.items():
        weight = 0.0
        for j, other in x.items():
            ratio = _GASES[j][0] / _GASES[i][0]
            weight += other * (1 + math.sqrt(mu[i] / mu[j]) * ratio**0.25) ** 2 / math.sqrt(8 * (1 + 1 / ratio))
        viscosity += part * mu[i] / weight
        conductivity += part * k[i] / weight
    return viscosity, conductivity


PLAYED_FLUTE = Air.moist()
"""The air of a played flute, where nothing better is known: 24 degrees C, 90 % humidity, 3 % carbon dioxide.

No measured mean for a two-chamber flute is published. 2 degrees C make nearly 7 cents, 1 % of carbon dioxide 4 cents.
"""

SOURCES = {
    "speed_of_sound": "mixture of ideal gases with vibration, plus the second virial coefficient of CIPM-2007; "
    "checked against Cramer 1993, eq. 15",
    "density": "CIPM-2007: Picard and others 2008, Metrologia 45, 149",
    "viscosity": "Wilke 1950, J. Chem. Phys. 18, 517, eq. 13; pure gases from handbook values, from memory",
    "prandtl": "viscosity and heat capacity as here; conductivity by Mason and Saxena 1958, Phys. Fluids 1, 361",
    "gamma": "vibration of the molecules, plus the second virial coefficient of CIPM-2007",
}
"""Where each property comes from."""
