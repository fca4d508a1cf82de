"""Everything that is known of one card: its marks, the lane, what is wrong, and what follows from both.

In:    the values of `circuit.layout`, and figures that the other parts worked out.
Out:   a `Plan`, which `circuit.plan_json` writes and reads.
Fails: ValueError for a figure that makes no sense.

What is here of current, light and heights are records: rounded figures to be read by people and files.
Who needs more solves the card again, which takes milliseconds.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Annotated, Any, TypeVar

from circuit.asked import PlanAsked
from circuit.json_fields import Kept
from circuit.layout import Branch, Layout, Move, MovesFound, Point, Polyline, Problem, Reading, Tongue, Traces
from circuit.part_kinds import FoamPart, LightPart, Parts

_RecordT = TypeVar("_RecordT")


def record_of(kind: type[_RecordT], value: object) -> _RecordT:
    """Those figures of a value that a record of this kind, a dataclass, keeps; AttributeError for one that it lacks."""
    kept: Any = kind
    return kind(**{one.name: getattr(value, one.name) for one in fields(kept)})


@dataclass(frozen=True, slots=True)
class LaneFacts:
    """The lane as it was laid, without its branches: the lights in its order, its length, and what no lane can beat.

    bound_is_exact : it is the length of the shortest line itself, not a floor under it.
    folds : of one trace.
    """

    order: tuple[str, ...]
    midline_mm: float
    lower_bound_mm: Annotated[float, Kept(key="shortest_possible_mm")]
    bound_is_exact: Annotated[bool, Kept(key="shortest_is_exact")]
    folds: int


@dataclass(frozen=True, slots=True)
class Heights:
    """What stands between the two cards. [mm]

    foam : the layers of the frame, card among them; foam_chosen_here : by the program. over_cell_mm : their height
    above the cell's own. gap_mm : air between the tape under the lid and the cell on its tape and dot; 0 or less:
    always on. over_lights_mm : from the tallest light on its tape to the front card. flap_bulge_mm : how much the
    flap and its tape stand above the foam, under the front card. card_mm : thickness of the finished card, both
    cards and the border between them. would_do : names of foam layers that fit, fewest first.
    """

    foam: tuple[FoamPart, ...]
    foam_chosen_here: bool
    foam_mm: float
    over_cell_mm: float
    gap_mm: float
    over_lights_mm: float
    flap_bulge_mm: float
    card_mm: float
    would_do: tuple[str, ...]

    def __post_init__(self) -> None:
        if not all(layer.thickness_mm > 0 for layer in self.foam):
            raise ValueError("thickness_mm of each layer of foam must be above 0")


@dataclass(frozen=True, slots=True)
class LitLight:
    """One light's current, and its brightness as a share of the brightest light's (0..1)."""

    label: str
    light: str
    colour: str
    current_ma: Annotated[float, Kept(digits=5)]
    brightness: Annotated[float, Kept(places=4)]
    millicandela: Annotated[float, Kept(digits=3)]


@dataclass(frozen=True, slots=True)
class LitCard:
    """The card lit by its cell in one state: volts, ohms, milliamperes."""

    cell_open_v: float
    cell_ohm: Annotated[float, Kept(places=2)]
    cell_used: Annotated[float, Kept(places=None)]
    terminal_v: Annotated[float, Kept(places=4)]
    total_ma: Annotated[float, Kept(places=4)]
    total_ma_range: Annotated[tuple[float, float], Kept(digits=3)]
    dimmest_over_brightest: Annotated[float, Kept(places=4)]
    lights: tuple[LitLight, ...]


@dataclass(frozen=True, slots=True)
class LostByContact:
    """Light that one so-so or one bad contact leaves, as shares of what good ones give: see
    `circuit.electrics.contact`. `dimmed` : the lights that the worst corner leaves with less than half."""

    pad: Annotated[tuple[float, float], Kept(places=2)]
    flap: Annotated[tuple[float, float], Kept(places=2)]
    corner: Annotated[tuple[float, float], Kept(places=2)]
    dimmed: tuple[str, ...]
    sentence: str
    joint: Annotated[tuple[float, float], Kept(places=2, omit=True)] = (1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Currents:
    """The circuit solved for a fresh and a half-used cell. `basis` : what the tapes' lengths rest on;
    `stated` : what was taken for copper and joints; `why` : a sentence on the dimmest light; `contact` : what bad
    contact would take."""

    basis: str
    stated: Mapping[str, float]
    fresh: LitCard
    half_used: Annotated[LitCard | None, Kept(omit=True)] = None
    why: Annotated[str, Kept(omit=True)] = ""
    contact: Annotated[LostByContact | None, Kept(omit=True)] = None


@dataclass(frozen=True, slots=True)
class LightThatLasts:
    """An estimate, each the least and the most that four of five cells and bags of lights keep within:
    presses of `press_seconds` with every light clear; left on, the hours clear and until all is dark."""

    press_seconds: float
    fewest_presses: Annotated[float, Kept(digits=2)]
    most_presses: Annotated[float, Kept(digits=2)]
    left_on_clear_hours: Annotated[tuple[float, float], Kept(digits=2)]
    left_on_dim_until_hours: Annotated[tuple[float, float], Kept(digits=2)]
    estimate: bool = True
    sentence: str = ""


@dataclass(frozen=True, slots=True)
class GlowChange:
    """Something that would make the window more even: `kind` "more-paper", "more-foam", "move-light" or
    "add-light"."""

    kind: str
    about: str | None
    to_mm: Annotated[Point | None, Kept(places=1)]
    foam_mm: float
    evenness: Annotated[float, Kept(places=4)]
    sentence: str


@dataclass(frozen=True, slots=True)
class Glow:
    """How evenly the window will glow: its darkest place over its average (0..1)."""

    foam_mm: float
    evenness: Annotated[float, Kept(places=4)]
    spot_mm: Annotated[float, Kept(places=1)]
    average_lux: Annotated[float, Kept(digits=3)]
    hottest_mm: Annotated[Point, Kept(places=1)]
    darkest_mm: Annotated[Point, Kept(places=1)]
    stated: Mapping[str, float]
    suggestions: tuple[GlowChange, ...] = ()


@dataclass(frozen=True, slots=True)
class SavedSwitch:
    """The push switch from above, see `circuit.switch.Switch`; polygons are not closed. `wrap_mm` : positive tape under
    the lid, from the free end on; `beyond_trace_mm` : all of it that the positive trace's length leaves out."""

    outline_mm: Polyline
    lid_mm: Polyline
    ramp_mm: Polyline
    tab_mm: Polyline
    hinge_mm: Polyline
    foam_mm: tuple[Polyline, ...]
    bare_mm: Polyline
    cover_mm: Annotated[Polyline, Kept(key="clear_tape_mm")]
    dot_mm: float
    wrap_mm: float
    beyond_trace_mm: float
    rise_mm: float
    tongue: Tongue = "bent"


@dataclass(frozen=True, slots=True)
class SeenMarks:
    """Places of what is on the card and no mark: struck-out dots; what was left out yet could be a mark."""

    crossed_out: tuple[Point, ...] = ()
    maybe: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class Source:
    """The file that the plan was made from: its name, its content's SHA-256, what was said beside it (None:
    not known)."""

    name: str
    sha256: str | None = None
    asked: PlanAsked | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that is known of one card; what is not known or not there is None or empty.

    settings : as `circuit.settings_json` writes them. sides_deg : direction of each light's positive
    pads, by label. [deg]
    moves_found : how small the moves are, None without any. leave_out : lights without which the rest
    can be laid as it is drawn. branches_not_sought : no single lane passes all lights, and side branches were not
    looked for, since small moves mend it;
    alternatives : sentences on other parts with which it can. drawn_problems : what is wrong with the
    circuit lines that the maker pencilled; they don't count against the plan, whose own traces stand
    instead. corrected_from : marks that this plan has moved from where they are pencilled.
    others : keys of a file that this program does not know, kept as they were.
    """

    layout: Layout
    traces: Traces | None = None
    problems: tuple[Problem, ...] = ()
    moves: tuple[Move, ...] = ()
    reading: Reading | None = None
    settings: Mapping[str, Any] = field(default_factory=dict)
    sides_deg: Mapping[str, float] = field(default_factory=dict)
    lane: LaneFacts | None = None
    stack: Heights | None = None
    switch: SavedSwitch | None = None
    electrics: Currents | None = None
    lifetime: LightThatLasts | None = None
    glow: Glow | None = None
    moves_found: MovesFound | None = None
    leave_out: tuple[str, ...] = ()
    branches_not_sought: bool = False
    alternatives: tuple[str, ...] = ()
    drawn_problems: tuple[Problem, ...] = ()
    corrected_from: tuple[str, ...] = ()
    seen: SeenMarks = field(default_factory=SeenMarks)
    source: Source | None = None
    others: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for label, deg in self.sides_deg.items():
            if not math.isfinite(deg):
                raise ValueError(f"the positive side of {label} must be a finite number, got {deg}")

    @property
    def branches(self) -> tuple[Branch, ...]:
        """Side lanes for the lights that no single lane passes; nearly always none."""
        return () if self.traces is None else self.traces.branches

    def lights_from(self, parts: Parts) -> dict[str, LightPart]:
        """Each light by its label as the plan was worked out with it. UsageError for one that the parts lack."""
        lit = self.electrics.fresh.lights if self.electrics is not None else ()
        labels = {mark.label for mark in self.layout.lights}
        return {light.label: parts.light(light.light, light.colour) for light in lit if light.label in labels}

    @property
    def must_fix(self) -> tuple[Problem, ...]:
        return tuple(problem for problem in self.problems if problem.level == "must-fix")

    @property
    def unsure_marks(self) -> tuple[str, ...]:
        """Labels of the lights that the reading is not sure of, and "battery"."""
        names = [light.label for light in self.layout.lights if not light.sure]
        if self.layout.battery is not None and not self.layout.battery.sure:
            names.append("battery")
        return tuple(names)

    @property
    def doubtful(self) -> bool:
        """Whether the maker has anything to compare with the card before trusting this."""
        return bool(self.unsure_marks) or (self.reading is not None and self.reading.doubtful)
