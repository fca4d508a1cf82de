"""One part's table in a parts file: its figures, each checked where it is taken.

In:    the table as TOML gives it.
Out:   numbers, spans and words.
Fails: `LayoutFileError`, one sentence that names the file, the part and the field.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from circuit.errors import LayoutFileError

SINGULAR = {
    "lights": "light",
    "colours": "colour",
    "cells": "cell",
    "tapes": "tape",
    "foams": "foam",
    "cards": "card",
}

# What a figure may be at most: far above anything that fits in a card, so that a slipped decimal
# point is caught and nothing real is refused. Chosen.
_MOST = {
    "length_mm": 30.0,
    "width_mm": 500.0,
    "height_mm": 500.0,
    "emitting_mm": 30.0,
    "diameter_mm": 60.0,
    "negative_face_mm": 60.0,
    "foil_mm": 1.0,
    "thickness_mm": 20.0,
    "stock_mm": 5.0,
    "dice": 20.0,
    "rated_ma": 5000.0,
    "saturation_a": 1e-3,
    "ideality": 20.0,
    "series_ohm": 1000.0,
    "spread_v": 1.0,
    "candela_per_a": 10_000.0,
    "x": 1.0,
    "y": 1.0,
    "forward_v": 6.0,
    "forward_ma": 1000.0,
    "capacity_mah": 5000.0,
    "steady_ma": 1000.0,
    "pulse_ma": 1000.0,
    "fresh_ohm": 2000.0,
    "half_ohm": 2000.0,
    "spent_ohm": 20_000.0,
    "slow_ohm": 2000.0,
}
_MAY_BE_ZERO = frozenset({"series_ohm", "slow_ohm", "spread_v"})
# And what it must be at least, where less would be no such part: no diode is steeper than its physics. A thousandth
# of a millimetre, ohm, volt or milliampere of all else is far below what is sold, and keeps sums finite. Chosen.
_LEAST = {"ideality": 0.5, "saturation_a": 1e-60, "y": 0.01}
_LEAST_OF_ALL = 1e-3


@dataclass(frozen=True, slots=True)
class Entry:
    """One part's table in the file: figures as given, with the words for an error about them."""

    file: str
    kind: str
    name: str
    fields: Mapping[str, Any]

    def trouble(self, field: str, what: str) -> LayoutFileError:
        """An error, to be raised, that names file, part and field."""
        return LayoutFileError(f"{self.file}: {SINGULAR[self.kind]} {self.name}, {field}: {what}")

    def number(self, field: str, default: float | None) -> float:
        """The figure, a bare number or the `value` of a table; `default` where the field is absent."""
        if field not in self.fields:
            if default is None:
                raise self.trouble(field, f"this figure is missing; add a line such as {field} = 1.5")
            return default
        given = self.fields[field]
        if isinstance(given, Mapping):
            self._keys(field, given, {"value", "source"})
            if "value" not in given:
                raise self.trouble(field, "there is no value in its braces; write { value = 1.5 }")
            given = given["value"]
        return self._checked(field, given)

    def figures(
        self, fields: Iterable[str], old: object | None, usual: Mapping[str, float] = MappingProxyType({})
    ) -> dict[str, Any]:
        """Several figures by field: as the file has them, else as the part `old` had them, else as is usual.

        Raises LayoutFileError, as `number` does.
        """
        return {
            field: self.number(field, usual.get(field) if old is None else getattr(old, field))
            for field in fields
        }

    def span(self, field: str, default: tuple[float, float] | None) -> tuple[float, float]:
        """A low and a high figure; a single number is both."""
        given = self.fields.get(field)
        if isinstance(given, Mapping) and "low" in given:
            self._keys(field, given, {"low", "high", "source"})
            low = self._checked(field, given["low"])
            high = self._checked(field, given.get("high", low))
            if high < low:
                raise self.trouble(field, f"the low figure {low:g} is above the high one {high:g}")
            return low, high
        if given is None and default is not None:
            return default
        single = self.number(field, None)
        return single, single

    def text(self, field: str, default: str) -> str:
        """The words, bare or the `value` of a table; `default` where the field is absent."""
        given = self.fields.get(field, default)
        if isinstance(given, Mapping):
            given = given.get("value", default)
        if not isinstance(given, str):
            raise self.trouble(field, f"this should be words in quotes, not {given!r}")
        return given

    def _keys(self, field: str, given: Mapping[str, Any], known: set[str]) -> None:
        for key in given:
            if key not in known:
                raise self.trouble(field, f"{key!r} is not known here; write {', '.join(sorted(known))}")

    def _checked(self, field: str, given: object) -> float:
        if isinstance(given, bool) or not isinstance(given, int | float) or not math.isfinite(given):
            raise self.trouble(field, f"this should be a number, not {given!r}")
        if given < 0 or (given == 0 and field not in _MAY_BE_ZERO):
            raise self.trouble(field, f"this should be above 0, not {given:g}")
        least = _LEAST.get(field, _LEAST_OF_ALL)
        if given < least and field not in _MAY_BE_ZERO:
            raise self.trouble(field, f"{given:g} is less than any such part has ({least:g})")
        if given > _MOST[field]:
            raise self.trouble(field, f"{given:g} is more than any such part has ({_MOST[field]:g})")
        return float(given)
