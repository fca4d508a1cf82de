"""The one parameter type for lengths on the command line: 2.5mm, 3/32in, 10.8 cm, 4 1/4 in."""

from __future__ import annotations

import re

import click

from circuit.lengths import parse_length


class LengthType(click.ParamType[float]):
    """A length above 0 in millimetres; a bare number counts as millimetres."""

    name = "length"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, int | float):
            return float(value)
        try:
            length_mm = parse_length(str(value))
        except ValueError as error:
            self.fail(f"{error}.", param, ctx)
        if length_mm <= 0:
            self.fail(f"{value!r} is no length; it must be above 0.", param, ctx)
        return length_mm


class SizeType(click.ParamType[tuple[float, float]]):
    """A width and a height, both above 0, in millimetres: 4.25x5.5in, 105 x 148 mm, 4 1/4 x 5 1/2 in.

    A unit behind the second length also serves a first that has none.
    """

    name = "size"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        if isinstance(value, tuple):
            return value
        sides = re.split(r"\s*[x×X]\s*", str(value).strip())
        if len(sides) != 2:
            self.fail(f"{value!r} is no card size; write it like 4.25x5.5in or 105x148mm.", param, ctx)
        unit = re.search(r"[a-zA-Z\"″]+\s*$", sides[1])
        try:
            height_mm = parse_length(sides[1])
            width_mm = parse_length(sides[0], bare_unit=unit.group().strip().lower() if unit else "mm")
        except ValueError as error:
            self.fail(f"{error}.", param, ctx)
        if width_mm <= 0 or height_mm <= 0:
            self.fail(f"{value!r} is no card size; both sides must be above 0.", param, ctx)
        return width_mm, height_mm


LENGTH = LengthType()
SIZE = SizeType()
