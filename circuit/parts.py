"""Lights, cells, tapes, foams and cards by name, with the figures that the rules and the numbers need.

In:    a name (`light_part("3528", "red")`, `cell_part("CR2025")`), or a `Parts` list of a maker's own.
Out:   frozen parts in millimetres, ohms, volts, milliamperes.
Fails: `UsageError` for a name that is not in the list; the message says which names are.

The figures themselves are in `parts.toml`, each with its source; `circuit.parts_file` reads it. What a part is:
`circuit.part_kinds`.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from circuit.part_kinds import DEFAULT_TAPE, CellPart, LightPart, Parts, TapePart


@cache
def default_parts() -> Parts:
    """The list that comes with the program, read once."""
    from circuit.parts_file import load_parts

    text = Path(__file__).with_name("parts.toml").read_text(encoding="utf-8")
    return load_parts(text, "parts.toml", Parts())


def light_part(name: str, colour: str = "white", parts: Parts | None = None) -> LightPart:
    """The light of that name and colour; UsageError when it is not in the list."""
    return (parts or default_parts()).light(name, colour)


def cell_part(name: str, parts: Parts | None = None) -> CellPart:
    """The cell of that name; UsageError when it is not in the list."""
    return (parts or default_parts()).cell(name)


def tape_part(name: str = DEFAULT_TAPE, parts: Parts | None = None) -> TapePart:
    """The tape of that name; UsageError when it is not in the list."""
    return (parts or default_parts()).tape(name)
