"""What a picture or page shows: one plan with its parts and its switch."""

from __future__ import annotations

from dataclasses import dataclass

from circuit.flap import Flap, flap_of
from circuit.orientation import hinge_deg
from circuit.plan import Plan
from circuit.settings import Settings


@dataclass(frozen=True, slots=True)
class Subject:
    """`flap` is None without a battery or traces. A light of which the plan tells no positive side is drawn without
    signs."""

    plan: Plan
    settings: Settings
    flap: Flap | None

    def side_deg(self, label: str) -> float | None:
        """Direction from a light's centre to its positive pads, 0 = +x, 90 = down; None where it is not known."""
        return self.plan.sides_deg.get(label)


def subject_of(plan: Plan, settings: Settings) -> Subject:
    """Work out the switch."""
    flap = None
    if plan.layout.battery is not None and plan.traces is not None:
        hinge = hinge_deg(plan.layout, plan.traces)
        if hinge is not None:
            flap = flap_of(plan.layout.battery, plan.traces, hinge, settings, plan.layout.lights)
    return Subject(plan, settings, flap)
