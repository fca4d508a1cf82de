"""How each branch is joined to the lane.

In:    a `Scene` with traces.
Out:   findings for each joint.
Fails: never; nothing is measured where there is no branch.

Interpretations
- Tape on tape: of the branch's end, as long as it is wide, what lies over the lane's trace of the same polarity: its
  area over the tape's width. A hand lays a tape's end to half a millimetre, so that a joint as good as planned is
  still to be looked at again: the plan can't know whether its copper met.
- Square: the branch's first run to the run of the lane that it is laid over.
- Clear of lights and folds: from the two places where tape lies on tape and from the clear tape, to lights' bodies; and
  to all the lane's tape but the two runs that the joint lies on, which begins with a fold; and to the switch's flap
  with the clear tape that comes out from under its tab.
- That a branch keeps its distances from everything else is told by the rules for tape.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from circuit.check.bridge import light_body
from circuit.check.finding import Finding
from circuit.check.scene import Scene
from circuit.check.tape import Tape
from circuit.joint import Joint
from circuit.layout import POLARITIES
from circuit.switch import switch_on
from circuit.telling import listed

_HAND_MM = 0.5  # chosen: to which a hand lays a tape's end
# A tape may be begun this much before the far edge, so that no rounding leaves it short: chosen. [mm]
_BEYOND_EDGE_MM = 0.1
_SQUARE_DEG = 90.0


def measure_joints(scene: Scene) -> Iterator[Finding]:
    """Each branch's joint, whatever it is like."""
    if not scene.joints:
        return
    seats = [(light, bridge) for light, bridge in scene.bridges if bridge is not None]
    bodies = np.array([light_body(light, scene.settings.light, bridge.along) for light, bridge in seats])
    labels = [light.label for light, _ in seats]
    for number, joint in enumerate(scene.joints, 1):
        on_it = tuple(light.label for light, bridge in seats if bridge.lane == number)
        yield _overlap(scene, number, joint, on_it)
        yield _askew(scene, number, joint, on_it)
        yield from _to_lights(joint, on_it, labels, bodies)
        yield from _to_other_runs(scene, joint, on_it)
        yield from _to_switch(scene, joint, on_it)


def _overlap(scene: Scene, number: int, joint: Joint, on_it: tuple[str, ...]) -> Finding:
    """The lesser of its two contacts."""
    shared = []
    for polarity in POLARITIES:
        lane, branch = scene.lanes[0][polarity], scene.lanes[number][polarity]
        end = shapely.Polygon(joint.contact_mm(polarity)).buffer(_BEYOND_EDGE_MM, join_style="mitre")
        laid = shapely.intersection(shapely.union_all(branch.strips), end)
        on_lane = shapely.intersection(laid, shapely.union_all(lane.strips))
        shared.append(float(on_lane.area) / lane.width_mm)
    return Finding(
        "joint.overlap",
        "joined",
        on_it,
        joint.at_mm,
        min(shared),
        _HAND_MM,
        lengths={"joined": min(shared)},
        words={
            "on_it": listed(on_it) or "nothing",
            "sits": "sits" if len(on_it) == 1 else "sit",
            "crossing": joint.crossing,
            "crossed": joint.crossed,
        },
    )


def _askew(scene: Scene, number: int, joint: Joint, on_it: tuple[str, ...]) -> Finding:
    """How far the branch leaves from square, the worse of its two tapes."""
    off = [0.0]
    for polarity in POLARITIES:
        branch, lane = scene.lanes[number][polarity], scene.lanes[0][polarity]
        run = joint.run_of(polarity)
        if len(branch.directions) and run < len(lane.directions):
            cosine = min(abs(float(branch.directions[0] @ lane.directions[run])), 1.0)
            off.append(_SQUARE_DEG - math.degrees(math.acos(cosine)))
    return Finding("joint.askew-deg", "askew", on_it, joint.at_mm, max(off))


def _to_lights(
    joint: Joint, on_it: tuple[str, ...], labels: list[str], bodies: NDArray[Any]
) -> Iterator[Finding]:
    """The nearest light's body."""
    if len(bodies) == 0:
        return
    gaps = shapely.distance(bodies, _made_of(joint))
    nearest = int(np.argmin(gaps))
    yield Finding(
        "joint.from-light",
        "light",
        on_it,
        joint.at_mm,
        float(gaps[nearest]),
        words={"light": labels[nearest]},
    )


def _to_other_runs(scene: Scene, joint: Joint, on_it: tuple[str, ...]) -> Iterator[Finding]:
    """The nearest tape of the lane beside the two runs that the joint lies on."""
    others = np.concatenate([_without(scene.lanes[0][name], joint.run_of(name)) for name in POLARITIES])
    if len(others) == 0:
        return
    gap = float(shapely.distance(others, _made_of(joint)).min())
    yield Finding("joint.from-fold", "fold", on_it, joint.at_mm, gap)


def _to_switch(scene: Scene, joint: Joint, on_it: tuple[str, ...]) -> Iterator[Finding]:
    """The flap's outline, and the clear tape over the negative end run, on which a joint would have no contact."""
    switch = switch_on(scene.layout, scene.traces, scene.settings)
    if switch is None:
        return
    parts = shapely.union_all([shapely.Polygon(switch.outline_mm), shapely.Polygon(switch.cover_mm)])
    gap = float(shapely.distance(parts, _made_of(joint)))
    yield Finding("joint.from-switch", "switch", on_it, joint.at_mm, gap)


def _without(tape: Tape, run: int) -> NDArray[Any]:
    """All pieces but that run's strip."""
    return np.delete(tape.pieces, run) if run < len(tape.strips) else tape.pieces


def _made_of(joint: Joint) -> Any:
    """Its two contacts and its clear tape, as one shape."""
    return shapely.union_all(
        [shapely.Polygon(part) for part in (joint.positive_mm, joint.negative_mm, joint.cover_mm)]
    )
