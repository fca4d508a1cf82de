"""Parts files that nobody would write: every kind and field of the program's own, with values from nowhere."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Callable
from pathlib import Path

OWN = (Path(__file__).parents[2] / "circuit" / "parts.toml").read_bytes()
_NUMBERS = (
    "-1 0 -0.0 nan inf -inf 1e308 1e-308 1e-320 1e999 0x10 1_000 0.001 0.01 0.3 1 2 5 20 29.9 59 499 1000"
)
_NO_NUMBERS = (
    'true "3" "" [] [1,2] {} {value=1} {value=nan} {value=-2} {value={value=1}} {low=1,high=0} {low=-1,high=5} {low=1} '
    '{low=1,high=inf} {value=1,source=3} 1979-05-27T07:32:00Z "\\u0000" "\\uFFFF"'
)
_VALUES = (*_NUMBERS.split(), *_NO_NUMBERS.split(), "5" * 4000)
_STRANGE_NAMES = ("mine", "\\u001b[31m", "x" * 400, "", "\\u202e")
_WHOLE = (b"a=" + b"[" * 5000 + b"]" * 5000, b"lights = 3", b"[lights]\n[lights]", b"\xff\xfe", b"")


def strange_parts(chance: random.Random, spoilt: Callable[[bytes, random.Random], bytes]) -> bytes:
    """One file: the program's own spoilt, nonsense, or a few parts with some of their fields."""
    match chance.randrange(10):
        case 0 | 1:
            return spoilt(OWN, chance)
        case 2:
            return chance.choice(_WHOLE)
    own = tomllib.loads(OWN.decode())
    lines = []
    for _ in range(chance.choice((1, 1, 2, 4))):
        kind = chance.choice([key for key, value in own.items() if isinstance(value, dict)])
        known = own[kind]
        name = chance.choice([*known] * 2 + [*_STRANGE_NAMES])
        fields = sorted({field for part in known.values() if isinstance(part, dict) for field in part})
        lines.append(f'[{kind}."{name}"]')
        some = chance.sample(fields, min(len(fields), chance.choice((1, 1, 2))))
        lines += [f"{field} = {_value(known.get(name, {}).get(field), chance)}" for field in some]
    return "\n".join(lines).encode()


def _value(own: object, chance: random.Random) -> str:
    """Often near the program's own, so that it is taken and planned with."""
    number = own.get("value") if isinstance(own, dict) else own
    if isinstance(number, int | float) and chance.random() < 0.7:
        near = f"{number * chance.choice((0.5, 0.9, 1.0, 1.1, 2.0)):.6g}"
        return near if number is own else f'{{value = {near}, source = "measured"}}'
    return chance.choice(_VALUES)


def options_for(parts: bytes, chance: random.Random) -> list[str]:
    """What asks `plan` for the parts in such a file."""
    given = tomllib.loads(parts.decode("utf-8-sig"))
    options = (("--light", "lights"), ("--colour", "colours"), ("--cell", "cells"), ("--tape", "tapes"))
    return [
        word
        for option, kind in options
        if given.get(kind)
        for word in (option, chance.choice(list(given[kind])))
    ]
