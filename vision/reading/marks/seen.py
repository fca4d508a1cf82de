"""What the mark finders saw on one straightened card, in card millimetres.

Every sigma is the standard deviation of one coordinate as the marks alone give it (raggedness of the
pencil, strokes that touch, blur): what the straightening adds is not in it and has to be combined with
it by the caller. All arrays of points are plain tuples, so that the values can be compared and kept.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from circuit.layout import Doubt, Point, Polyline, Remark

MaybeKind = Literal["light", "battery", "window", "line"]


def _require(values: dict[str, float], above_zero: bool) -> None:
    for name, value in values.items():
        if not math.isfinite(value) or (above_zero and value <= 0):
            raise ValueError(f"{name} must be finite{' and above 0' if above_zero else ''}, got {value}")


@dataclass(frozen=True, slots=True)
class SeenLight:
    """One filled-in pencil dot. `doubt`, when `sure` is False: the key of what makes it doubtful."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    sigma_mm: float
    sure: bool = True
    doubt: str | None = None

    def __post_init__(self) -> None:
        _require({"x_mm": self.x_mm, "y_mm": self.y_mm}, above_zero=False)
        _require({"diameter_mm": self.diameter_mm, "sigma_mm": self.sigma_mm}, above_zero=True)

    @property
    def centre(self) -> Point:
        return (self.x_mm, self.y_mm)


@dataclass(frozen=True, slots=True)
class SeenCircle:
    """One pencil circle of a cell's size: the least-squares circle of its stroke's centre line."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    sigma_mm: float
    diameter_sigma_mm: float
    sure: bool = True
    doubt: str | None = None

    def __post_init__(self) -> None:
        _require({"x_mm": self.x_mm, "y_mm": self.y_mm}, above_zero=False)
        _require(
            {
                "diameter_mm": self.diameter_mm,
                "sigma_mm": self.sigma_mm,
                "diameter_sigma_mm": self.diameter_sigma_mm,
            },
            above_zero=True,
        )

    @property
    def centre(self) -> Point:
        return (self.x_mm, self.y_mm)


@dataclass(frozen=True, slots=True)
class SeenWindow:
    """The traced window: a closed polygon without the repeated last point, 3 points or more."""

    outline: Polyline
    sigma_mm: float
    sure: bool = True
    doubt: str | None = None

    def __post_init__(self) -> None:
        if len(self.outline) < 3:
            raise ValueError(f"a window needs 3 points or more, got {len(self.outline)}")
        _require({"sigma_mm": self.sigma_mm}, above_zero=True)


@dataclass(frozen=True, slots=True)
class SeenLine:
    """One pencilled circuit line, its first point at the battery. `polarity` None: could not be told."""

    points: Polyline
    sigma_mm: float
    polarity: Literal["positive", "negative"] | None = None

    def __post_init__(self) -> None:
        if len(self.points) < 2:
            raise ValueError(f"a line needs 2 points or more, got {len(self.points)}")
        _require({"sigma_mm": self.sigma_mm}, above_zero=True)


@dataclass(frozen=True, slots=True)
class MaybeMark:
    """A mark that was left out of the lights, the circles and the window, yet could be one."""

    kind: MaybeKind
    x_mm: float
    y_mm: float
    diameter_mm: float
    why: str


@dataclass(frozen=True, slots=True)
class MarksSeen:
    """All pencil marks of one card.

    lights : dots to be lights; those with ``sure=False`` count as lights but carry a doubt.
    circles : every credible battery circle, the best first; empty: no battery circle; two sure ones:
        the caller decides (two circles on one card cannot be read).
    window : None when none was traced.
    drawn_lines : empty when the maker drew no circuit, else two polylines from the battery on.
    crossed_out : centres of dots that are struck out with an X; they are not lights.
    doubts : about "light", "battery", "window" or, for glare, ""; a doubtful light's, and a maybe's, lies at its
        centre.
    maybe : what was left out but could be a mark; each has its own among `doubts`.
    whited_out : middles of patches of glare, under which marks could lie.
    notes : what is worth knowing but makes nothing doubtful.
    """

    lights: tuple[SeenLight, ...] = ()
    circles: tuple[SeenCircle, ...] = ()
    window: SeenWindow | None = None
    drawn_lines: tuple[SeenLine, ...] = ()
    crossed_out: tuple[Point, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    maybe: tuple[MaybeMark, ...] = field(default=())
    whited_out: tuple[Point, ...] = ()
    notes: tuple[Remark, ...] = ()

    @property
    def sure(self) -> bool:
        """False as soon as a light or the battery could be another, or one could lie unseen. A window's outline has
        a doubt of its own, which no trace depends on."""
        return (
            not self.maybe
            and not self.whited_out
            and all(light.sure for light in self.lights)
            and all(circle.sure for circle in self.circles)
        )
