"""What a rule is made of: its limits, its words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from circuit.settings import Settings

LimitUnit = Literal["mm", "deg", "tape widths"]


@dataclass(frozen=True, slots=True)
class Limit:
    """One number of a rule. `key` is what a maker overrides; `at_least` False: an upper bound.

    `for_part`, where there is one, gives the default for the parts in use (small lights).
    """

    key: str
    default: float
    at_least: bool = True
    unit: LimitUnit = "mm"
    for_part: Callable[[Settings], float] | None = None


@dataclass(frozen=True, slots=True)
class RuleWords:
    """What a maker reads: `seen` says what was measured, `do` what mends it, `own` what does where the program laid the
    tape; `look` is said in place of all where the limit lies within the uncertainty for another reason than the
    reading's.

    All are templates. Every one may use {who}, {measured}, {limit}, {short} (by how much the
    limit is missed, with what is uncertain of it) and the words its measuring function adds.
    """

    seen: str
    do: str
    own: str = ""
    look: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the table; `words` maps a case of the rule to its words."""

    name: str
    limits: tuple[Limit, ...]
    words: Mapping[str, RuleWords]
    needs_traces: bool = False
