"""What a person says beforehand, of the photo and of what to make of it; kept with the plan, so that it can
be made again."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields, replace
from typing import Annotated, Literal

from circuit.json_fields import Kept
from circuit.lengths import MM_PER_INCH

PLAIN_SIDE_MM = MM_PER_INCH  # chosen: the square that a one-inch punch gives, common practice
PRESS_S = 5.0  # chosen: a look at a card
LEAST_PRESS_S, MOST_PRESS_S = 0.1, 86_400.0  # chosen: a blink, a day
Turn = Literal[0, 90, 180, 270]
TURNS: Mapping[str, Turn] = {"0": 0, "90": 90, "180": 180, "270": 270}
_UNSAID = Kept(places=None, omit=True)


@dataclass(frozen=True, slots=True)
class Asked:
    """What is said of the photo; None: not said.

    card_mm : the card's two sides, either way round; or card_name, one of `circuit.card_sizes`.
    square_mm : side of a plain dark square. printed_mm : side of the coded one as measured, where the
    printer scaled it.
    turn_deg : clockwise turn of the result: a card that lies in the picture with its top to the right is
    set upright by 270.
    """

    card_mm: Annotated[tuple[float, float] | None, _UNSAID] = None
    card_name: Annotated[str | None, _UNSAID] = None
    square_mm: Annotated[float | None, _UNSAID] = None
    printed_mm: Annotated[float | None, _UNSAID] = None
    turn_deg: Annotated[Turn, _UNSAID] = 0

    def __post_init__(self) -> None:
        lengths = [*(self.card_mm or ()), self.square_mm, self.printed_mm]
        if not all(length is None or length > 0 for length in lengths):
            raise ValueError(f"card and square must have sides above 0, got {lengths}")
        if self.turn_deg not in TURNS.values():
            raise ValueError(f"turn_deg must be 0, 90, 180 or 270, got {self.turn_deg}")

    @property
    def plain_side_mm(self) -> float:
        """The side that a plain square should have. [mm]"""
        return self.square_mm or PLAIN_SIDE_MM


@dataclass(frozen=True, slots=True)
class PlanAsked(Asked):
    """All that is said beside the settings. colours : `red`, or `L3=red` for a single light. foam : layers as
    a person types them. effort : how long the router looks, 1 is the everyday search.
    press_s : seconds of one press, for how many there are in a cell."""

    colours: Annotated[tuple[str, ...], _UNSAID] = ()
    foam: Annotated[str | None, _UNSAID] = None
    effort: Annotated[int, _UNSAID] = 1
    press_s: Annotated[float, _UNSAID] = PRESS_S

    def __post_init__(self) -> None:
        Asked.__post_init__(self)
        if not self.press_s > 0:
            raise ValueError(f"press_s must be above 0, got {self.press_s}")


def said_since(before: PlanAsked, now: PlanAsked, labels: Collection[str]) -> PlanAsked:
    """What holds of an older plan: what is said now, else what was said then.

    Of the colours said then, only those of single lights that are still there: the common one is among the plan's
    settings, where somebody may have changed it.
    """
    plain = PlanAsked()
    said = {
        one.name: getattr(now, one.name)
        for one in fields(now)
        if getattr(now, one.name) != getattr(plain, one.name)
    }
    single = tuple(text for text in before.colours if text.partition("=")[0].strip() in labels)
    return replace(before, **{"colours": single, **said})
