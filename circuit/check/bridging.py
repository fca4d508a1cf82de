"""How each light sits across the two tapes, and what else lies near or under it.

In:    a `Scene` with traces.
Out:   findings: for each light its worst measure as a bridge, its nearest fold, and how near each
       tape comes that does not bridge it.
Fails: never; a light that no tape comes near is told of as missed.

Interpretations of "light's centre on the midline between the traces; both traces straight and
parallel along the body; tape under each pad row"
- A light is bridged by one straight run of the positive and one of the negative trace: the pair
  that suits it best. Its body lies along that pair's midline, length across, width along.
- Straight: both runs go on beside the whole width of the body. Parallel: they lean to each other
  by no more than a limit, and gap and overlap are measured at both ends of the body.
- Overlap: how much of the tape's width, on its own side of the midline, lies under the body.
- A fold is near a light along the tape: from the fold's point to where the body's outline, seen
  across that run, begins. Only the folds at the two ends of a bridging run are near in that sense.
  Gentle bends count, because tape eased round them is not straight before and after.
- Tape under a light: all copper but the two bridging strips (and the arms of a fold under the light,
  which light-not-bridged and fold-near-light tell of); how far it reaches in is how far it
  would have to be pushed to be clear, and where nothing overlaps, the clearance counted below 0.
- Lights are placed on laid tape where the plan says, so routed traces carry no uncertainty here;
  drawn ones carry the lines' and the light's.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from circuit.check.bridge import Bridge, light_body
from circuit.check.finding import ARM_MM, EXACT, Finding, in_quadrature, level_of, place_of, shortfall
from circuit.check.overlap import reach_into
from circuit.check.scene import Scene
from circuit.check.tape import Tape
from circuit.gap import tape_under_pads_mm
from circuit.gap_trouble import gap_trouble
from circuit.layout import POLARITIES, LightMark, Polarity
from circuit.rules import limit_of

_LEAST_LIMIT = 1e-3  # chosen: stands for a limit of 0, of which nothing can be a share [mm or deg]


def measure_bridges(scene: Scene) -> Iterator[Finding]:
    """The worst measure of each light, or one finding about all when none can reach across."""
    settings = scene.settings
    under = tape_under_pads_mm(settings)
    if scene.layout.lights and under < limit_of(settings, "light-not-bridged.overlap") - EXACT:
        yield Finding(
            "light-not-bridged.overlap",
            "unsuited",
            tuple(light.label for light in scene.layout.lights),
            scene.layout.lights[0].centre,
            under,
            words=dict(zip(("trouble", "remedy"), gap_trouble(settings) or ("", ""), strict=True)),
        )
        return
    for _, bridge in scene.bridges:
        if bridge is None:
            continue
        measured = _bridge_findings(scene, bridge)
        yield max(
            measured,
            key=lambda finding: (
                level_of(finding, settings) == "must-fix",
                level_of(finding, settings) is not None,
                _share_missed(finding, scene),
            ),
        )


def measure_folds_near_lights(scene: Scene) -> Iterator[Finding]:
    """Each light to the nearest of its bridging runs' own folds."""
    half = scene.settings.light.width_mm / 2
    for light, bridge in scene.bridges:
        if bridge is None:
            continue
        found: list[Finding] = []
        for polarity, run in bridge.runs.items():
            if bridge.missed or bridge.straight[polarity] <= 0:
                continue  # the light is not on this run at all, which light-not-bridged tells
            tape = scene.lanes[bridge.lane][polarity]
            middle = float((np.asarray(light.centre) - tape.points[run]) @ tape.directions[run])
            ends = []
            if run > 0:
                ends.append((middle - half, tape.points[run]))
            if run < len(tape.lengths) - 1:
                ends.append((float(tape.lengths[run]) - middle - half, tape.points[run + 1]))
            found += [
                Finding(
                    "fold-near-light",
                    "close" if gap >= 0 else "under",
                    (light.label, polarity),
                    place_of(place),
                    gap,
                    _line_to_light(scene, light, polarity),
                    words={"who": light.label},
                )
                for gap, place in ends
            ]
        # Both tapes mostly fold at the same place: one problem for one light.
        yield from sorted(found, key=lambda finding: finding.measured)[:1]


def measure_tape_under_lights(scene: Scene) -> Iterator[Finding]:
    """Each light's body against all copper that does not bridge it."""
    for light, bridge in scene.bridges:
        if bridge is None:
            continue
        body = light_body(light, scene.settings.light, bridge.along)
        for polarity in POLARITIES:
            others = np.concatenate(
                [
                    np.delete(tape.pieces, _bridging_pieces(bridge, polarity, tape))
                    if number == bridge.lane
                    else tape.pieces
                    for number, tape in enumerate(lane[polarity] for lane in scene.lanes)
                ]
            )
            if len(others) == 0:
                continue
            reach, place = reach_into(body, others)
            yield Finding(
                "tape-under-light",
                "under" if reach > 0 else "beside",
                (light.label, polarity),
                place,
                reach,
                _line_to_light(scene, light, polarity),
                lengths={"beside": max(0.0, -reach)},
                words={"who": light.label},
            )


def _bridging_pieces(bridge: Bridge, polarity: Polarity, tape: Tape) -> list[int]:
    """The pieces of a tape that bridge a light, by their place in `Tape.pieces`.

    Where the tape folds under the light, that is told of as such, and the fold's other arm is no
    second trouble.
    """
    run, runs = bridge.runs[polarity], len(tape.lengths)
    if bridge.straight[polarity] >= bridge.needed - EXACT:
        return [run]
    strips = [k for k in (run - 1, run, run + 1) if 0 <= k < runs]
    corners = [runs + k for k in (run - 1, run) if 0 <= k < runs - 1]
    return strips + corners


def _bridge_findings(scene: Scene, bridge: Bridge) -> list[Finding]:
    light = bridge.light
    lines = {polarity: scene.line_uncertainty_mm(polarity) for polarity in POLARITIES}
    both = in_quadrature(*lines.values())
    mark = scene.light_uncertainty_mm(light)

    def finding(of: str, case: str, measured: float, bound: float, tape: str = "") -> Finding:
        words = {"tape": tape} if tape else {}
        return Finding(
            f"light-not-bridged.{of}", case, (light.label,), light.centre, measured, bound, words=words
        )

    off_mm, aside = bridge.off_midline, in_quadrature(both / 2, mark)
    if bridge.missed:
        return [finding("off-midline", "missed", off_mm, aside)]
    lean_sure_deg = math.degrees(math.atan2(both, ARM_MM))
    findings = [
        finding("off-midline", "off-midline", off_mm, aside),
        finding("lean-deg", "lean", bridge.lean_deg, lean_sure_deg),
        finding("gap", "gap" if bridge.gap >= 0 else "no-gap", bridge.gap, both),
    ]
    for polarity, line in lines.items():
        sure = in_quadrature(line, mark)
        straight, overlap = bridge.straight[polarity], bridge.overlap[polarity]
        # Straight beyond the body's end is not measured, so the bound must not make it doubtful.
        doubt = sure if straight < bridge.needed - sure else 0.0
        findings.append(finding("straight", "straight", straight, doubt))
        case = "overlap" if overlap > 0 else "no-overlap"
        findings.append(finding("overlap", case, overlap, sure, polarity))
    return findings


def _share_missed(finding: Finding, scene: Scene) -> float:
    """The shortfall as a share of the limit, so that unlike measures compare."""
    limit = limit_of(scene.settings, finding.limit_key)
    return shortfall(finding, scene.settings) / max(limit, _LEAST_LIMIT)


def _line_to_light(scene: Scene, light: LightMark, polarity: Polarity) -> float:
    return in_quadrature(scene.line_uncertainty_mm(polarity), scene.light_uncertainty_mm(light))
