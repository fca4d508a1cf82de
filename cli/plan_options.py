"""What a person may say to `pencilamp plan`, and the settings that follow from it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from circuit.asked import PlanAsked
from circuit.card_sizes import size_meant
from circuit.errors import UsageError
from circuit.foam_words import foam_layers
from circuit.gap import best_gap_mm
from circuit.layout import Point
from circuit.lengths import parse_length, parse_size
from circuit.mark_changes import Changes, shift_from
from circuit.part_kinds import LightPart, Parts
from circuit.settings import LEAST_TRACE_MM, Corners, Settings, Units, WindowPaper

if TYPE_CHECKING:
    from circuit.worked_out import PlanChoices

_LONGEST_CARD = 80  # chosen: several times what a size with fractions takes
_SHOWN = 20  # chosen: characters of it that a refusal repeats
_CARD_SIZE = re.compile(r"[\d\"″a-z/ .,]*\d[\d\"″a-z/ .,]*\s*[x×]\s*\d", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class PlanOptions:
    """The command's options, lengths in millimetres. None: not said, so an older plan's own value
    or else the default holds. asked : what a plan's settings don't hold and that changes what comes out."""

    out: Path | None = None
    asked: PlanAsked = field(default_factory=PlanAsked)
    light: str | None = None
    cell: str | None = None
    tape_width_mm: float | None = None
    tape_name: str | None = None
    corners: Corners | None = None
    window_paper: WindowPaper | None = None
    gap_mm: float | None = None
    units: Units | None = None
    changes: Changes = field(default_factory=Changes)
    limits: tuple[str, ...] = ()
    parts: Parts = field(default_factory=Parts)
    pages: bool = True
    paper: str | None = None
    spacing: bool = False
    glow: bool = False
    battery_place: bool = False
    keep: str | None = None
    more: bool = False


def settings_from(options: PlanOptions, kept: Mapping[str, Any]) -> Settings:
    """The settings in force: what was said now, else what an older plan holds, else the defaults.

    Raises UsageError for what was said, LayoutFileError for what the plan holds.
    """
    from circuit.settings_json import settings_from_dict

    said: dict[str, Any] = {
        "light": options.light,
        "colour": _common_colour(options.asked.colours),
        "cell": options.cell,
        "tape_width_mm": options.tape_width_mm,
        "gap_mm": options.gap_mm,
        "corners": options.corners,
        "window_paper": options.window_paper,
        "units": options.units,
    }
    value = {**kept, **{key: item for key, item in said.items() if item is not None}}
    own = kept.get("limits", {})
    # what is no table of limits goes on as it is, to be named as the fault it is
    value["limits"] = (
        {**own, **_limits(options.limits, options.units or "mm")} if isinstance(own, Mapping) else own
    )
    value.update(_tape(options))
    settings = settings_from_dict(value, options.parts.light, options.parts.cell, options.parts.tape)
    if options.gap_mm is None and ("gap_mm" not in kept or options.light is not None):
        settings = replace(settings, gap_mm=best_gap_mm(settings.light))
    if settings.tape_width_mm < LEAST_TRACE_MM:
        raise UsageError(
            f"A trace {settings.tape_width_mm:g} mm wide can't be cut or laid by hand; "
            f"say --tape with {LEAST_TRACE_MM:g} mm or more."
        )
    return settings


def _tape(options: PlanOptions) -> dict[str, Any]:
    """The tape that was named, its traces half as wide; or the one that a trace's width points to. Empty where
    neither was said."""
    if options.tape_name is not None:
        tape = options.parts.tape(options.tape_name)
        return {"tape": tape.name, "tape_width_mm": tape.width_mm / 2}
    if options.tape_width_mm is not None:
        return {"tape": options.parts.tape_for(options.tape_width_mm).name}
    return {}


def choices_from(options: PlanOptions, settings: Settings, labels: tuple[str, ...]) -> PlanChoices:
    """What else the plan rests on: foam, single lights of another colour, the router's effort."""
    from circuit.worked_out import PlanChoices  # brings the router along

    foam = (
        None if options.asked.foam is None else foam_layers(options.asked.foam, options.parts.foams.values())
    )
    return PlanChoices(
        foam=foam,
        lights=_single_lights(options, settings, labels),
        effort=options.asked.effort,
        press_s=options.asked.press_s,
        parts=options.parts,
    )


def _common_colour(colours: tuple[str, ...]) -> str | None:
    common = [colour for colour in colours if "=" not in colour]
    if len(common) > 1:
        raise UsageError(
            f"--colour was given for all lights twice ({', '.join(common)}); for a single light say --colour L3=red."
        )
    return common[0] if common else None


def _single_lights(
    options: PlanOptions, settings: Settings, labels: tuple[str, ...]
) -> Mapping[str, LightPart]:
    lights: dict[str, LightPart] = {}
    for item in options.asked.colours:
        label, equals, colour = item.partition("=")
        if not equals:
            continue
        known = {name.casefold(): name for name in labels}
        if label.strip().casefold() not in known:
            raise UsageError(f"--colour {item}: there is no light {label.strip()} on this card.")
        part = options.parts.light(settings.light.name, colour.strip())
        lights[known[label.strip().casefold()]] = part
    return lights


def _limits(items: tuple[str, ...], units: Units) -> dict[str, float]:
    """Each limit by its key; a bare number is in `units` where the limit is a length, else as it stands."""
    from circuit.rules import LIMITS

    limits: dict[str, float] = {}
    for item in items:
        name, equals, text = item.partition("=")
        try:
            key = "-".join(name.lower().split())  # `Lights too close`, as one says it
            bare = units if key in LIMITS and LIMITS[key].unit == "mm" else "mm"
            limits[key] = parse_length(text, bare) if equals else float("nan")
        except ValueError as error:
            raise UsageError(f"--limit {item}: {error}.") from error
        if not equals:
            raise UsageError(f"--limit {item}: write it like traces-too-close=2mm.")
    return limits


def card_from(text: str | None, units: Units | None = None) -> tuple[tuple[float, float] | None, str | None]:
    """A card's two sides, or its everyday name as the table of sizes has it.

    Sides without a unit are in `units`. Raises UsageError for an unknown word or one that two sizes go by.
    """
    if text is None:
        return None, None
    if len(text) > _LONGEST_CARD:  # else the search below takes hours
        raise UsageError(f"--card {text[:_SHOWN]}...: that is no card's size; give it like 4.25x5.5in or A6.")
    if not _CARD_SIZE.search(text):
        return None, size_meant(text).name
    try:
        return parse_size(text, units or "mm"), None
    except ValueError as error:
        raise UsageError(f"--card {text}: {error}.") from error


def tape_from(text: str | None, parts: Parts, units: Units | None = None) -> tuple[float | None, str | None]:
    """A trace's width [mm] or the name of a tape: what the parts list knows by that name is the tape, however the name
    begins. A width without a unit is in `units`. Raises UsageError for what is neither."""
    if text is None:
        return None, None
    if parts.has_tape(text) or text[:1].isalpha():
        return None, text
    try:
        width_mm = parse_length(text, units or "mm")
    except ValueError as error:
        raise UsageError(f"--tape {text}: {error}, or name a tape as `pencilamp parts` lists it.") from error
    if width_mm <= 0:
        raise UsageError(f"--tape {text}: a trace has some width; write it like 2.5mm.")
    return width_mm, None


def changes_from(
    suggested: bool, moves: Sequence[str], drop: Sequence[str], add: Sequence[str], units: Units | None
) -> Changes:
    """What is to be changed about the marks; lengths without a unit are in `units`. Raises UsageError."""
    return Changes(
        suggested=suggested,
        shifts=tuple(shift_from(text, units or "mm") for text in moves),
        drop=tuple(label.strip() for text in drop for label in text.split(",") if label.strip()),
        add=tuple(_place(text, units or "mm") for text in add),
    )


def _place(text: str, units: Units) -> Point:
    sides = re.split(r"\s*[,;]\s*", text.strip())
    try:
        if len(sides) == 2:
            return (parse_length(sides[0], units), parse_length(sides[1], units))
    except ValueError as error:
        raise UsageError(f"--add {text}: {error}.") from error
    raise UsageError(f"--add {text}: write it like 30,42: so far from the left edge, so far from the top.")
