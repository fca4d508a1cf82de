"""Lengths as people write and read them: millimetres, centimetres, inches to 1/32.

In:    text such as `2.5mm`, `4 1/4 in`, `3/32"`, `10.8 cm`, or a number of millimetres.
Out:   millimetres as a float, or text.
Fails: `ValueError` with a sentence that names what was typed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from fractions import Fraction

from circuit.settings import Units

MM_PER_INCH = 25.4  # exact, international yard and pound agreement of 1959
FINEST_INCH = 32  # a maker's ruler shows no finer parts
FINEST_MM: Mapping[Units, float] = {"mm": 0.1, "in": MM_PER_INCH / FINEST_INCH}  # what lengths are told to
# Nobody moves a pencil mark by less, nor reads less off a ruler: chosen.
HAND_STEP_MM: Mapping[Units, float] = {"mm": 0.5, "in": MM_PER_INCH / FINEST_INCH}
LEAST_ASIDE_MM = 0.15  # chosen: less to one side is below what a pencil can do

_METRE_MM, _FOOT_IN = 1000, 12
_STEP_TO_BUY_MM = 5  # chosen: nobody buys tape by the millimetre
_UNIT_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "″": MM_PER_INCH,
}
_VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_LENGTH = re.compile(
    r"^\s*(?:(?P<whole>\d+)[\s-]+)?(?P<num>\d+)\s*/\s*(?P<den>\d+)\s*(?P<unit_f>[a-z\"″]*)\s*$"
    r"|^\s*(?P<decimal>\d+(?:[.,]\d*)?|[.,]\d+)\s*(?P<unit_d>[a-z\"″]*)\s*$"
)

_TIMES = re.compile(r"\s*[xX×]\s*")
_UNIT_BEHIND = re.compile(r"[a-zA-Z\"″]+\s*$")


def parse_length(text: str, bare_unit: str | None = "mm") -> float:
    """Millimetres of a length with a unit; a bare number counts as `bare_unit` (None: refused).

    Raises ValueError for anything else, for a zero denominator and for no length at all.
    """
    tidy = text.strip().lower()
    for sign, plain in _VULGAR.items():
        tidy = tidy.replace(sign, f" {plain}")
    match = _LENGTH.match(tidy)
    if match is None:
        raise ValueError(f"{text!r} is not a length; write it like 2.5mm, 3/32in or 4 1/4 in")
    unit = match["unit_f"] or match["unit_d"] or bare_unit
    if unit not in _UNIT_MM:
        raise ValueError(f"{text!r} has no unit that is known here; use mm, cm or in")
    if match["decimal"]:
        number = float(match["decimal"].replace(",", "."))
    else:
        if int(match["den"]) == 0:
            raise ValueError(f"{text!r} divides by nothing; write it like 3/32in")
        number = float(int(match["whole"] or 0) + Fraction(int(match["num"]), int(match["den"])))
    value = number * _UNIT_MM[unit]
    if not math.isfinite(value):
        raise ValueError(f"{text!r} is too long to be a length on a card")
    return value


def parse_size(text: str, bare_unit: str = "mm") -> tuple[float, float]:
    """Width and height in millimetres of a card's size: `4.25x5.5in`, `105 x 148 mm`, `4 1/4 x 5 1/2 in`.

    A unit behind the second length also serves a first that has none; without any, `bare_unit` holds.
    Raises ValueError.
    """
    sides = _TIMES.split(text.strip())
    if len(sides) != 2:
        raise ValueError(f"{text!r} is no card size; write it like 4.25x5.5in or 105x148mm")
    unit = _UNIT_BEHIND.search(sides[1])
    height_mm = parse_length(sides[1], bare_unit)
    width_mm = parse_length(sides[0], bare_unit=unit.group().strip().lower() if unit else bare_unit)
    if width_mm <= 0 or height_mm <= 0:
        raise ValueError(f"{text!r} is no card size; both sides must be above 0")
    return width_mm, height_mm


def format_length(mm: float, units: Units = "mm") -> str:
    """A length for people: `6.1 mm`, or inches to 1/32 such as `1/4 in` or `4 1/4 in`."""
    if units == "mm":
        text = f"{mm:.1f} mm"
        return "0.0 mm" if text == "-0.0 mm" else text
    parts = round(abs(mm) / MM_PER_INCH * FINEST_INCH)
    sign = "-" if mm < 0 and parts else ""
    whole, rest = divmod(parts, FINEST_INCH)
    if not rest:
        return f"{sign}{whole} in"
    fraction = Fraction(rest, FINEST_INCH)
    head = f"{whole} " if whole else ""
    return f"{sign}{head}{fraction.numerator}/{fraction.denominator} in"


def limit_length(mm: float, units: Units) -> str:
    """A length that somebody chose, a limit or a tape's width, as one says it: `7 mm`, not `7.0 mm`."""
    return format_length(mm, units).replace(".0 mm", " mm")


def long_length(mm: float, units: Units) -> str:
    """A length to buy, rounded up: metres to a tenth, or feet and inches; short ones to 5 mm or 1 in."""
    if units == "mm":
        if mm < _METRE_MM:
            return f"{math.ceil(mm / _STEP_TO_BUY_MM - 1e-9) * _STEP_TO_BUY_MM} mm"
        return f"{math.ceil(mm / 100.0 - 1e-9) / 10:.1f} m"
    inches = math.ceil(mm / MM_PER_INCH - 1e-9)
    feet, rest = divmod(inches, _FOOT_IN)
    if feet < 3:
        return f"{inches} in"
    return f"{feet} ft {rest} in" if rest else f"{feet} ft"


def format_shift(
    from_mm: tuple[float, float],
    to_mm: tuple[float, float],
    units: Units = "mm",
    *,
    further: str = "",
    least_mm: float = LEAST_ASIDE_MM,
) -> str:
    """Which way and how far, x to the right and y down: `2.1 mm left and 0.4 mm down`.

    The smaller part is left out where it shows as nothing or is less than `least_mm`. `further` : a word that stands
    before `left` and the like.
    """
    parts = [(to_mm[0] - from_mm[0], "left", "right"), (to_mm[1] - from_mm[1], "up", "down")]
    small = min(parts, key=lambda part: abs(part[0]))
    shown = format_length(abs(small[0]), units)
    if shown == format_length(0.0, units) or abs(small[0]) < least_mm:
        parts.remove(small)
    return " and ".join(
        f"{format_length(abs(size), units)} {further}{back if size < 0 else forth}"
        for size, back, forth in parts
    )
