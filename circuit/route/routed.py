"""What the router hands back."""

from __future__ import annotations

from dataclasses import dataclass

from circuit.layout import Traces


@dataclass(frozen=True, slots=True)
class Blocked:
    """Lights that keep a lane from being laid.

    `labels` are lights' labels ("battery" where it is concerned), none where it is not known who blocks; `reason` is
    one plain sentence or more, `proven` is True only where it is shown that no lane can exist, of the kind that the
    reason tells; False means that the search found none. `of_parts` : no light is the trouble, but the parts are.
    """

    labels: tuple[str, ...]
    reason: str
    proven: bool
    of_parts: bool = False


@dataclass(frozen=True, slots=True)
class Routed:
    """Two traces, or an honest account of why there are none.

    `traces` is None when no lane was found; `order` (labels in lane order, battery first passed
    light first) is then empty and both lengths are 0. `folds` counts the folds of one trace (both
    have the same). `lower_bound_mm` is a length no path from the battery circle through all
    lights can beat (`bound_is_exact`: it is the shortest such path itself), and is given even when there is no
    lane; `midline_mm` is the lane's own length, measured the same way but from the traces' ends
    inside the circle to their ends past the last light. `proven_best`: the lane came from the cheapest one of all
    plain links between the headings first looked at, with its headings then made finer. `blocked`: why there is no
    lane; beside one, why there is none that leaves room for the push switch.
    `dead_ends`: where no lane was found, labels of lights from which no way on was found, if there are two or more.
    """

    traces: Traces | None
    order: tuple[str, ...]
    positive_mm: float
    negative_mm: float
    midline_mm: float
    folds: int
    lower_bound_mm: float
    bound_is_exact: bool
    blocked: tuple[Blocked, ...] = ()
    proven_best: bool = False
    dead_ends: tuple[str, ...] = ()

    @property
    def switch_overlooked(self) -> bool:
        """Was no lane found that leaves room for the switch, so that this one, a light or the edge is in its way?"""
        return self.traces is not None and bool(self.blocked)
