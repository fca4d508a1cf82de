"""A light stays dark: which single fault, or which two, would look like this, where, and what to try first."""

from circuit.faults.possible import Fault
from circuit.faults.rank import FaultRanking, RankedFault, after_trial, rank_faults
from circuit.faults.trials import Trial
from circuit.faults.words import (
    answer_words,
    by_design_words,
    cautions,
    fault_words,
    seen_words,
    share_words,
    told,
    trial_words,
    unexplained_words,
)

__all__ = [
    "Fault",
    "FaultRanking",
    "RankedFault",
    "Trial",
    "after_trial",
    "answer_words",
    "by_design_words",
    "cautions",
    "fault_words",
    "rank_faults",
    "seen_words",
    "share_words",
    "told",
    "trial_words",
    "unexplained_words",
]
