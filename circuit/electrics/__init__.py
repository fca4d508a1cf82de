"""The circuit solved: who gets how much current, how bright, for how long, and what follows from it."""

from circuit.electrics.bench import bench_of
from circuit.electrics.card import CardElectrics, LightElectrics, currents_of
from circuit.electrics.cell import FRESH, HALF_USED, CellState, cell_state
from circuit.electrics.contact import contact_loss
from circuit.electrics.lifetime import lifetime
from circuit.electrics.problems import current_note, electrics_problems
from circuit.electrics.wiring import Wiring

__all__ = [
    "FRESH",
    "HALF_USED",
    "CardElectrics",
    "CellState",
    "LightElectrics",
    "Wiring",
    "bench_of",
    "cell_state",
    "contact_loss",
    "current_note",
    "currents_of",
    "electrics_problems",
    "lifetime",
]
