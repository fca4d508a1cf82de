"""The circuit solved: who gets how much current, how bright, for how long, and what follows from it."""

from circuit.electrics.card import CardElectrics, LightElectrics, electrics_to_dict, solve_card
from circuit.electrics.cell import FRESH, HALF_USED, CellState, cell_state
from circuit.electrics.discharge import Lifetime, lifetime, lifetime_to_dict
from circuit.electrics.problems import current_note, electrics_problems
from circuit.electrics.wiring import Wiring

__all__ = [
    "FRESH",
    "HALF_USED",
    "CardElectrics",
    "CellState",
    "Lifetime",
    "LightElectrics",
    "Wiring",
    "cell_state",
    "current_note",
    "electrics_problems",
    "electrics_to_dict",
    "lifetime",
    "lifetime_to_dict",
    "solve_card",
]
