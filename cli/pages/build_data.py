"""All that the pages of one plan need, worked out once: which way round, flap, tape, supplies."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePath

from circuit.flap import Flap, flap_of
from circuit.layout import Plan
from circuit.orientation import hinge_deg, positive_sides_deg
from circuit.parts import FoamPart
from circuit.settings import Settings
from circuit.stack import stack_of
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
    foam: tuple[FoamPart, ...]


def build_of(plan: Plan, settings: Settings, name: str = "") -> Build:
    """Work out what the pages show; `name` is the card's, the photo's name where it is left out."""
    if not name and plan.reading is not None:
        name = PurePath(plan.reading.photo).stem
    layout, traces = plan.layout, plan.traces
    foam = _foam_of(plan, settings)
    if traces is None:
        return Build(plan, settings, name, None, None, (), {}, foam)
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
        foam=foam,
    )


def _foam_of(plan: Plan, settings: Settings) -> tuple[FoamPart, ...]:
    """The layers that the plan was made with; those that would do where it names none."""
    kept = plan.extras.get("stack")
    layers = kept.get("foam") if isinstance(kept, Mapping) else None
    try:
        named = tuple(FoamPart(str(layer["name"]), float(layer["thickness_mm"])) for layer in layers or ())
    except (TypeError, KeyError, ValueError):  # a file that somebody else wrote
        named = ()
    usable = named and all(0 < layer.thickness_mm < math.inf for layer in named)
    return named if usable else stack_of(settings).foam
