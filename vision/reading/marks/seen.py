"""What the mark finders saw on one straightened card, in card millimetres.

Every sigma is the standard deviation of one coordinate as the marks alone give it (raggedness of the
pencil, strokes that touch, blur): what the straightening adds is not in it and has to be combined with
it by the caller. All arrays of points are plain tuples, so that the values can be compared and kept.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from circuit.layout import Doubt, Point, Polyline, Remark


@dataclass(frozen=True, slots=True)
class SeenLight:
    """One filled-in pencil dot. `doubt`: the key of what makes it doubtful."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    sigma_mm: float
    doubt: str | None = field(default=None, kw_only=True)

    @property
    def sure(self) -> bool:
        return self.doubt is None

    @property
    def centre(self) -> Point:
        return (self.x_mm, self.y_mm)


@dataclass(frozen=True, slots=True)
class SeenCircle(SeenLight):
    """One pencil circle of a cell's size, told as a dot is: the least-squares circle of its stroke's centre line."""

    diameter_sigma_mm: float


@dataclass(frozen=True, slots=True)
class SeenWindow:
    """The traced window: a closed polygon on the middle of the pencil's stroke, without the repeated last point, 3
    points or more."""

    outline: Polyline
    sigma_mm: float
    sure: bool = True


@dataclass(frozen=True, slots=True)
class SeenLine:
    """One pencilled circuit line, its first point at the battery. `polarity` None: could not be told."""

    points: Polyline
    sigma_mm: float
    polarity: Literal["positive", "negative"] | None = None


@dataclass(frozen=True, slots=True)
class MarksSeen:
    """All pencil marks of one card.

    lights : dots to be lights; unsure ones count as lights but carry a doubt.
    circles : every credible battery circle, the best first; empty: no battery circle; two sure ones:
        the caller decides (two circles on one card cannot be read).
    window : None when none was traced.
    drawn_lines : empty when the maker drew no circuit, else two polylines from the battery on.
    crossed_out : centres of dots that are struck out with an X; they are not lights.
    doubts : about "light", "battery", "window" or, for what hides the card, ""; one about a light, or a maybe, lies
        at its centre.
    maybe : middles of what was left out but could be a light; each has its own among `doubts`.
    hidden : middles of patches of glare and of small things on the card, under which marks could lie.
    notes : what is worth knowing but makes nothing doubtful.
    """

    lights: tuple[SeenLight, ...] = ()
    circles: tuple[SeenCircle, ...] = ()
    window: SeenWindow | None = None
    drawn_lines: tuple[SeenLine, ...] = ()
    crossed_out: tuple[Point, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    maybe: tuple[Point, ...] = ()
    hidden: tuple[Point, ...] = ()
    notes: tuple[Remark, ...] = ()

    @property
    def sure(self) -> bool:
        """False as soon as a light or the battery could be another, or one could lie unseen. A window's outline has
        a doubt of its own, which no trace depends on."""
        return (
            not self.maybe
            and not self.hidden
            and all(light.sure for light in self.lights)
            and all(circle.sure for circle in self.circles)
        )
