"""A card with two branches against a circuit simulator, where it is installed: the same tapes in SPICE's language."""

import shutil

import pytest

from circuit.electrics import cell_state
from circuit.electrics.wiring import ohm_per_mm
from circuit.faults.effect import good_card
from circuit.settings import Settings
from circuit.switch import switch_of
from tests.circuit.branches.cards import LEFT, RIGHT, straight_lane
from tests.circuit.test_electrics_branches import LIGHTS
from tests.published.test_circuit_against_ngspice import run_ngspice, solved_deck

pytestmark = pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed")

AGREE = 1e-4  # k and e of the simulator move currents by up to 4e-6; the rest is its own stopping


def test_two_branches(tmp_path):
    settings = Settings()
    layout, traces = straight_lane(RIGHT, LEFT, lights=LIGHTS)
    card = good_card(layout, traces, settings, None)
    wiring, state = card.circuit.wiring, cell_state(settings.cell)
    mm = ohm_per_mm(2.5, wiring.foil_mm, wiring.copper_c)
    on_flap = switch_of(layout.battery, (0.0, -1.0), settings).beyond_trace_mm
    lines = [
        "* two branches",
        f"Vcell c 0 {state.emf_v!r}",
        f"Rcell c ps {state.ohm + wiring.flap_ohm!r}",
    ]
    # Joints: positive at y 57.5 and 45.5, negative at 62.5 and 50.5; the middles of their contacts at x 51.49 and
    # 51.51, 56.49 and 56.51.
    for side, start, before, first, second, x_right, x_left in (
        ("p", "ps", on_flap, 57.5, 45.5, 51.49, 51.51),
        ("n", "0", 0.0, 62.5, 50.5, 56.49, 56.51),
    ):
        for name, a, b, ohm in (
            ("a", start, f"{side}0", mm * (before + 114.5 - 75.0)),
            ("b", f"{side}0", f"{side}r", mm * (75.0 - first)),
            ("c", f"{side}r", f"{side}l", mm * (first - second)),
            ("d", f"{side}l", f"{side}1", mm * (second - 35.0)),
            ("e", f"{side}r", f"{side}2", wiring.branch_ohm + mm * (70.0 - x_right)),
            ("f", f"{side}2", f"{side}3", mm * 10.0),
            ("g", f"{side}l", f"{side}4", wiring.branch_ohm + mm * (x_left - 26.0)),
        ):
            lines.append(f"R{side}{name} {a} {b} {ohm!r}")
    for i, part in enumerate(card.circuit.parts):
        diode = part.diode
        series = diode.series_ohm + 2 * wiring.joint_ohm
        lines.append(f"D{i} p{i} n{i} M{i}")
        lines.append(f".model M{i} D(IS={diode.saturation_a!r} N={diode.ideality!r} RS={series!r})")
    theirs = run_ngspice(solved_deck(lines, len(LIGHTS)), tmp_path, len(LIGHTS))
    assert card.good_a == pytest.approx(theirs, rel=AGREE)
