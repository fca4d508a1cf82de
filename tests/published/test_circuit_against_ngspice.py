"""The solved circuit against a circuit simulator: five stored runs, and live ones where it is installed.

Source of the stored currents: ngspice 39.3, run once on these decks (`reltol=1e-9`, `gmin=1e-18`,
27 °C). It carries older values of k and e, which moves the currents by up to 4e-6.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from circuit.electrics.network import light_currents, shared_path_matrix
from circuit.part_kinds import THERMAL_VOLTAGE_V

AGREE = 1e-4
MODEL = (1e-18, 3.0, 10.0)  # saturation current [A], ideality, series resistance [ohm]
WHITE = (0.27e-9, 6.79, 5.65)
RED = (93.2e-12, 3.73, 0.042)


def solve(emf_v, source_ohm, positive_ohm, negative_ohm, models):
    """Currents [A] of lights at those tap resistances, each a (IS, N, RS) of SPICE."""
    rail = shared_path_matrix(positive_ohm) + shared_path_matrix(negative_ohm)
    rail = rail + np.diag([rs for _, _, rs in models])
    saturation = np.array([model[0] for model in models])
    slope = np.array([model[1] for model in models]) * THERMAL_VOLTAGE_V
    return light_currents(emf_v, source_ohm, rail, saturation, slope)[0]


def steps(ohm, count=5):
    return ohm * np.arange(1, count + 1)


DECKS = {
    "A: 20 milliohm a segment": (
        steps(0.02),
        steps(0.02),
        [MODEL] * 5,
        [2.825395, 2.813442, 2.804513, 2.798577, 2.795614],
        14.037543,
        2.789437,
    ),
    "B: half an ohm a segment": (
        steps(0.5),
        steps(0.5),
        [MODEL] * 5,
        [2.956311, 2.691303, 2.509475, 2.395730, 2.340989],
        12.893808,
        2.806593,
    ),
    "C: negative returned from the far end": (
        steps(0.5),
        steps(0.5)[::-1],
        [MODEL] * 5,
        [2.633595, 2.538791, 2.508018, 2.538791, 2.633595],
        12.852790,
        2.807208,
    ),
    "D: a white part's model": (
        steps(0.02),
        steps(0.02),
        [WHITE] * 5,
        [2.377177, 2.372417, 2.368855, 2.366484, 2.365300],
        11.850233,
        2.822247,
    ),
}


@pytest.mark.parametrize("name", DECKS)
def test_stored_ladders(name):
    positive, negative, models, currents_ma, total_ma, terminal_v = DECKS[name]
    got = solve(3.0, 15.0, positive, negative, models)
    assert got * 1e3 == pytest.approx(currents_ma, rel=AGREE)
    assert got.sum() * 1e3 == pytest.approx(total_ma, rel=AGREE)
    assert 3.0 - 15.0 * got.sum() == pytest.approx(terminal_v, rel=AGREE)


def test_stored_ladder_e_with_one_red_light_among_white():
    got = solve(3.0, 15.0, steps(0.02), steps(0.02), [MODEL, MODEL, RED, MODEL, MODEL]) * 1e3
    assert got[2] == pytest.approx(68.00541, rel=AGREE)
    assert 3.0 - 0.015 * got.sum() == pytest.approx(1.979912, rel=AGREE)
    # The others get 1e-7 A, where k and e of the simulator move the exponential of 1.97 V over
    # 0.0776 V by 25 times their own difference; still well inside one part in a thousand.
    assert got[[0, 1, 3, 4]] == pytest.approx([1.1648e-4, 1.1247e-4, 1.0859e-4, 1.0859e-4], rel=1e-3)


def test_no_rail_resistance_shares_equally():
    # Source: ladder A with zero rail resistance, the same runs.
    got = solve(3.0, 15.0, steps(0.0), steps(0.0), [MODEL] * 5) * 1e3
    assert got == pytest.approx(np.full(5, 2.818453), rel=AGREE)


def deck(emf_v, source_ohm, positive_ohm, negative_ohm, models):
    """The same ladder in SPICE's own language. Taps of any order along each rail."""
    lines = ["* ladder", f"Vbat bp 0 {emf_v!r}", f"Rint bp ps {source_ohm!r}"]
    for side, start, at in (("p", "ps", positive_ohm), ("n", "0", negative_ohm)):
        node, walked = start, 0.0
        for light in np.argsort(at):
            lines.append(f"R{side}{light} {node} {side}{light} {float(at[light] - walked)!r}")
            node, walked = f"{side}{light}", at[light]
    for light, (saturation, ideality, series) in enumerate(models):
        lines.append(f"D{light} p{light} n{light} M{light}")
        lines.append(f".model M{light} D(IS={saturation!r} N={ideality!r} RS={series!r})")
    return solved_deck(lines, len(models))


def solved_deck(lines, lights: int) -> str:
    """A deck of these parts that is solved once and prints the current of each light, D0 on. [A]"""
    wanted = " ".join(f"@d{light}[id]" for light in range(lights))
    return "\n".join(
        [
            *lines,
            ".options temp=27 tnom=27 reltol=1e-9 abstol=1e-15 vntol=1e-12 gmin=1e-18",
            ".control",
            "set numdgt=8",
            "op",
            f"print {wanted}",
            ".endc",
            ".end",
            "",
        ]
    )


def run_ngspice(text: str, folder: Path, count: int):
    path = folder / "ladder.cir"
    path.write_text(text, encoding="utf-8")
    done = subprocess.run(
        ["ngspice", "-b", str(path)], capture_output=True, text=True, check=False, timeout=60, cwd=folder
    )
    found = dict(re.findall(r"^@d(\d+)\[id\]\s*=\s*(\S+)", done.stdout, flags=re.MULTILINE))
    assert len(found) == count, done.stdout + done.stderr
    return np.array([float(found[str(light)]) for light in range(count)])


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed")
@pytest.mark.parametrize("seed", range(8))
def test_live_runs_of_random_ladders(seed, tmp_path):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 21))
    # Cells, joints and lights over the whole range that a card could have, colours mixed.
    emf_v, source_ohm = float(rng.uniform(2.2, 3.3)), float(rng.uniform(5, 120))
    positive, negative = (np.cumsum(10 ** rng.uniform(-3, 0.5, count)) for _ in range(2))
    negative = negative[rng.permutation(count)] if seed % 2 else negative
    kinds = [MODEL, WHITE, (1e-22, 1.5, 6.0), (6.12e-16, 3.507, 8.0)]
    models = [kinds[i] for i in rng.integers(0, len(kinds) if seed % 3 else 1, count)]
    ours = solve(emf_v, source_ohm, positive, negative, models)
    theirs = run_ngspice(deck(emf_v, source_ohm, positive, negative, models), tmp_path, count)
    seen = theirs > 1e-6  # below a microampere a light is dark, and their k and e tell (ladder E)
    assert ours[seen] == pytest.approx(theirs[seen], rel=AGREE)
    assert ours[~seen] == pytest.approx(theirs[~seen], rel=2e-3, abs=1e-15)


def test_node_equations_solved_by_a_general_library():
    """All nodes of both rails, lights inside, by SciPy's root finder: a way with nothing in common."""
    from scipy.optimize import root

    rng = np.random.default_rng(5)
    count, emf_v, source_ohm = 6, 3.0, 18.0
    step_p, step_n = rng.uniform(0.05, 1.5, count), rng.uniform(0.05, 1.5, count)
    models = [MODEL, WHITE, MODEL, WHITE, WHITE, MODEL]
    saturation, ideality, series = (np.array(column) for column in zip(*models))

    def currents_into_nodes(volts):
        p, n, d = volts[:count], volts[count : 2 * count], volts[2 * count :]
        light = saturation * np.expm1(d / (ideality * THERMAL_VOLTAGE_V))
        into_p = (np.concatenate([[emf_v], p[:-1]]) - p) / np.concatenate(
            [[source_ohm + step_p[0]], step_p[1:]]
        )
        out_n = (n - np.concatenate([[0.0], n[:-1]])) / step_n
        return np.concatenate(
            [
                into_p - np.append(into_p[1:], 0.0) - light,
                out_n - np.append(out_n[1:], 0.0) - light,
                (p - n - d) / series - light,
            ]
        )

    start = np.concatenate([np.full(count, 2.8), np.full(count, 0.05), np.full(count, 2.6)])
    found = root(currents_into_nodes, start, tol=1e-14)
    assert np.abs(currents_into_nodes(found.x)).max() < 1e-12
    light = saturation * np.expm1(found.x[2 * count :] / (ideality * THERMAL_VOLTAGE_V))
    ours = solve(emf_v, source_ohm, np.cumsum(step_p), np.cumsum(step_n), models)
    assert ours == pytest.approx(light, rel=1e-7)
