"""Side branches: a way to light a card that no single lane passes, for makers who would rather make a joint than move.

In:    a layout without a lane, the maker's settings, functions that lay a lane.
Out:   a `Branched`, or None where nothing clean was found.
Fails: `UsageError` for a limit that no rule has.

How a joint is made, and why so: `circuit.joint`. How branches are looked for: `circuit.branches.search`.
"""

from circuit.branches.search import Branched, can_branch, lay_branches

__all__ = ["Branched", "can_branch", "lay_branches"]
