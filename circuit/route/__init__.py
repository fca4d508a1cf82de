"""The router: from a layout to two traces.

In:    a `Layout`, the maker's `Settings`, and how long to look (`effort`, 1 is the everyday search).
Out:   a `Routed`; the same input always gives the same answer.
Fails: never for want of a lane (that is data: `Routed.blocked`); ValueError for an effort below 1.
"""

from circuit.route.lay import lay_traces
from circuit.route.routed import Blocked, Routed

__all__ = ["Blocked", "Routed", "lay_traces"]
