"""Lights and cells by name."""

from __future__ import annotations

from dataclasses import dataclass

from circuit.errors import UsageError


@dataclass(frozen=True, slots=True)
class LightPart:
    """A surface-mount light: body length (across the two pad rows), width, height. [mm]"""

    name: str
    length_mm: float
    width_mm: float
    height_mm: float
    colour: str = "white"


@dataclass(frozen=True, slots=True)
class CellPart:
    """A coin cell: diameter and height over all. [mm]"""

    name: str
    diameter_mm: float
    height_mm: float


_LIGHTS = {"5050": LightPart("5050", 5.0, 5.0, 1.6)}
_CELLS = {"CR2032": CellPart("CR2032", 20.0, 3.2)}


def light_part(name: str, colour: str = "white") -> LightPart:
    """The light of that name; UsageError when it is not in the list."""
    if name not in _LIGHTS:
        raise UsageError(
            f"There is no light called {name!r} in the parts list. Known are: {', '.join(_LIGHTS)}."
        )
    return _LIGHTS[name]


def cell_part(name: str) -> CellPart:
    """The cell of that name; UsageError when it is not in the list."""
    key = name.upper()
    if key not in _CELLS:
        raise UsageError(
            f"There is no cell called {name!r} in the parts list. Known are: {', '.join(_CELLS)}."
        )
    return _CELLS[key]
