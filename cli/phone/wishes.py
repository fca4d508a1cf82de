"""What a maker builds with, as one phone remembers it: units, parts, tape, foam, paper, card and square.

In:    a form's or a cookie's fields, all text.
Out:   `Wishes`, and back to text; the plan's options of it.
Fails: `UsageError` with one sentence for a field that says something impossible; a cookie that does is no wish at all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlencode

from circuit.asked import TURNS, PlanAsked
from circuit.errors import PencilampError, UsageError
from circuit.foam_words import foam_layers
from circuit.lengths import parse_length
from circuit.parts import default_parts
from circuit.settings import LEAST_TRACE_MM

if TYPE_CHECKING:
    from cli.plan_options import PlanOptions

COOKIE = "pencilamp-builds-with"
COOKIE_DAYS = 400  # the most that browsers keep
_LONGEST_COOKIE = 1000  # chosen: ours, with every field at its longest, has some 900 signs
_LONGEST_FIELD = 60  # chosen: `1 1/4 in x 2 3/8 in` is the longest anyone types
_QUARTERS = {"left": 270, "right": 90}
# What each length is for, its least and its most: chosen, beyond these it is a slip. [mm]
_BOUNDS = {
    "tape": ("a trace's width", LEAST_TRACE_MM, 20.0),
    "gap": ("the gap between the traces", 0.0, 20.0),
    "square": ("the square's side", 10.0, 200.0),
    "printed": ("the printed square's side", 5.0, 200.0),
}
_LEAST_CARD_MM = 40.0  # chosen: no card is so small that a cell with its foam does not fit on it


@dataclass(frozen=True, slots=True)
class Wishes:
    """Every field as it was typed or chosen; "" where nothing was said, so that the default holds.

    turn : one of `circuit.asked.TURNS`. It is one card's alone: no phone remembers it.
    """

    units: str = ""
    light: str = ""
    colour: str = ""
    cell: str = ""
    tape: str = ""
    gap: str = ""
    foam: str = ""
    paper: str = ""
    card: str = ""
    square: str = ""
    printed: str = ""
    turn: str = ""


NAMES = tuple(item.name for item in fields(Wishes))


def wishes_from(said: Mapping[str, object]) -> Wishes:
    """What was said in these fields; others are passed over. Raises UsageError."""
    text = {name: str(said.get(name) or "").strip() for name in NAMES}
    for name, value in text.items():
        if len(value) > _LONGEST_FIELD or not value.isprintable():
            raise UsageError(f"What you wrote under {name} is too long.")
    wishes = Wishes(**text)
    _require_possible(wishes)
    return wishes


def wishes_of_cookie(cookie: str | None) -> Wishes:
    """What was last said on this phone, but for the turn, which is one photo's; nothing for nonsense."""
    try:
        said = wishes_from(dict(parse_qsl((cookie or "")[:_LONGEST_COOKIE], max_num_fields=2 * len(NAMES))))
    except (PencilampError, ValueError):
        return Wishes()
    return replace(said, turn="")


def cookie_of(wishes: Wishes) -> str:
    """What `wishes_of_cookie` reads back."""
    return urlencode({name: value for name, value in asdict(replace(wishes, turn="")).items() if value})


def turned(wishes: Wishes, way: str) -> Wishes:
    """The same with the card turned by a quarter, `left` or `right` as one sees it. Raises UsageError."""
    if way not in _QUARTERS:
        raise UsageError("A card is turned to the left or to the right.")
    return replace(wishes, turn=str((int(wishes.turn or "0") + _QUARTERS[way]) % 360))


def _require_possible(wishes: Wishes) -> None:
    parts = default_parts()
    if wishes.units not in ("", "mm", "in"):
        raise UsageError("Lengths are shown in millimetres or in inches.")
    if wishes.paper not in ("", "a4", "letter"):
        raise UsageError("The paper is A4 or Letter.")
    if wishes.turn not in ("", *TURNS):
        raise UsageError("A card is turned by a quarter, a half or three quarters.")
    parts.light(wishes.light or "5050", wishes.colour or "white")
    parts.cell(wishes.cell or "CR2032")
    for name in _BOUNDS:
        _length(wishes, name)
    if wishes.foam:
        foam_layers(wishes.foam, parts.foams.values())
    card_sides(wishes)


def _length(wishes: Wishes, name: str) -> float | None:
    text = str(getattr(wishes, name))
    if not text:
        return None
    try:
        length_mm = parse_length(text, wishes.units or "mm")
    except ValueError as error:
        raise UsageError(f"{error}.") from error
    what, least_mm, most_mm = _BOUNDS[name]
    if not (length_mm > 0 and least_mm <= length_mm <= most_mm):
        raise UsageError(f"{text} is no length that can be {what}; leave it empty for the usual one.")
    return length_mm


def card_sides(wishes: Wishes) -> tuple[tuple[float, float] | None, str | None]:
    """The card's two sides [mm], or its everyday name. Raises UsageError."""
    if not wishes.card:
        return None, None
    from click import ClickException

    from circuit.card_sizes import named_size
    from cli.plan_options import card_from

    try:
        sides, name = card_from(wishes.card, "in" if wishes.units == "in" else "mm")
    except ClickException as error:
        raise UsageError(error.message) from error
    if name is not None and named_size(name) is None:
        raise UsageError(f"{name!r} is no card size that is known here; write its width and height instead.")
    if sides is not None and min(sides) < _LEAST_CARD_MM:
        raise UsageError(
            f"{wishes.card} is smaller than any card; write the unit beside it, like 4.25x5.5in."
        )
    return sides, name


def options_of(wishes: Wishes) -> PlanOptions:
    """The same as options of a plan."""
    from cli.plan_options import PlanOptions

    sides, name = card_sides(wishes)
    return PlanOptions(
        asked=PlanAsked(
            card_mm=sides,
            card_name=name,
            square_mm=_length(wishes, "square"),
            printed_mm=_length(wishes, "printed"),
            colours=(wishes.colour,) if wishes.colour else (),
            foam=wishes.foam or None,
            turn_deg=TURNS[wishes.turn or "0"],
        ),
        light=wishes.light or None,
        cell=wishes.cell or None,
        tape_width_mm=_length(wishes, "tape"),
        gap_mm=_length(wishes, "gap"),
        units="in" if wishes.units == "in" else "mm" if wishes.units == "mm" else None,
        paper=wishes.paper or None,
        parts=default_parts(),
    )
