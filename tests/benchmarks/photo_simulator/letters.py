"""A stroke alphabet of the simulator's own: each glyph is a few lines on a grid of tenths.

A glyph's text is strokes apart by `|`, points apart by spaces, two digits or letters a point: x and
y in tenths of the capital height, a-e standing for -1 to -5 (below the baseline). `~` before a
stroke rounds it through its points.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_TEXT = {
    "a": "~46 27 05 02 10 32 45|47 41 50",
    "b": "09 00|~03 26 45 42 20 01",
    "c": "~46 26 04 02 20 41",
    "d": "49 40|~44 26 04 01 20 42",
    "e": "~03 43 45 26 04 01 20 41",
    "f": "~49 39 27 20|05 45",
    "g": "~45 26 04 02 20 42|~46 40 3c 1c 0b",
    "h": "09 00|~04 26 45 40",
    "i": "06 00|08",
    "k": "09 00|46 03 40",
    "l": "~09 01 10",
    "m": "06 00|~04 26 35 30|~34 56 65 60",
    "n": "06 00|~04 26 45 40",
    "o": "~26 04 02 20 42 44 26",
    "p": "06 0c|~04 26 45 42 20 01",
    "r": "06 00|~03 15 36",
    "s": "~45 26 05 14 33 41 20 01",
    "t": "~29 22 30 41|06 46",
    "u": "~06 01 20 41|46 40",
    "v": "06 20 46",
    "w": "06 10 34 50 76",
    "y": "06 21|46 0c",
    "z": "06 46 00 40",
    "A": "00 39 60|14 54",
    "B": "00 09|~09 38 36 05|~05 44 41 00",
    "C": "~57 39 06 03 20 52",
    "D": "00 09|~09 47 42 00",
    "E": "49 09 00 40|05 35",
    "F": "49 09 00|05 35",
    "H": "00 09|50 59|05 55",
    "I": "09 00",
    "L": "09 00 40",
    "M": "00 09 35 69 60",
    "N": "00 09 50 59",
    "O": "~39 06 03 30 63 66 39",
    "P": "00 09|~09 47 05",
    "R": "00 09|~09 47 05|15 40",
    "S": "~58 39 07 25 43 20 01",
    "T": "09 69|39 30",
    "U": "~09 02 20 42 49",
    "V": "09 30 69",
    "X": "09 50|59 00",
    "0": "~29 06 03 20 43 46 29",
    "1": "17 29 20",
    "2": "~07 29 47 00|00 40",
    "3": "~08 29 47 15|~15 43 20 01",
    "4": "39 03 53|39 30",
    "5": "49 09 05|~05 35 42 20 01",
    "6": "~48 16 02 20 42 24 03",
    "7": "09 49 10",
    "8": "~29 07 43 20 03 47 29",
    "9": "~46 25 07 29 47 45 20",
    ".": "00",
    "?": "~07 29 47 24 23|20",
    "!": "09 03|00",
    "-": "04 34",
    "+": "04 44|26 22",
    "=": "05 45|02 42",
}
_BELOW = {"a": -1.0, "b": -2.0, "c": -3.0, "d": -4.0, "e": -5.0}


@dataclass(frozen=True, slots=True)
class Glyph:
    """Strokes of (N, 2) points, x right and y up, the capital's height being 0.9; its width."""

    strokes: tuple[np.ndarray, ...]
    width: float


def _rounded(points: np.ndarray) -> np.ndarray:
    """A Catmull-Rom curve through the points."""
    padded = np.vstack([2 * points[0] - points[1], points, 2 * points[-1] - points[-2]])
    out = [points[:1]]
    t = (np.arange(1, 5) / 4)[:, None]
    for p0, p1, p2, p3 in zip(padded[:-3], padded[1:-2], padded[2:-1], padded[3:], strict=True):
        out.append(
            0.5
            * (
                2 * p1
                + (p2 - p0) * t
                + (2 * p0 - 5 * p1 + 4 * p2 - p3) * t**2
                + (3 * p1 - p0 - 3 * p2 + p3) * t**3
            )
        )
    return np.vstack(out)


def _glyph(text: str) -> Glyph:
    strokes = []
    for part in text.split("|"):
        pairs = part.removeprefix("~").split()
        points = np.array([[float(p[0]), _BELOW.get(p[1]) or float(p[1])] for p in pairs]) / 10
        strokes.append(_rounded(points) if part.startswith("~") and len(points) > 2 else points)
    return Glyph(tuple(strokes), float(max(s[:, 0].max() for s in strokes)))


GLYPHS = {letter: _glyph(text) for letter, text in _TEXT.items()}
