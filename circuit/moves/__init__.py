"""What mends a layout: the smallest moves, lights to leave out, other parts, a place for the battery.

In:    a layout, the maker's settings, what the router made of it, and the router itself.
Out:   an `Advice`; every part of it has been routed and checked before it is given.
Fails: `UsageError` for a limit that no rule has; advice that could not be found is empty.
"""

from circuit.moves.advice import Advice, suggest_moves
from circuit.moves.battery_place import find_battery_place

__all__ = ["Advice", "find_battery_place", "suggest_moves"]
