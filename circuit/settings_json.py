"""What the maker builds with, as plain JSON values in the plan file, and back.

Parts are kept by name, so that a mended figure in the parts list also mends old plans; limits are
kept only where they differ from the table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

from circuit.json_fields import Kept, plain, value_as
from circuit.part_kinds import CellPart, LightPart, TapePart
from circuit.parts import cell_part, light_part, tape_part
from circuit.settings import Corners, Settings, Units, WindowPaper

_Name = str | int  # a size code is a number to whoever writes the file by hand
_EXACT = Kept(places=None)
_AS_THEY_ARE = ("tape_width_mm", "gap_mm", "corners", "window_paper", "units", "limits")


@dataclass(frozen=True, slots=True)
class KeptSettings:
    """The plan file's `settings`; None: as by default."""

    light: _Name | None = None
    colour: str | None = None
    cell: _Name | None = None
    tape_width_mm: Annotated[float | None, _EXACT] = None
    gap_mm: Annotated[float | None, _EXACT] = None
    tape: str | None = None
    corners: Corners | None = None
    window_paper: WindowPaper | None = None
    units: Units | None = None
    limits: Annotated[Mapping[str, float], _EXACT] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name in ("tape_width_mm", "gap_mm"):
            if getattr(self, name) is not None and not getattr(self, name) > 0:
                raise ValueError(f"{name} should be above 0, not {getattr(self, name)}")


def settings_to_dict(settings: Settings) -> dict[str, Any]:
    """The plan file's `settings`."""
    kept: dict[str, Any] = plain(
        KeptSettings(
            light=settings.light.name,
            colour=settings.light.colour,
            cell=settings.cell.name,
            tape=settings.tape.name,
            **{name: getattr(settings, name) for name in _AS_THEY_ARE},
        )
    )
    return kept


def settings_from_dict(
    value: Mapping[str, Any],
    find_light: Callable[[str, str], LightPart] = light_part,
    find_cell: Callable[[str], CellPart] = cell_part,
    find_tape: Callable[[str], TapePart] = tape_part,
) -> Settings:
    """The settings that a plan file holds; what it leaves out is as by default.

    Raises LayoutFileError naming the field, UsageError for a part that is not in the list.
    """
    kept: KeptSettings = value_as(KeptSettings, value, "settings")
    default = Settings()
    return Settings(
        light=find_light(str(kept.light or default.light.name), kept.colour or default.light.colour),
        cell=find_cell(str(kept.cell or default.cell.name)),
        tape=find_tape(kept.tape or default.tape.name),
        **{name: getattr(kept, name) or getattr(default, name) for name in _AS_THEY_ARE},
    )
