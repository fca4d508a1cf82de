"""All that the pages of one plan need, worked out once: which way round, flap, tape, supplies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePath

from circuit.flap import Flap, flap_of
from circuit.layout import Plan
from circuit.orientation import hinge_deg, positive_sides_deg
from circuit.settings import Settings
from circuit.tape_list import LightPlace, TapeList, light_places, tape_list


@dataclass(frozen=True, slots=True)
class Build:
    """One plan ready to be drawn. Without traces there is no flap, no tape and no light's side."""

    plan: Plan
    settings: Settings
    name: str
    flap: Flap | None
    tapes: TapeList | None
    places: tuple[LightPlace, ...]
    sides_deg: Mapping[str, float]


def build_of(plan: Plan, settings: Settings, name: str = "") -> Build:
    """Work out what the pages show; `name` is the card's, the photo's name where it is left out."""
    if not name and plan.reading is not None:
        name = PurePath(plan.reading.photo).stem
    layout, traces = plan.layout, plan.traces
    if traces is None:
        return Build(plan, settings, name, None, None, (), {})
    flap = None
    hinge = hinge_deg(layout, traces)
    if layout.battery is not None and hinge is not None:
        flap = flap_of(layout.battery, traces, hinge, settings, layout.lights)
    tapes = tape_list(traces, flap, settings)
    return Build(
        plan=plan,
        settings=settings,
        name=name,
        flap=flap,
        tapes=tapes,
        places=light_places(layout.lights, traces, tapes),
        sides_deg=positive_sides_deg(layout, traces, settings),
    )
