"""`pencilamp parts`: what lights, cells, tapes, foams and cards the program knows, and a maker's own.

Exit codes: 0 listed, 2 wrong use, 4 the maker's parts file can't be read or understood.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path

import click

from circuit.card_sizes import CARD_SIZES, sayable_name
from circuit.foam_words import height_words
from circuit.lengths import format_length
from circuit.part_kinds import MA_PER_A, CellPart, Colour, LightPart, Parts
from circuit.settings import Units
from cli.parts_option import parts_option, read_parts
from cli.screen import WIDEST, columns, in_lines, print_lines

_HALF_USED_V = 2.95  # of a half-used cell without load; its own resistance needs the rest
_HUNGRY_V = 2.3  # chosen: between red and yellow lights, and white, green and blue ones
_MAKES_DIFFER = (
    "Makes differ: where a bag or a data sheet says otherwise, put that in a parts file of your own."
)
_BRIGHT_MA = 2.0  # at which a colour's voltage is told: about what one die gets in a card


@click.command(short_help="List lights, cells, tapes, foams, cards.")
@parts_option
@click.option(
    "--units",
    type=click.Choice(["mm", "in"]),
    default="mm",
    show_default=True,
    help="Lengths of tapes, foams and cards.",
)
@click.option("--sources", is_flag=True, help="Say where each figure is from.")
def parts(parts_file: Path | None, units: Units, sources: bool) -> None:
    """List the lights, cells, tapes, foams and cards that can be named in a plan.

    \b
    A parts file of your own looks like this:
      [lights.my-star]
      length_mm = 3.0
      width_mm = 3.0
      height_mm = 1.2
      [colours.blue]
      forward_v = 3.1     # from the bag
      forward_ma = 20

    \b
    Example:
      pencilamp parts --units in
    """
    known = read_parts(parts_file)
    print_lines("\n".join(listing(known, units, columns())))
    if sources:
        print_lines("\n".join(["", *source_lines(known)]))


def listing(known: Parts, units: Units, width: int = WIDEST) -> list[str]:
    """The list in plain words, a heading and a table for each kind."""

    # Lights and cells are named and sold in millimetres everywhere; a 32nd of an inch says too little of them.
    table = partial(_table, width=width)
    others = ", ".join(sayable_name(size) for size in CARD_SIZES if size.name not in known.cards)
    return [
        *table(
            "Lights (name with --light)",
            ("name", "body", "height", "most current"),
            [_light_row(light) for light in known.lights.values()],
        ),
        *table(
            "Colours of light (name with --colour)",
            ("name", f"needs at {_BRIGHT_MA:g} mA", "a 3 V cell"),
            [_colour_row(colour) for colour in known.colours.values()],
        ),
        *table(
            "Cells (name with --cell)",
            ("name", "across", "height", "holds", "made for"),
            [_cell_row(cell) for cell in known.cells.values()],
        ),
        *table(
            "Copper tapes (name with --tape)",
            ("name", "width", "thickness"),
            [
                (tape.name, height_words(tape.width_mm, units), f"{tape.thickness_mm:g} mm")
                for tape in known.tapes.values()
            ],
        ),
        *table(
            "Foams (name with --foam)",
            ("name", "thickness"),
            [(foam.name, height_words(foam.thickness_mm, units)) for foam in known.foams.values()],
        ),
        *table(
            "Cards (name with --card)",
            ("name", "size", "envelope"),
            [
                (
                    card.name,
                    f"{format_length(card.width_mm, units)} x {format_length(card.height_mm, units)}",
                    card.envelope,
                )
                for card in known.cards.values()
            ],
        ),
        *in_lines(f"Other sizes with a name: {others}; or the two sides, like 4.25x5.5in.", width),
        "",
        *in_lines(_MAKES_DIFFER, width),
    ]


def _light_row(light: LightPart) -> tuple[str, ...]:
    body = f"{light.length_mm:g} x {light.width_mm:g} mm"
    return (light.name, body, f"{light.height_mm:g} mm", f"{light.rated_ma:g} mA")


def _colour_row(colour: Colour) -> tuple[str, ...]:
    volts = colour.diode.volts(_BRIGHT_MA / MA_PER_A)
    return (colour.name, f"{volts:.1f} V, give or take {colour.spread_v:.1f}", _suits(volts))


def _suits(volts: float) -> str:
    if volts > _HALF_USED_V:
        return "dims early"
    return "lights it well" if volts > _HUNGRY_V else "lights it well, drains fast; don't mix"


def _cell_row(cell: CellPart) -> tuple[str, ...]:
    low, high = cell.capacity_low_mah, cell.capacity_high_mah
    holds = f"{low:g} mAh" if low == high else f"{low:g} to {high:g} mAh"
    return (
        cell.name,
        f"{cell.diameter_mm:g} mm",
        f"{cell.height_mm:g} mm",
        holds,
        f"{cell.steady_ma:g} mA for long, {cell.pulse_ma:g} mA in pulses",
    )


def source_lines(known: Parts) -> list[str]:
    """Each figure's source, part by part."""
    lines = ["Where the figures are from"]
    for kind in ("lights", "colours", "cells", "tapes", "foams", "cards"):
        for name in getattr(known, kind):
            lines.append(f"  {kind[:-1]} {name}")
            lines += [
                f"    {field}: {source}"
                for (its_kind, its_name, field), source in known.sources.items()
                if (its_kind, its_name) == (kind, name)
            ]
    return lines


def _table(title: str, heads: Sequence[str], rows: Iterable[Sequence[str]], width: int) -> list[str]:
    grid = [tuple(heads), *(tuple(row) for row in rows)]
    widths = [max(len(row[column]) for row in grid) for column in range(len(heads))]
    lines = ["  " + "  ".join(cell.ljust(wide) for cell, wide in zip(row, widths)).rstrip() for row in grid]
    if max(map(len, lines)) > width:  # each row as a sentence: what it is called, then the rest
        said = (", ".join(f"{head} {cell}" for head, cell in zip(heads[1:], row[1:])) for row in grid[1:])
        lines = [
            line
            for row, rest in zip(grid[1:], said)
            for line in in_lines(f"{row[0]}: {rest}", width, "  ", "    ")
        ]
    return [title, *lines, ""]
