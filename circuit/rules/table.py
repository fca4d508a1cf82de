"""The rules, in the order in which problems are told, each with its limits; what is said of them: `words.toml`.

Every default limit below: chosen with makers of such cards, common practice, no source, unless a line says otherwise.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from circuit.gap import LEAST_GAP_MM, OFF_MIDLINE_MM, OVERLAP_MM, least_overlap_mm, most_stray_mm
from circuit.polyline import SHARPEST_FOLD_DEG
from circuit.rules.kinds import Limit, Rule, RuleWords
from circuit.settings import ROUND_CELL_MM
from circuit.switch import (
    LEAST_PAST_MIDDLE_MM,
    MOST_BESIDE_MIDDLE_MM,
    MOST_PAST_MIDDLE_MM,
    beside_limit_mm,
    shape_of,
)

_WORDS = tomllib.loads(Path(__file__).with_name("words.toml").read_text(encoding="utf-8"))


def _rule(name: str, *limits: Limit, needs_traces: bool = False) -> Rule:
    words = {case: RuleWords(**said) for case, said in _WORDS[name].items()}
    return Rule(name, limits, words, needs_traces)


RULES: tuple[Rule, ...] = (
    _rule(
        "light-not-bridged",
        Limit("light-not-bridged.off-midline", OFF_MIDLINE_MM, at_least=False, for_part=most_stray_mm),
        Limit("light-not-bridged.overlap", OVERLAP_MM, for_part=least_overlap_mm),
        Limit("light-not-bridged.gap", LEAST_GAP_MM),
        # Straight beside the whole body: its size along the lane.
        Limit("light-not-bridged.straight", 5.0, for_part=lambda settings: settings.light.width_mm),
        # Over a 5 mm body this changes the gap by 0.4 mm; gap and overlap are measured at both ends as well.
        Limit("light-not-bridged.lean-deg", 5.0, at_least=False, unit="deg"),
        needs_traces=True,
    ),
    _rule("traces-too-close", Limit("traces-too-close", 1.5), needs_traces=True),
    _rule(
        "trace-overlaps-itself",
        Limit("trace-overlaps-itself", 1.0),
        Limit("trace-overlaps-itself.along-widths", 3.0, unit="tape widths"),
        needs_traces=True,
    ),
    _rule("trace-near-edge", Limit("trace-near-edge", 3.0), needs_traces=True),
    _rule(
        "battery-zone",
        Limit("battery-zone.round-cell", ROUND_CELL_MM),
        Limit("battery-zone.least-past-middle", LEAST_PAST_MIDDLE_MM),
        Limit("battery-zone.most-past-middle", MOST_PAST_MIDDLE_MM, at_least=False),
        Limit("battery-zone.beside-middle", MOST_BESIDE_MIDDLE_MM, at_least=False, for_part=beside_limit_mm),
        Limit("battery-zone.straight", 25.5, for_part=lambda settings: shape_of(settings).reach_mm),
        Limit("battery-zone.lean-deg", 2.0, at_least=False, unit="deg"),
        needs_traces=True,
    ),
    _rule("switch-off-card", Limit("switch-off-card", 1.0)),
    _rule("switch-covers", Limit("switch-covers", 0.0)),
    _rule("fold-near-light", Limit("fold-near-light", 1.5), needs_traces=True),
    _rule(
        "folds-too-close",
        Limit("folds-too-close", 4.0),
        Limit("folds-too-close.turn-deg", SHARPEST_FOLD_DEG, at_least=False, unit="deg"),
        needs_traces=True,
    ),
    _rule("tape-under-light", Limit("tape-under-light", 0.0, at_least=False), needs_traces=True),
    _rule(
        "joint",
        # A whole tape width on copper, which is what a right angle gives.
        Limit("joint.overlap", 2.5, for_part=lambda settings: settings.tape_width_mm),
        Limit("joint.askew-deg", 5.0, at_least=False, unit="deg"),
        # As far as a fold keeps: the copper lies double there, and a light on it would rock.
        Limit("joint.from-light", 1.5),
        Limit("joint.from-fold", 1.0),
        Limit("joint.from-switch", 1.0),
        needs_traces=True,
    ),
    _rule("lights-too-close", Limit("lights-too-close", 7.0)),
    _rule("light-near-edge", Limit("light-near-edge", 5.0)),
    _rule("light-outside-window", Limit("light-outside-window", 0.0)),
    _rule("cell-under-window", Limit("cell-under-window", 0.0)),
    _rule(
        "cell-mismatch",
        # Common practice, no source: a pencil's point stands 0.3-1.0 mm off the cell's edge, so the circle comes
        # out 0.5-2 mm wider than the cell; half a millimetre more on both sides for a shaky hand, or for a pencil
        # that leans in under the cell's rounded rim.
        Limit("cell-mismatch.narrower", 0.5, at_least=False),
        Limit("cell-mismatch.wider", 2.5, at_least=False),
    ),
    _rule("no-lane", needs_traces=True),
)
