"""Sizes that are written into a part's name: `CR2032`, `3528`, `1206`.

In:    a name as it stands on a bag.
Out:   millimetres, or None where the name is no such code.

    CR 20 32          3528                 1206
       |  |           |  |                 |  |
       |  3.2 mm      |  2.8 mm            |  0.06 in
       20 mm, down    3.5 mm               0.12 in
"""

from __future__ import annotations

import re

# IEC 60086-3, watch batteries: the leading figures are the diameter in whole millimetres, rounded
# DOWN. Read second-hand (an encyclopaedia quoting the standard; 24: a cell's specification).
CELL_DIAMETERS_MM = {
    4: 4.8,
    5: 5.8,
    6: 6.8,
    7: 7.9,
    9: 9.5,
    10: 10.0,
    11: 11.6,
    12: 12.5,
    16: 16.0,
    20: 20.0,
    23: 23.0,
    24: 24.5,
}

# Inch chip codes (EIA) and what they are in millimetres, as metric codes and data sheets give them.
INCH_CHIPS_MM = {
    "0402": (1.0, 0.5),
    "0603": (1.6, 0.8),
    "0805": (2.0, 1.25),
    "1206": (3.2, 1.6),
    "1210": (3.2, 2.5),
    "1812": (4.5, 3.2),
    "2010": (5.0, 2.5),
    "2512": (6.3, 3.2),
}
_CELL = re.compile(r"^CR(\d{1,2})(\d{2})$", re.IGNORECASE)


def cell_size(name: str) -> tuple[float, float] | None:
    """(diameter_mm, height_mm) of a CR cell from its code. None: not such a code, or a diameter
    code that is not in the table."""
    match = _CELL.match(name.strip())
    if match is None or int(match[1]) not in CELL_DIAMETERS_MM:
        return None
    return CELL_DIAMETERS_MM[int(match[1])], int(match[2]) / 10


def light_sizes(name: str) -> tuple[tuple[float, float], ...]:
    """Every (longer_mm, shorter_mm) that a light's four-figure code can mean: its inch reading where
    there is such a chip, its metric one where that is a body one could see (`0603` has both).
    Empty: not a code. The order in the code does not count: 2835 is 3.5 x 2.8 mm."""
    code = name.strip()
    if not re.fullmatch(r"\d{4}", code):
        return ()
    sizes = []
    if code in INCH_CHIPS_MM:
        sizes.append(INCH_CHIPS_MM[code])
    metric = (int(code[:2]) / 10, int(code[2:]) / 10)
    if min(metric) > 0 and (code not in INCH_CHIPS_MM or code == "0603"):
        sizes.append((max(metric), min(metric)))
    return tuple(sizes)
