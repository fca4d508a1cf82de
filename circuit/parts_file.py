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
from typing import TypeVar

from circuit.errors import LayoutFileError
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
    plain_name,
)
from circuit.parts_entry import SINGULAR, Entry
from circuit.size_codes import cell_size, light_sizes

KINDS = ("lights", "colours", "cells", "tapes", "foams", "cards")
_FIELDS = {
    "lights": ("length_mm", "width_mm", "height_mm", "dice", "rated_ma", "emitting_mm"),
    "colours": (
        "saturation_a",
        "ideality",
        "series_ohm",
        "forward_v",
        "forward_ma",
        "spread_v",
        "candela_per_a",
        "x",
        "y",
    ),
    "cells": (
        "diameter_mm",
        "height_mm",
        "negative_face_mm",
        "capacity_mah",
        "steady_ma",
        "pulse_ma",
        "fresh_ohm",
        "half_ohm",
        "spent_ohm",
        "slow_ohm",
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
_T = TypeVar("_T")


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
        if kind not in KINDS:
            raise LayoutFileError(f"{name}: [{kind}] is not known; the kinds are {', '.join(KINDS)}.")
    sources = dict(base.sources)

    def merged(kind: str, known: Mapping[str, _T], build: Callable[[Entry, _T | None], _T]) -> dict[str, _T]:
        table = dict(known)
        for given, entry in _entries(document.get(kind, {}), kind, name):
            key = next((old for old in known if plain_name(old) == plain_name(given)), given)
            named = replace(entry, name=key)
            for field in named.fields:
                sources[kind, key, field] = _source_of(named, field)
            table[key] = build(named, table.get(key))
        return table

    return Parts(
        colours=merged("colours", base.colours, _colour),
        lights=merged("lights", base.lights, _light),
        cells=merged("cells", base.cells, _cell),
        tapes=merged("tapes", base.tapes, _tape),
        foams=merged("foams", base.foams, _foam),
        cards=merged("cards", base.cards, _card),
        sources=sources,
    )


def _entries(table: object, kind: str, file: str) -> list[tuple[str, Entry]]:
    if not isinstance(table, Mapping):
        raise LayoutFileError(f"{file}: {kind} should be tables, written [{kind}.NAME].")
    entries = []
    for key, fields in table.items():
        if not isinstance(fields, Mapping):
            raise LayoutFileError(
                f"{file}: {SINGULAR[kind]} {key}: this should be a table, written [{kind}.{key}]."
            )
        entry = Entry(file, kind, key, fields)
        for field in fields:
            if field not in _FIELDS[kind]:
                raise entry.trouble(
                    field, f"not a field of a {SINGULAR[kind]}; those are {_field_names(kind)}"
                )
        entries.append((key, entry))
    return entries


def _field_names(kind: str) -> str:
    return ", ".join(_FIELDS[kind])


def _source_of(entry: Entry, field: str) -> str:
    given = entry.fields[field]
    if isinstance(given, Mapping) and "source" in given:
        source = given["source"]
        if not isinstance(source, str):
            raise entry.trouble(field, f"the source should be words in quotes, not {source!r}")
        return source
    return entry.file


def _light(entry: Entry, old: LightPart | None) -> LightPart:
    length = entry.number("length_mm", old.length_mm if old else None)
    width = entry.number("width_mm", old.width_mm if old else None)
    _check_light_code(entry, length, width)
    dice = entry.number("dice", old.dice if old else 1)
    if dice != int(dice):
        raise entry.trouble("dice", f"this should be a whole number, not {dice:g}")
    return LightPart(
        name=entry.name,
        length_mm=length,
        width_mm=width,
        height_mm=entry.number("height_mm", old.height_mm if old else None),
        dice=int(dice),
        rated_ma=entry.number("rated_ma", old.rated_ma if old else _USUAL_MA),
        emitting_mm=entry.number(
            "emitting_mm", old.emitting_mm if old else _SHINING * math.sqrt(length * width)
        ),
    )


def _check_light_code(entry: Entry, length: float, width: float) -> None:
    sizes = light_sizes(entry.name)
    got = (max(length, width), min(length, width))
    if sizes and not any(max(abs(a - b) for a, b in zip(got, size)) <= _CODE_SLACK_MM for size in sizes):
        said = " or ".join(f"{a:g} x {b:g} mm" for a, b in sizes)
        raise entry.trouble(
            "length_mm, width_mm",
            f"the code {entry.name} means {said}, not {got[0]:g} x {got[1]:g} mm; mend it or use another name",
        )


def _colour(entry: Entry, old: Colour | None) -> Colour:
    start = old.diode if old else Diode()
    ideality = entry.number("ideality", start.ideality)
    series = entry.number("series_ohm", start.series_ohm)
    if "forward_v" in entry.fields:
        if "saturation_a" in entry.fields:
            raise entry.trouble("forward_v", "give either this or saturation_a, not both")
        diode = diode_through(
            entry.number("forward_v", None), entry.number("forward_ma", _USUAL_MA), ideality, series
        )
        if diode is None:
            raise entry.trouble(
                "forward_v", "no such light has these volts at that current; check forward_v and forward_ma"
            )
    elif "forward_ma" in entry.fields:
        raise entry.trouble("forward_ma", "this says at what current forward_v is; forward_v is missing")
    else:
        diode = Diode(entry.number("saturation_a", start.saturation_a), ideality, series)
    plain = old or Colour(entry.name)
    x, y = entry.number("x", plain.x), entry.number("y", plain.y)
    if x + y > 1 + 1e-9:  # x + y + z = 1, and no light has a z below 0
        raise entry.trouble("x, y", f"together they may be 1 at most, not {x:g} + {y:g}; check both")
    return Colour(
        entry.name,
        diode,
        candela_per_a=entry.number("candela_per_a", plain.candela_per_a),
        x=x,
        y=y,
        spread_v=entry.number("spread_v", plain.spread_v),
    )


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
    code = cell_size(entry.name)
    plain = old or CellPart(entry.name, *_CR2032_MM)
    diameter = entry.number("diameter_mm", old.diameter_mm if old else code[0] if code else None)
    height = entry.number("height_mm", old.height_mm if old else code[1] if code else None)
    for field, got, said in zip(("diameter_mm", "height_mm"), (diameter, height), code or ()):
        if abs(got - said) > _CODE_SLACK_MM:
            raise entry.trouble(
                field, f"the code {entry.name} means {said:g} mm, not {got:g} mm; mend it or use another name"
            )
    # A new cell of which only the size is known: resistance goes with one over the face's area.
    area = (diameter / plain.diameter_mm) ** 2
    low, high = entry.span("capacity_mah", (plain.capacity_low_mah, plain.capacity_high_mah) if old else None)
    steady, pulse = _currents(entry, plain)
    fresh, half, spent = _growing_ohms(entry, plain, area)
    return CellPart(
        name=entry.name,
        diameter_mm=diameter,
        height_mm=height,
        negative_face_mm=entry.number(
            "negative_face_mm", plain.negative_face_mm * diameter / plain.diameter_mm
        ),
        capacity_low_mah=low,
        capacity_high_mah=high,
        steady_ma=steady,
        pulse_ma=pulse,
        fresh_ohm=fresh,
        half_ohm=half,
        spent_ohm=spent,
        slow_ohm=entry.number("slow_ohm", plain.slow_ohm / area),
    )


def _currents(entry: Entry, plain: CellPart) -> tuple[float, float]:
    steady, pulse = entry.number("steady_ma", plain.steady_ma), entry.number("pulse_ma", plain.pulse_ma)
    if pulse < steady:
        raise entry.trouble(
            "pulse_ma, steady_ma",
            f"a cell gives more in pulses than for long, not {pulse:g} and {steady:g} mA; check both",
        )
    return steady, pulse


def _growing_ohms(entry: Entry, plain: CellPart, area: float) -> tuple[float, float, float]:
    fresh = entry.number("fresh_ohm", plain.fresh_ohm / area)
    half = entry.number("half_ohm", plain.half_ohm / area)
    spent = entry.number("spent_ohm", plain.spent_ohm / area)
    if not fresh <= half <= spent:
        raise entry.trouble(
            "fresh_ohm, half_ohm, spent_ohm",
            f"a cell's resistance only grows as it empties, not {fresh:g}, {half:g}, {spent:g} ohm; check all three",
        )
    return fresh, half, spent


def _tape(entry: Entry, old: TapePart | None) -> TapePart:
    foil = entry.number("foil_mm", old.foil_mm if old else _USUAL_FOIL_MM)
    thickness = entry.number("thickness_mm", old.thickness_mm if old else _USUAL_TAPE_MM)
    if foil > thickness:
        raise entry.trouble(
            "foil_mm, thickness_mm",
            f"the copper alone can't be thicker than the whole tape, not {foil:g} and {thickness:g} mm; check both",
        )
    return TapePart(
        entry.name,
        width_mm=entry.number("width_mm", old.width_mm if old else None),
        foil_mm=foil,
        thickness_mm=thickness,
    )


def _foam(entry: Entry, old: FoamPart | None) -> FoamPart:
    return FoamPart(entry.name, entry.number("thickness_mm", old.thickness_mm if old else None))


def _card(entry: Entry, old: CardPart | None) -> CardPart:
    return CardPart(
        entry.name,
        width_mm=entry.number("width_mm", old.width_mm if old else None),
        height_mm=entry.number("height_mm", old.height_mm if old else None),
        stock_mm=entry.number("stock_mm", old.stock_mm if old else USUAL_STOCK_MM),
        envelope=entry.text("envelope", old.envelope if old else ""),
    )
