"""What a picture or page shows: one plan with its parts and its switch."""

from __future__ import annotations

from dataclasses import dataclass

from circuit.joint import Joint, joints_of
from circuit.layout import Polyline
from circuit.plan import Plan
from circuit.settings import Settings
from circuit.switch import Switch, on_card, switch_on


@dataclass(frozen=True, slots=True)
class Subject:
    """`switch` is None without a battery or traces. A light of which the plan tells no positive side is drawn without
    signs."""

    plan: Plan
    settings: Settings
    switch: Switch | None

    @property
    def lines_on_card(self) -> tuple[Polyline, Polyline]:
        """Positive and negative tape as they lie on the card itself: what of the positive lies on the flap is in the
        switch. Both empty without traces."""
        if self.plan.traces is None:
            return (), ()
        return on_card(self.switch, self.plan.traces.positive), self.plan.traces.negative

    @property
    def tapes_on_card(self) -> tuple[tuple[Polyline, bool], ...]:
        """Every tape on the card in the order of laying, and whether it is a positive one: the lane's two, then each
        branch's, which lie over them."""
        if self.plan.traces is None:
            return ()
        plus, minus = self.lines_on_card
        branches = [((one.negative, False), (one.positive, True)) for one in self.plan.branches]
        return ((minus, False), (plus, True), *(tape for pair in branches for tape in pair))

    @property
    def joints(self) -> tuple[Joint, ...]:
        """Of each branch."""
        return () if self.plan.traces is None else joints_of(self.plan.traces)

    def side_deg(self, label: str) -> float | None:
        """Direction from a light's centre to its positive pads, 0 = +x, 90 = down; None where it is not known."""
        return self.plan.sides_deg.get(label)


def subject_of(plan: Plan, settings: Settings) -> Subject:
    """Work out the switch."""
    rise_mm = plan.stack.foam_mm if plan.stack is not None and plan.stack.foam else None
    return Subject(plan, settings, switch_on(plan.layout, plan.traces, settings, rise_mm))
