"""A light stays dark: which single fault, or which two, would look like this, where, and what to try first.

`rank_faults` finds it, `tell` puts it into words, `after_trial` goes on once the test was made.
"""

from circuit.faults.possible import Fault
from circuit.faults.rank import FaultRanking, RankedFault, after_trial, rank_faults
from circuit.faults.telling import DarkTold, FaultTold, TrialTold, tell
from circuit.faults.trials import Trial

__all__ = [
    "DarkTold",
    "Fault",
    "FaultRanking",
    "FaultTold",
    "RankedFault",
    "Trial",
    "TrialTold",
    "after_trial",
    "rank_faults",
    "tell",
]
