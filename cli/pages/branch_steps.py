"""How a branch is laid, once both of the lane's tapes lie: clear tape where it crosses, ends folded under, joint.

In:    a `Build`.
Out:   steps; none for a card without branches.
"""

from __future__ import annotations

from circuit.layout import Polarity
from circuit.lengths import format_length
from circuit.tape_list import BranchTapes
from cli.pages.build_data import Build
from cli.pages.build_words import branch_name, way
from cli.pages.pieces import by
from cli.pages.step import Step, follow

_SIGNS: dict[Polarity, str] = {"positive": "+", "negative": "−"}


def branch_steps(build: Build) -> list[Step]:
    """Branch by branch, in the plan's order."""
    if build.tapes is None:
        return []
    return [
        step
        for number, branch in enumerate(build.tapes.branches, 1)
        for step in _one_branch(build, branch, branch_name(build, number))
    ]


def _one_branch(build: Build, branch: BranchTapes, name: str) -> list[Step]:
    units = build.settings.units
    crossing = _SIGNS[branch.crossing]
    crossed = "−" if crossing == "+" else "+"
    tab = format_length(branch.positive.tab_mm, units)
    heading = branch.positive.runs[0].heading_deg
    return [
        Step(
            f"Clear tape for {name}",
            f"{by(branch.clear_mm, units)}, on the lane's {crossed} tape, over the dotted box by the joint. The "
            f"branch's {crossing} tape crosses it there and must not touch it. The two crossed boxes stay bare.",
        ),
        Step(
            f"Cut {format_length(branch.strip_mm, units)} for {name}",
            f"Split it lengthwise. Fold the first {tab} of both under, so that copper shows below as well.",
        ),
        Step(
            f"Join {name}",
            f"Copper up, going {way(heading)}, square to the lane: each folded end on a crossed box, − on −, + on +, "
            f"copper on copper. The {crossing} tape runs over the clear tape. A dab of conductive glue between helps.",
        ),
        Step(
            f"Lay {name} on",
            f"{follow(branch.negative, '−')} {follow(branch.positive, '+')} Hold both joints down with clear tape and "
            "rub them hard.",
        ),
    ]
