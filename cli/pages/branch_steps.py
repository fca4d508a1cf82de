"""How branches are laid, once both of the lane's tapes lie: clear tape where they cross, ends folded under, joints.

In:    a `Build`.
Out:   steps, all branches in each; none for a card without branches.
"""

from __future__ import annotations

from circuit.layout import Polarity
from circuit.lengths import format_length
from circuit.telling import listed
from cli.pages.build_data import Build
from cli.pages.build_words import branch_name, way
from cli.pages.pieces import by
from cli.pages.step import Step, follow

_SIGNS: dict[Polarity, str] = {"positive": "+", "negative": "−"}


def branch_steps(build: Build) -> list[Step]:
    """What one does for all of them before the next act."""
    if build.tapes is None or not build.tapes.branches:
        return []
    units, branches = build.settings.units, build.tapes.branches
    names = [branch_name(build, number) for number in range(1, len(branches) + 1)]
    one, corners = len(branches) == 1, build.settings.corners
    crossings = [
        f"on the lane's {'−' if branch.crossing == 'positive' else '+'} tape, where the {_SIGNS[branch.crossing]} tape"
        f"{'' if one else f' of {name}'} crosses"
        for name, branch in zip(names, branches, strict=True)
    ]
    ways = [way(branch.positive.runs[0].heading_deg) for branch in branches]
    going = ways[0] if one else listed(f"{name} {where}" for name, where in zip(names, ways, strict=True))
    tab = format_length(branches[0].positive.tab_mm, units)
    whom = "the branch" if one else "the branches"
    lists = (
        f"{follow(branches[0].negative, '−', corners)} {follow(branches[0].positive, '+', corners)}"
        if one
        else "Follow their lists."
    )
    return [
        Step(
            f"Clear tape for {whom}",
            f"{by(branches[0].clear_mm, units)} over {'the' if one else 'each'} dotted box by a joint: "
            f"{listed(crossings)}. Crossing tapes must not touch; the crossed boxes stay bare.",
        ),
        Step(
            f"Cut {listed(format_length(branch.strip_mm, units) for branch in branches)}",
            f"{'A strip' if one else 'Strips'} for {whom}, split lengthwise. Fold the first {tab} of each half under: "
            "copper shows below, too.",
        ),
        Step(
            f"Join {whom}",
            f"Copper up, square to the lane, going {going}. Each folded end goes on a crossed box, − on −, + on +: "
            "copper on copper. Conductive glue between helps.",
        ),
        Step(f"Lay {whom} on", f"{lists} Hold the joints down with clear tape, rub them hard."),
    ]
