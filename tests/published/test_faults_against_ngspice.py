"""Cards with a fault in them against a circuit simulator, where it is installed."""

import shutil

import numpy as np
import pytest

from circuit.electrics import cell_state
from circuit.electrics.wiring import ohm_per_mm, tap_ohms
from circuit.faults.effect import BAD_OHMS, TOUCH_OHMS, effects, good_card
from circuit.faults.possible import possible_faults
from circuit.settings import Settings
from tests.benchmarks.layouts import laid_layout
from tests.published.test_circuit_against_ngspice import run_ngspice, solved_deck

pytestmark = pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed")


def card_deck(card, more_at=(), pad_ohm=None, touch=None):
    """The whole card in SPICE's own language. `more_at`: (tape, first light beyond, ohms) in the tape; `pad_ohm`:
    label -> ohms more at its pads; `touch`: (ohms along positive, along negative, ohms of the touch)."""
    circuit, state = card.circuit, cell_state(card.settings.cell)
    rails = {"p": circuit.rails.positive_ohm, "n": circuit.rails.negative_ohm}
    lines = [
        "* card",
        f"Vcell c 0 {state.emf_v!r}",
        f"Rcell c p_start {state.ohm + circuit.wiring.flap_ohm!r}",
    ]
    for number, (tape, start) in enumerate((("p", "p_start"), ("n", "0"))):
        taps = [(float(at), f"{tape}{i}") for i, at in enumerate(rails[tape])]
        if touch is not None:
            taps.append((touch[number], f"{tape}t"))
        node, walked = start, 0.0
        for at, name in sorted(taps):
            more = sum(ohm for which, first, ohm in more_at if (which, first) == (tape, name))
            lines.append(f"R{name} {node} {name} {max(at - walked, 1e-9) + more!r}")
            node, walked = name, at
    for i, part in enumerate(circuit.parts):
        diode = part.diode
        series = diode.series_ohm + 2 * circuit.wiring.joint_ohm + (pad_ohm or {}).get(card.labels[i], 0.0)
        lines.append(f"D{i} p{i} n{i} M{i}")
        lines.append(f".model M{i} D(IS={diode.saturation_a!r} N={diode.ideality!r} RS={series!r})")
    if touch is not None:
        lines.append(f"Rtouch pt nt {touch[2]!r}")
    return solved_deck(lines, len(circuit.parts))


def agrees(ours_ma, theirs_a):
    theirs_ma = 1e3 * theirs_a
    seen = theirs_ma > 1e-3  # below a microampere a light is dark, whatever the digits
    assert ours_ma[seen] == pytest.approx(theirs_ma[seen], rel=1e-3)
    assert (ours_ma[~seen] < 2e-3).all()


@pytest.mark.parametrize("seed", range(4))
def test_bad_pads_torn_tapes_and_touching_tapes(seed, tmp_path):
    rng = np.random.default_rng(seed)
    settings = Settings(corners="lapped" if seed % 2 else "folded")
    layout, traces = laid_layout(int(rng.integers(3, 12)), rng, settings)
    faults = possible_faults(layout, traces, settings)
    card = good_card(layout, traces, settings, None)
    solved = dict(zip(faults, effects(card, faults)))
    count = len(layout.lights)
    case = int(rng.integers(len(BAD_OHMS) - 1))  # the open one is a matter of digits

    pads = next(f for f in faults if f.kind == "pads" and f.light == card.labels[seed % count])
    deck = card_deck(card, pad_ohm={pads.light: BAD_OHMS[case]})
    agrees(solved[pads].current_ma[case], run_ngspice(deck, tmp_path, count))

    tapes = [f for f in faults if f.kind == "tape"]
    torn = tapes[int(rng.integers(len(tapes)))]
    first = f"{torn.trace[0]}{card.labels.index(torn.between[1])}"
    deck = card_deck(card, more_at=[(torn.trace[0], first, BAD_OHMS[case])])
    agrees(solved[torn].current_ma[case], run_ngspice(deck, tmp_path, count))

    touching = next(f for f in faults if f.kind == "touching")
    per_mm = ohm_per_mm(traces.tape_width_mm, card.circuit.wiring.foil_mm, card.circuit.wiring.copper_c)
    at = [
        tap_ohms(line, [touching.places_mm[0]], per_mm, card.circuit.wiring.fold_ohm)[0]
        for line in (traces.positive, traces.negative)
    ]
    flap = (
        card.circuit.rails.positive_ohm[0]
        - tap_ohms(traces.positive, [layout.lights[0].centre], per_mm, card.circuit.wiring.fold_ohm)[0]
    )
    strong = len(TOUCH_OHMS) - 1  # the weakest touch leaves lights that can be compared
    deck = card_deck(card, touch=(float(at[0] + flap), float(at[1]), TOUCH_OHMS[strong]))
    theirs = 1e3 * run_ngspice(deck, tmp_path, count)
    # Our touch needs 2 mV of its own, 3 % of a light's current where it is e-fold per 66 mV.
    assert solved[touching].current_ma[strong] == pytest.approx(theirs, rel=0.06, abs=1e-3)
