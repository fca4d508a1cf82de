"""What the maker builds with, as plain JSON values in the plan file, and back.

Parts are kept by name, so that a mended figure in the parts list also mends old plans; limits are
kept only where they differ from the table.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from circuit.errors import LayoutFileError
from circuit.parts import CellPart, LightPart, TapePart, cell_part, light_part, tape_part
from circuit.settings import Settings

_LENGTH_KEYS = ("tape_width_mm", "gap_mm")


def settings_to_dict(settings: Settings) -> dict[str, Any]:
    """The plan file's `settings`."""
    return {
        "light": settings.light.name,
        "colour": settings.light.colour,
        "cell": settings.cell.name,
        "tape_width_mm": settings.tape_width_mm,
        "gap_mm": settings.gap_mm,
        "tape": settings.tape.name,
        "corners": settings.corners,
        "window_paper": settings.window_paper,
        "units": settings.units,
        "limits": dict(settings.limits),
    }


def settings_from_dict(
    value: Mapping[str, Any],
    find_light: Callable[[str, str], LightPart] = light_part,
    find_cell: Callable[[str], CellPart] = cell_part,
    find_tape: Callable[[str], TapePart] = tape_part,
) -> Settings:
    """The settings that a plan file holds; what it leaves out is as by default.

    Raises LayoutFileError naming the field, UsageError for a part that is not in the list.
    """
    plain = Settings()
    for key in _LENGTH_KEYS:
        _require_length(value.get(key, 1.0), key)
    units = value.get("units", plain.units)
    if units not in ("mm", "in"):
        raise LayoutFileError(f"This file can't be used: settings.units should be mm or in, not {units!r}.")
    corners = value.get("corners", plain.corners)
    if corners not in ("folded", "lapped"):
        raise LayoutFileError(
            f"This file can't be used: settings.corners should be folded or lapped, not {corners!r}."
        )
    paper = value.get("window_paper", plain.window_paper)
    if paper not in ("one", "two", "plain"):
        raise LayoutFileError(
            f"This file can't be used: settings.window_paper should be one, two or plain, not {paper!r}."
        )
    limits = value.get("limits", {})
    if not isinstance(limits, Mapping):
        raise LayoutFileError("This file can't be used: settings.limits should be an object in braces.")
    for name, limit in limits.items():
        _require_number(limit, f"limits.{name}")
    return Settings(
        light=find_light(
            str(value.get("light", plain.light.name)), str(value.get("colour", plain.light.colour))
        ),
        cell=find_cell(str(value.get("cell", plain.cell.name))),
        tape_width_mm=float(value.get("tape_width_mm", plain.tape_width_mm)),
        gap_mm=float(value.get("gap_mm", plain.gap_mm)),
        tape=find_tape(str(value.get("tape", plain.tape.name))),
        corners=corners,
        window_paper=paper,
        units=units,
        limits=dict(limits),
    )


def _require_number(value: object, key: str) -> None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise LayoutFileError(f"This file can't be used: settings.{key} should be a number, not {value!r}.")


def _require_length(value: object, key: str) -> None:
    _require_number(value, key)
    if not isinstance(value, int | float) or value <= 0:
        raise LayoutFileError(f"This file can't be used: settings.{key} should be above 0, not {value!r}.")
