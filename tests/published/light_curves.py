"""The diodes of the parts list, fitted to measured and published forward voltages.

    python -m tests.published.light_curves

prints each family's fit and how far makes stray from it; `parts.toml` holds the figures rounded. One
Shockley diode with a series resistance per family. Its steepness at small currents comes from the family's
one measured curve; where the curve lies, and its series resistance, from all parts together. Each source
counts once in each of five bands of current: many points of one part are still one part, but a source that
also says something of the small currents that lights get in a card must not be drowned by those that give
20 mA alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from circuit.part_kinds import THERMAL_VOLTAGE_V

BANDS_MA = (1.5, 4.0, 8.0, 15.0)  # where the bands of current end; chosen


@dataclass(frozen=True)
class Source:
    """Volts at milliamperes of one part, or what one text says of several."""

    text: str
    points: tuple[tuple[float, float], ...]  # (V, mA)


# One white 5 mm part, bench supply and a 993 ohm resistor: a hobbyist's public notes "LED I-V Curves".
WHITE_CURVE = Source(
    "one white part measured",
    (
        (2.53, 0.2), (2.55, 0.4), (2.635, 0.5), (2.656, 1.0), (2.676, 1.5), (2.721, 2.2), (2.731, 2.9), (2.788, 3.6),
        (2.805, 4.8), (2.826, 6.1), (2.867, 7.3), (2.926, 9.0), (2.94, 11.0), (3.01, 14.1),
    ),
)  # fmt: skip
# The same notes, one red part. Its first and noisiest point, 1.55 V at 0.2 mA, is kept.
RED_CURVE = Source(
    "one red part measured",
    (
        (1.5546, 0.2), (1.6256, 0.6), (1.639, 1.1), (1.661, 1.5), (1.676, 2.0), (1.661, 2.2), (1.68, 2.7), (1.678, 3.1),
        (1.69, 3.6), (1.664, 4.1), (1.692, 4.6), (1.704, 5.5), (1.688, 6.1), (1.689, 6.7), (1.709, 7.3),
    ),
)  # fmt: skip

# White, warm white and blue: one gallium nitride die, with phosphor over it or without.
NITRIDE = (
    WHITE_CURVE,
    Source("3528 blue data sheet, typical", ((2.63, 2.0), (2.84, 10.0))),  # its 3.30 V at 20 mA below
    Source("3528 blue data sheet, typical at 20 mA", ((3.30, 20.0),)),
    Source("cheap white parts measured, an Arduino course's page", ((2.80, 10.0),)),
    Source("cheap blue parts measured, the same page", ((2.85, 10.0),)),
    Source("three white bulbs of a light string measured", ((3.26, 20.1), (3.32, 20.1), (3.40, 20.1))),
    Source("three blue bulbs of a light string measured", ((3.28, 20.1), (3.16, 20.1), (3.24, 20.1))),
    Source("5050 white data sheet, typical", ((3.2, 20.0),)),
    Source("3528 white data sheet, middle of 2.8-3.3 V", ((3.05, 20.0),)),
    Source("5 mm warm white data sheet, typical", ((3.0, 20.0),)),
    Source("0805 white shop sheet, middle of 2.8-3.4 V", ((3.1, 20.0),)),
)
GREEN = (
    Source("three green bulbs of a light string measured", ((3.11, 20.1), (3.14, 20.1), (3.15, 20.1))),
    Source("1206 pure green data sheet, typical", ((3.1, 20.0),)),
    Source("5050 three-colour data sheet, typical", ((3.2, 20.0),)),
)
RED = (
    RED_CURVE,
    Source("cheap red parts measured, an Arduino course's page", ((2.0, 10.0),)),
    Source("three red bulbs of a light string measured", ((1.95, 20.1), (1.96, 20.1), (2.10, 20.1))),
    Source("3528 hyper red data sheet, typical", ((2.2, 20.0),)),
    Source("1206 red data sheet, typical", ((2.1, 20.0),)),
    Source("5050 three-colour data sheet, typical", ((2.0, 20.0),)),
)
AMBER = (
    Source("cheap amber parts measured, an Arduino course's page", ((2.0, 10.0),)),
    Source("three yellow bulbs of a light string measured", ((2.06, 20.1), (2.18, 20.1), (2.09, 20.1))),
    Source("three orange bulbs of a light string measured", ((1.95, 20.1), (2.13, 20.1), (1.96, 20.1))),
)


@dataclass(frozen=True)
class Fit:
    saturation_a: float
    ideality: float
    series_ohm: float
    spread_v: float  # 80 % of the sources' points lie this near or nearer

    def volts(self, milliamperes):
        amperes = np.asarray(milliamperes) / 1000
        inner = self.ideality * THERMAL_VOLTAGE_V * np.log1p(amperes / self.saturation_a)
        return inner + amperes * self.series_ohm


def curve_fit(source: Source) -> tuple[float, float, float]:
    """ln(saturation current), ideality and series resistance of one measured curve."""
    volts, amperes = np.array(source.points).T * [[1.0], [1e-3]]

    def off(p):
        return p[1] * THERMAL_VOLTAGE_V * np.log1p(amperes / math.exp(p[0])) + p[2] * amperes - volts

    return tuple(least_squares(off, (-45.0, 2.0, 8.0), bounds=((-80, 1, 0), (-15, 8, 40))).x)


def family_fit(sources: tuple[Source, ...], ideality: float, series_ohm: float | None = None) -> Fit:
    """Saturation current, and series resistance unless given, through all sources."""
    volts, amperes, weight = np.array([row for source in sources for row in _weighed(source)]).T
    slope = ideality * THERMAL_VOLTAGE_V

    def off(p):
        ohm = p[1] if series_ohm is None else series_ohm
        return slope * np.log1p(amperes / math.exp(p[0])) + ohm * amperes - volts

    start = (-45.0, 8.0 if series_ohm is None else 0.0)
    # Absolute deviations, softly: a sheet that is off by itself must not drag the rest.
    found = least_squares(lambda p: np.sqrt(weight) * off(p), start, loss="soft_l1", f_scale=0.03).x
    away, order = np.abs(off(found)), np.argsort(np.abs(off(found)))
    reached = np.cumsum(weight[order]) / weight.sum()
    spread = float(away[order][np.searchsorted(reached, 0.8)])
    return Fit(math.exp(found[0]), ideality, float(found[1]) if series_ohm is None else series_ohm, spread)


def _weighed(source: Source) -> list[tuple[float, float, float]]:
    """(volts, amperes, weight) of each point; the weights of a band sum to 1."""
    bands = np.digitize([ma for _, ma in source.points], BANDS_MA)
    return [(v, ma / 1000, 1 / int((bands == band).sum())) for (v, ma), band in zip(source.points, bands)]


def fits() -> dict[str, Fit]:
    nitride = family_fit(NITRIDE, curve_fit(WHITE_CURVE)[1])
    red = family_fit(RED, curve_fit(RED_CURVE)[1])
    return {
        "white": nitride,
        "green": family_fit(GREEN, nitride.ideality, nitride.series_ohm),
        "red": red,
        "amber": family_fit(AMBER, red.ideality, red.series_ohm),
    }


def main():
    for source in (WHITE_CURVE, RED_CURVE):
        log_saturation, ideality, ohm = curve_fit(source)
        print(f"{source.text} alone: ln Is {log_saturation:.2f}, ideality {ideality:.2f}, {ohm:.1f} ohm")
    for name, fit in fits().items():
        at = ", ".join(f"{fit.volts(ma):.2f} V at {ma:g} mA" for ma in (0.5, 2, 5, 10, 20))
        print(
            f"{name:6s} Is {fit.saturation_a:.2e} A, ideality {fit.ideality:.2f}, {fit.series_ohm:.1f} ohm: {at}"
        )
        print(f"       80 % of the sources within {fit.spread_v:.2f} V")


if __name__ == "__main__":
    main()
