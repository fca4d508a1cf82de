"""The one parameter type for lengths on the command line, 2.5mm, 3/32in, 10.8 cm, 4 1/4 in, and the units option."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from circuit.lengths import parse_length

_UNITS_KEY = "pencilamp.units"
_Command = TypeVar("_Command", bound=Callable[..., Any])


class LengthType(click.ParamType[float]):
    """A length above 0 in millimetres; a bare number counts in the units that the command was given."""

    name = "length"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, int | float):
            return float(value)
        bare_unit = "mm" if ctx is None else ctx.meta.get(_UNITS_KEY, "mm")
        try:
            length_mm = parse_length(str(value), bare_unit)
        except ValueError as error:
            self.fail(f"{error}.", param, ctx)
        if length_mm <= 0:
            self.fail(f"{value!r} is no length; it must be above 0.", param, ctx)
        return length_mm


def units_option(help_text: str) -> Callable[[_Command], _Command]:
    """`--units`, read before all other options, since lengths that are typed without a unit are in these."""
    return click.option(
        "--units", type=click.Choice(["mm", "in"]), is_eager=True, callback=_remember_units, help=help_text
    )


def _remember_units(ctx: click.Context, param: click.Parameter, value: str | None) -> str | None:
    if value is not None:
        ctx.meta[_UNITS_KEY] = value
    return value


LENGTH = LengthType()
