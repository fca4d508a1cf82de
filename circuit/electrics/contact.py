"""How much of its light a card loses where tape, lights and cell touch badly.

In:    a card on its bench.
Out:   a `LostByContact`: shares of light that are left, (so-so, bad), and a sentence. `pad` : of the light whose own
       pads touch so, the worst light's; `flap` : of all lights, the flap's tape on the cell being so; `corner` :
       of the lights beyond one corner, the worst corner's, (1, 1) where the tapes have none; `joint` : of the lights
       on one branch, one of its two contacts with the lane being so, (1, 1) where there is no branch.
Fails: never; None for a card without lights or without traces.

One contact at a time is so-so or bad, all others good; where each kind's ohms are from is said beside them
(`circuit.electrics.wiring`). A contact through glue that does not conduct is open: no light at all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from circuit.arrays import Floats
from circuit.electrics.bench import Bench
from circuit.electrics.cell import FRESH, cell_state
from circuit.electrics.wiring import FLAP, FOLD, LAP, PAD, Contact, tapes_of
from circuit.layout import POLARITIES
from circuit.plan import LostByContact
from circuit.telling import few_of

_HALF = 0.5  # lights that keep less than this are named. Chosen


def contact_loss(bench: Bench) -> LostByContact | None:
    """One contact of each kind made so-so and made bad, on a fresh cell."""
    layout, traces, settings, circuit = bench.layout, bench.traces, bench.settings, bench.circuit
    if traces is None or not layout.lights:
        return None
    corner = LAP if settings.corners == "lapped" else FOLD
    count = len(layout.lights)
    tapes = [tape for polarity in POLARITIES for tape in tapes_of(traces, polarity, layout)]
    passed = np.unique(np.concatenate([tape.corners_passed for tape in tapes]), axis=0)
    passed = passed[passed.any(axis=1)]
    joined = np.unique(
        np.array([tape.own for tape in tapes if tape.lane], dtype=bool).reshape(-1, count), axis=0
    )
    # Each row: more ohms for all that flows, for one light, or for all lights beyond a corner.
    extra: list[Floats] = [np.zeros((count, count))]
    extra += [np.full((count, count), ohm) for ohm in _more(FLAP)]
    for ohm in _more(PAD):
        extra += [ohm * np.outer(row, row) for row in np.eye(count)]
    for ohm in _more(corner):
        extra += [ohm * np.outer(row, row) for row in passed.astype(float)]
    for ohm in _more(LAP):
        extra += [ohm * np.outer(row, row) for row in joined.astype(float)]
    solved = circuit.currents_with(np.array(extra), cell_state(settings.cell, FRESH))
    shares = solved / np.maximum(solved[0], 1e-30)
    flap = (float(shares[1].min()), float(shares[2].min()))
    pads = shares[3 : 3 + 2 * count].reshape(2, count, count).min(axis=(1, 2))
    at_joints = 3 + 2 * (count + len(passed))
    corners = shares[3 + 2 * count : at_joints].reshape(2, len(passed), count)
    joints = shares[at_joints:].reshape(2, -1).min(axis=1, initial=1.0)
    worst = corners.min(axis=2, initial=1.0).min(axis=1, initial=1.0)
    at = int(corners[1].min(axis=1, initial=1.0).argmin()) if len(passed) else None
    labels = [mark.label for mark in layout.lights]
    dimmed = [] if at is None else [label for label, share in zip(labels, corners[1, at]) if share < _HALF]
    pad, corner_share = (float(pads[0]), float(pads[1])), (float(worst[0]), float(worst[1]))
    joint = (float(joints[0]), float(joints[1]))
    return LostByContact(
        pad,
        flap,
        corner_share,
        tuple(dimmed),
        _sentence(pad, flap, corner_share, joint, dimmed, settings.corners == "lapped"),
        joint,
    )


def _more(contact: Contact) -> tuple[float, float]:
    return contact.so_so_ohm - contact.good_ohm, contact.bad_ohm - contact.good_ohm


def _sentence(
    pad: tuple[float, float],
    flap: tuple[float, float],
    corner: tuple[float, float],
    joint: tuple[float, float],
    dimmed: Sequence[str],
    lapped: bool,
) -> str:
    words = (
        f"Contact counts: a light whose pads touch badly keeps {_per_cent(*pad)} of its light, "
        f"and a flap pressed badly on the cell leaves the whole card {_per_cent(*flap)}"
    )
    if corner[1] < 1:
        kind = "badly made lap" if lapped else "torn fold"
        whom = few_of(dimmed) if dimmed else "the lights beyond it"
        words += f"; one {kind} can leave {whom} as little as {100 * corner[1]:.0f} %"
    if joint[1] < 1:
        words += f"; a badly made joint leaves its branch {_per_cent(*joint)}"
    return f"{words}. Where glue that doesn't conduct lies between, nothing lights."


def _per_cent(so_so: float, bad: float) -> str:
    return f"{100 * bad:.0f} to {100 * so_so:.0f} %"
