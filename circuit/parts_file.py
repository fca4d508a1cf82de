"""A parts list in TOML: the program's own, or a maker's that adds to it and overrides it.

In:    the file's text and its name; the list that it adds to.
Out:   a new `Parts`.
Fails: `LayoutFileError`, one sentence that names the file, the part and the field.

    [lights.3528]               kinds: lights, colours, cells, tapes, foams, cards
    height_mm = 0.8             a bare number, or
    rated_ma = { value = 30, source = "the bag" }
    [cells.CR2032]
    capacity_mah = { low = 210, high = 230 }
    [colours.blue]
    forward_v = 3.2             what a bag says, in place of the diode's three figures
    forward_ma = 20
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from circuit.errors import LayoutFileError
from circuit.near_names import plain_name
from circuit.part_kinds import (
    MA_PER_A,
    USUAL_STOCK_MM,
    CardPart,
    CellPart,
    Colour,
    Diode,
    FoamPart,
    LightPart,
    Parts,
    TapePart,
)
from circuit.parts_entry import SINGULAR, Entry
from circuit.size_codes import cell_size, light_sizes
from circuit.visible import visible

_FIELDS = {
    "lights": ("length_mm", "width_mm", "height_mm", "dice", "rated_ma", "emitting_mm"),
    "colours": tuple(
        "saturation_a ideality series_ohm forward_v forward_ma spread_v candela_per_a x y".split()
    ),
    "cells": tuple(
        "diameter_mm height_mm negative_face_mm capacity_mah steady_ma pulse_ma fresh_ohm half_ohm spent_ohm "
        "slow_ohm".split()
    ),
    "tapes": ("width_mm", "foil_mm", "thickness_mm"),
    "foams": ("thickness_mm",),
    "cards": ("width_mm", "height_mm", "stock_mm", "envelope"),
}
_MOST_TURNS = 140.0  # e^140: the least saturation current that is allowed, from the largest forward current
# What holds of a part where its file says nothing else.
_USUAL_MA = 20.0  # one die's rating on most data sheets
_SHINING = 0.8  # of a light's face, along each side: chosen
_CR2032_MM = (20.0, 3.2)  # diameter and height: IEC 60086-2
_USUAL_FOIL_MM, _USUAL_TAPE_MM = 0.035, 0.1  # copper, and copper with its glue: most sheets of such tapes
_LEAST_INNER_V = 0.01  # left for the diode itself: below it the series resistance takes all. Chosen
_CODE_SLACK_MM = 0.45  # bodies of one code differ by their leads (5050: 5.0 to 5.4 mm); chosen


def load_parts(text: str, name: str, base: Parts) -> Parts:
    """The list in `text`, added to `base`; fields that `text` leaves out stay as in `base`.

    `name` is the file's name for messages.
    Raises LayoutFileError, which names the file, the part and the field.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise LayoutFileError(f"{name}: this is not a parts file in TOML: {error}.") from None
    for kind in document:
        if kind not in _FIELDS:
            raise LayoutFileError(f"{name}: [{kind}] is not known; the kinds are {', '.join(_FIELDS)}.")
    sources = dict(base.sources)

    def merged(kind: str) -> dict[str, Any]:
        known: Mapping[str, Any] = getattr(base, kind)
        table = dict(known)
        for given, entry in _entries(document.get(kind, {}), kind, name):
            key = next((old for old in known if plain_name(old) == plain_name(given)), given)
            named = replace(entry, name=key)
            for field in named.fields:
                sources[kind, key, field] = _source_of(named, field)
            table[key] = _BUILD[kind](named, table.get(key))
        return table

    return Parts(**{kind: merged(kind) for kind in _FIELDS}, sources=sources)


def _entries(table: object, kind: str, file: str) -> list[tuple[str, Entry]]:
    if not isinstance(table, Mapping):
        raise LayoutFileError(f"{file}: {kind} should be tables, written [{kind}.NAME].")
    entries = []
    for key, fields in table.items():
        if not key.strip() or visible(key) != key:
            raise LayoutFileError(
                f"{file}: the name of a {SINGULAR[kind]}, {key!r}, is empty or holds signs that can't be seen; "
                "write the name anew."
            )
        if not isinstance(fields, Mapping):
            raise LayoutFileError(
                f"{file}: {SINGULAR[kind]} {key}: this should be a table, written [{kind}.{key}]."
            )
        entry = Entry(file, kind, key, fields)
        for field in fields:
            if field not in _FIELDS[kind]:
                known = ", ".join(_FIELDS[kind])
                raise entry.trouble(field, f"not a field of a {SINGULAR[kind]}; those are {known}")
        entries.append((key, entry))
    return entries


def _source_of(entry: Entry, field: str) -> str:
    given = entry.fields[field]
    if isinstance(given, Mapping) and "source" in given:
        source = given["source"]
        if not isinstance(source, str):
            raise entry.trouble(field, f"the source should be words in quotes, not {source!r}")
        return source
    return entry.file


def _light(entry: Entry, old: LightPart | None) -> LightPart:
    size = entry.figures(("length_mm", "width_mm"), old)
    _check_light_code(entry, **size)
    shining = _SHINING * math.sqrt(size["length_mm"] * size["width_mm"])
    usual = {"dice": 1, "rated_ma": _USUAL_MA, "emitting_mm": shining}
    rest = entry.figures(("height_mm", "dice", "rated_ma", "emitting_mm"), old, usual)
    if rest["dice"] != int(rest["dice"]):
        raise entry.trouble("dice", f"this should be a whole number, not {rest['dice']:g}")
    return LightPart(entry.name, **size, **{**rest, "dice": int(rest["dice"])})


def _check_light_code(entry: Entry, length_mm: float, width_mm: float) -> None:
    sizes = light_sizes(entry.name)
    got = (max(length_mm, width_mm), min(length_mm, width_mm))
    if sizes and not any(max(abs(a - b) for a, b in zip(got, size)) <= _CODE_SLACK_MM for size in sizes):
        said = " or ".join(f"{a:g} x {b:g} mm" for a, b in sizes)
        raise entry.trouble(
            "length_mm, width_mm",
            f"the code {entry.name} means {said}, not {got[0]:g} x {got[1]:g} mm; mend it or use another name",
        )


def _colour(entry: Entry, old: Colour | None) -> Colour:
    plain = old or Colour(entry.name, Diode())
    slope = entry.figures(("ideality", "series_ohm"), plain.diode)
    if "forward_v" in entry.fields:
        if "saturation_a" in entry.fields:
            raise entry.trouble("forward_v", "give either this or saturation_a, not both")
        volts, milliamperes = entry.number("forward_v", None), entry.number("forward_ma", _USUAL_MA)
        diode = diode_through(volts, milliamperes, **slope)
        if diode is None:
            raise entry.trouble(
                "forward_v", "no such light has these volts at that current; check forward_v and forward_ma"
            )
    elif "forward_ma" in entry.fields:
        raise entry.trouble("forward_ma", "this says at what current forward_v is; forward_v is missing")
    else:
        diode = Diode(entry.number("saturation_a", plain.diode.saturation_a), **slope)
    shines = entry.figures(("candela_per_a", "x", "y", "spread_v"), plain)
    x, y = shines["x"], shines["y"]
    if x + y > 1 + 1e-9:  # x + y + z = 1, and no light has a z below 0
        raise entry.trouble("x, y", f"together they may be 1 at most, not {x:g} + {y:g}; check both")
    return Colour(entry.name, diode, **shines)


def diode_through(volts: float, milliamperes: float, ideality: float, series_ohm: float) -> Diode | None:
    """The diode of that slope and series resistance that has `volts` at `milliamperes`; None where
    the series resistance alone takes that much, or where no diode is so steep."""
    amperes = milliamperes / MA_PER_A
    inner_v = volts - amperes * series_ohm
    turns = inner_v / Diode(1.0, ideality, 0.0).slope_v
    if inner_v <= _LEAST_INNER_V or turns > _MOST_TURNS:
        return None
    return Diode(amperes / math.expm1(turns), ideality, series_ohm)


def _cell(entry: Entry, old: CellPart | None) -> CellPart:
    code = dict(zip(("diameter_mm", "height_mm"), cell_size(entry.name) or ()))
    size = entry.figures(("diameter_mm", "height_mm"), old, code)
    for field, said in code.items():
        if abs(size[field] - said) > _CODE_SLACK_MM:
            raise entry.trouble(
                field,
                f"the code {entry.name} means {said:g} mm, not {size[field]:g} mm; mend it or use another name",
            )
    plain = old or CellPart(entry.name, *_CR2032_MM)
    low, high = entry.span("capacity_mah", (plain.capacity_low_mah, plain.capacity_high_mah) if old else None)
    # A new cell of which only the size is known: resistance goes with one over the face's area.
    area = (size["diameter_mm"] / plain.diameter_mm) ** 2
    ohms = {name: getattr(plain, name) / area for name in ("fresh_ohm", "half_ohm", "spent_ohm", "slow_ohm")}
    face_mm = plain.negative_face_mm * size["diameter_mm"] / plain.diameter_mm
    like = replace(plain, negative_face_mm=face_mm, **ohms)
    has = entry.figures(("negative_face_mm", "steady_ma", "pulse_ma", *ohms), like)
    if has["pulse_ma"] < has["steady_ma"]:
        raise entry.trouble(
            "pulse_ma, steady_ma",
            f"a cell gives more in pulses than for long, not {has['pulse_ma']:g} and {has['steady_ma']:g} mA; "
            "check both",
        )
    fresh, half, spent, _ = (has[name] for name in ohms)
    if not fresh <= half <= spent:
        raise entry.trouble(
            "fresh_ohm, half_ohm, spent_ohm",
            f"a cell's resistance only grows as it empties, not {fresh:g}, {half:g}, {spent:g} ohm; check all three",
        )
    return CellPart(entry.name, **size, capacity_low_mah=low, capacity_high_mah=high, **has)


def _tape(entry: Entry, old: TapePart | None) -> TapePart:
    usual = {"foil_mm": _USUAL_FOIL_MM, "thickness_mm": _USUAL_TAPE_MM}
    tape = TapePart(entry.name, **entry.figures(_FIELDS["tapes"], old, usual))
    if tape.foil_mm > tape.thickness_mm:
        raise entry.trouble(
            "foil_mm, thickness_mm",
            f"the copper alone can't be thicker than the whole tape, not {tape.foil_mm:g} and "
            f"{tape.thickness_mm:g} mm; check both",
        )
    return tape


def _foam(entry: Entry, old: FoamPart | None) -> FoamPart:
    return FoamPart(entry.name, **entry.figures(_FIELDS["foams"], old))


def _card(entry: Entry, old: CardPart | None) -> CardPart:
    figures = entry.figures(("width_mm", "height_mm", "stock_mm"), old, {"stock_mm": USUAL_STOCK_MM})
    return CardPart(entry.name, **figures, envelope=entry.text("envelope", old.envelope if old else ""))


_BUILD: Mapping[str, Callable[[Entry, Any], Any]] = {
    "lights": _light,
    "colours": _colour,
    "cells": _cell,
    "tapes": _tape,
    "foams": _foam,
    "cards": _card,
}
