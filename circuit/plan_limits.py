"""What a plan file may hold at most, so that no file keeps the program busy or draws nonsense.

In:    what `json.load` gave; a window's corners.
Out:   nothing.
Fails: `LayoutFileError` naming what there is too much of.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from circuit.errors import LayoutFileError
from circuit.json_fields import FieldError
from circuit.layout import POLARITIES, Polyline

# Lanes, moves and branches are looked for with so many lights at most: chosen, half as many again as makers put on a
# card. With more the search would take minutes.
MOST_ON_LANE = 30
MOST_LIGHTS = 2 * MOST_ON_LANE  # chosen; more is told before any work is done
MOST_BRANCHES = 20  # chosen: ten times what is ever laid
MOST_POINTS, MOST_DRAWN = 2000, 20_000  # chosen: a pencilled window has some hundred
# Chosen: an outline drawn by hand crosses itself a few times, a scribble of 2000 points a million times, and to find
# out what that encloses takes minutes.
MOST_CROSSINGS, _FEW_CORNERS = 500, 30
# Chosen: several times the largest card. A figure beyond it is a slip, and would only draw nonsense.
LARGEST_MM = 2000.0


def require_modest(top: Mapping[str, Any]) -> None:
    """Refuse at once what would only keep the program busy: no card has so many marks. Raises LayoutFileError."""
    lines, branches = top.get("drawn_lines"), top.get("branches")
    drawn = (
        [line.get("points") for line in lines if isinstance(line, Mapping)] if isinstance(lines, list) else []
    )
    lanes = [top.get("traces"), *(branches if isinstance(branches, list) else [])]
    laid = [lane.get(name) for lane in lanes if isinstance(lane, Mapping) for name in POLARITIES]
    for what, one, most in (
        ("lights", top.get("lights"), MOST_LIGHTS),
        ("points in its window", top.get("window"), MOST_POINTS),
        ("problems", top.get("problems"), MOST_POINTS),
        ("moves", top.get("moves"), MOST_POINTS),
        ("drawn lines", lines, MOST_POINTS),
        ("branches", branches, MOST_BRANCHES),
        (
            "points in its drawn lines",
            [p for points in drawn if isinstance(points, list) for p in points],
            MOST_DRAWN,
        ),
        *(("points in a trace", points, MOST_POINTS) for points in laid),
    ):
        if isinstance(one, list) and len(one) > most:
            raise LayoutFileError(
                f"This file has {len(one):,} {what}, and {most:,} is the most that a card takes."
            )


def require_plain_outline(window: Polyline) -> None:
    """Refuse a closed outline that crosses itself again and again. Raises FieldError."""
    crossings = _crossings(window)
    if crossings > MOST_CROSSINGS:
        raise FieldError(
            "window", f"crosses itself {crossings:,} times; name its corners in their order round the window"
        )


def _crossings(outline: Polyline) -> int:
    """How often a closed outline crosses itself; 0 for one of few corners, which can't do so too often."""
    if len(outline) <= _FEW_CORNERS:
        return 0
    import numpy as np

    starts = np.array([complex(*point) for point in outline])
    ways = np.roll(starts, -1) - starts
    found = 0
    for start, way in zip(starts, ways):  # a cross product's sign says on which side of a line a point lies
        beyond = ((starts - start) * way.conjugate()).imag * ((starts + ways - start) * way.conjugate()).imag
        across = ((start - starts) * ways.conj()).imag * ((start + way - starts) * ways.conj()).imag
        found += int(np.count_nonzero((beyond < 0) & (across < 0)))
    return found // 2
