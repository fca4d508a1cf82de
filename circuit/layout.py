"""The values that pass between the parts: marks, layout, traces, problems, moves.

All lengths are millimetres in the card frame: origin at the card's top-left corner, x right,
y down. Angles are degrees, 0 along +x, 90 along +y (down). Every type is frozen and refuses
nonsense when it is made, so that no later step has to check again.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, Literal

from circuit.json_fields import Kept

Point = tuple[float, float]
Polyline = tuple[Point, ...]
Level = Literal["must-fix", "look-again"]
# How the switch's flap comes down to the card; upright is the weaker way, for want of room (`circuit.switch`).
Tongue = Literal["bent", "upright"]
Polarity = Literal["positive", "negative"]
POLARITIES: tuple[Polarity, Polarity] = ("positive", "negative")


def _require_finite(**values: float) -> None:
    for name, value in values.items():
        if not math.isfinite(value):
            raise ValueError(f"{name} must be a finite number, got {value}")


def _require_above_zero(**values: float) -> None:
    for name, value in values.items():
        if not 0 < value < math.inf:
            raise ValueError(f"{name} must be above 0 and finite, got {value}")


def _require_bound(**values: float) -> None:
    for name, value in values.items():
        if not 0 <= value < math.inf:
            raise ValueError(f"{name} must be 0 or above and finite, got {value}")


def _require_lines(positive: Polyline, negative: Polyline, what: str) -> None:
    for name, line in (("positive", positive), ("negative", negative)):
        if len(line) < 2:
            raise ValueError(f"the {name} {what} needs 2 points or more, got {len(line)}")


@dataclass(frozen=True, slots=True)
class Card:
    """The back card as it lies: upright rectangle, `size` its everyday name where it has one.

    The frame lies on its top and left edges; `uncertainty_mm` is a 95 % bound on how far off the other two
    may be cut, 0 for a card that was typed in and so counts as exact."""

    width_mm: float
    height_mm: float
    size: str | None = None
    uncertainty_mm: Annotated[float, Kept(omit=True)] = 0.0

    def __post_init__(self) -> None:
        _require_above_zero(width_mm=self.width_mm, height_mm=self.height_mm)
        _require_bound(uncertainty_mm=self.uncertainty_mm)


@dataclass(frozen=True, slots=True)
class LightMark:
    """One pencilled light. `uncertainty_mm` is a 95 % bound on the distance from the true
    centre; 0 only for a mark that was typed in a layout file and so counts as exact."""

    label: str
    x_mm: float
    y_mm: float
    diameter_mm: float = 3.0
    uncertainty_mm: float = 0.0
    sure: bool = True

    def __post_init__(self) -> None:
        _require_finite(x_mm=self.x_mm, y_mm=self.y_mm)
        _require_above_zero(diameter_mm=self.diameter_mm)
        _require_bound(uncertainty_mm=self.uncertainty_mm)

    @property
    def centre(self) -> Point:
        return (self.x_mm, self.y_mm)


@dataclass(frozen=True, slots=True)
class BatteryMark:
    """The battery circle: the centre line of the pencil circle, 95 % bounds on its centre
    (`uncertainty_mm`) and its diameter (`diameter_uncertainty_mm`)."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    uncertainty_mm: float = 0.0
    diameter_uncertainty_mm: float = 0.0
    sure: bool = True

    def __post_init__(self) -> None:
        _require_finite(x_mm=self.x_mm, y_mm=self.y_mm)
        _require_above_zero(diameter_mm=self.diameter_mm)
        _require_bound(
            uncertainty_mm=self.uncertainty_mm, diameter_uncertainty_mm=self.diameter_uncertainty_mm
        )

    @property
    def centre(self) -> Point:
        return (self.x_mm, self.y_mm)


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """One circuit line that the maker pencilled. `polarity` is None where it could not be told."""

    points: Polyline
    polarity: Literal["positive", "negative"] | None = None
    uncertainty_mm: float = 0.0


_LEAST_WINDOW_MM2 = 1.0  # chosen: less lets no light out


def _area_mm2(outline: Polyline) -> float:
    """Area of a closed polygon (the shoelace formula)."""
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, (*outline[1:], outline[0])))) / 2


@dataclass(frozen=True, slots=True)
class Layout:
    """What is pencilled on one card. `battery` and `window` are None where there is none. The window is a
    closed polygon without the repeated last point, each place of it within `window_uncertainty_mm` (95 %)."""

    card: Card
    lights: tuple[LightMark, ...]
    battery: BatteryMark | None = None
    window: Polyline | None = None
    drawn_lines: tuple[DrawnLine, ...] = ()
    window_uncertainty_mm: float = 0.0

    def __post_init__(self) -> None:
        labels = [light.label for light in self.lights]
        if len(set(labels)) != len(labels):
            twice = next(label for label in labels if labels.count(label) > 1)
            raise ValueError(f"two lights share the label {twice!r}")
        _require_bound(window_uncertainty_mm=self.window_uncertainty_mm)
        if self.window is not None and len(self.window) < 3:
            raise ValueError(f"a window needs 3 points or more, got {len(self.window)}")
        if self.window is not None and _area_mm2(self.window) < _LEAST_WINDOW_MM2:
            raise ValueError(
                "the window's corners enclose no area; name them in their order round the window"
            )

    def light(self, label: str) -> LightMark:
        """The light of that label; KeyError when there is none."""
        for light in self.lights:
            if light.label == label:
                return light
        raise KeyError(label)

    def without(self, labels: Collection[str]) -> Layout:
        """The same card without the lights of these labels; a label that it lacks changes nothing."""
        return replace(self, lights=tuple(light for light in self.lights if light.label not in labels))


@dataclass(frozen=True, slots=True)
class Saying:
    """What is to be said, without words and units: a key that `circuit.remarks` knows, and its figures by name
    (a length's name ends in `_mm`)."""

    key: str
    figures: Mapping[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Remark:
    """Something that the reading has to say. `about`: a light's label, "battery", "window", "card", or "" where
    it is about none of them; `where_mm`: its place on the card, where it has one."""

    about: str
    where_mm: Point | None
    says: Saying


@dataclass(frozen=True, slots=True)
class Doubt(Remark):
    """Something that the reading is not sure of, so that the maker should compare it with the card."""


def as_said(words: str) -> Doubt:
    """A doubt of which nothing but its sentence is known, as in older files."""
    return Doubt("", None, Saying("as-said", {"words": words}))


@dataclass(frozen=True, slots=True)
class Reading:
    """How the marks came to be known: from which photo, by which square, how surely.

    sure : of the lights and the battery; doubts : about these or anything else, such as the window's
    outline."""

    photo: str
    square_kind: Literal["coded", "plain"] | None
    square_side_mm: float | None
    uncertainty_mm: float
    sure: bool
    doubts: tuple[Doubt, ...] = ()
    turn_deg: int = 0

    @property
    def doubtful(self) -> bool:
        """Whether there is anything at all to compare with the card."""
        return bool(self.doubts) or not self.sure


@dataclass(frozen=True, slots=True)
class Branch:
    """Two tapes side by side that leave the lane at a joint: centre lines, each with 2 points or more.

    The first point is the tape's end, at the far edge of the lane's trace of the same polarity that it is laid over;
    how the joint is made: `circuit.joint`."""

    positive: Polyline
    negative: Polyline

    def __post_init__(self) -> None:
        _require_lines(self.positive, self.negative, "tape of a branch")


@dataclass(frozen=True, slots=True)
class Traces:
    """The two tape paths: centre lines, first point at the battery, each with 2 points or more; for which form of the
    flap's tongue they leave room; and the branches that leave them, in files beside the traces."""

    positive: Polyline
    negative: Polyline
    tape_width_mm: float = 2.5
    gap_mm: float = 2.5
    tongue: Annotated[Tongue, Kept(omit=True)] = "bent"
    branches: Annotated[tuple[Branch, ...], Kept(omit=True)] = ()

    def __post_init__(self) -> None:
        _require_lines(self.positive, self.negative, "trace")
        _require_above_zero(tape_width_mm=self.tape_width_mm, gap_mm=self.gap_mm)


@dataclass(frozen=True, slots=True)
class Problem:
    """One rule that does not hold, or that may not hold within what was read.

    `about` names who is concerned: light labels, "battery", "window", "positive", "negative",
    "card". The figures are in `unit`: "mm", "deg", "mA" ...; the file's keys say mm for all of them.
    """

    name: str
    level: Level
    about: tuple[str, ...]
    where_mm: Point
    measured: Annotated[float | None, Kept(key="measured_mm")]
    uncertainty: Annotated[float, Kept(key="uncertainty_mm")]
    limit: Annotated[float | None, Kept(key="limit_mm")]
    advice: str
    unit: str = "mm"


@dataclass(frozen=True, slots=True)
class Move:
    """A suggested new place for one mark: a light's label or "battery"."""

    about: str
    from_mm: Point
    to_mm: Point
    why: str

    @property
    def by_mm(self) -> float:
        return math.dist(self.from_mm, self.to_mm)


@dataclass(frozen=True, slots=True)
class MovesFound:
    """How small suggested moves are. `least` : no smaller ones on the grid mend the card, all marks that break no rule
    staying where they are; else they are the smallest that were found. `grid_mm` : moved marks were moved by whole
    steps of this; 0 in older plans, of marks that are known exactly."""

    least: bool
    grid_mm: float
