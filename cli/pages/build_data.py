"""All that the pages of one plan need, worked out once: which way round, switch, tape, supplies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import PurePath

from circuit.errors import LayoutFileError
from circuit.layout import Traces
from circuit.orientation import positive_sides_deg
from circuit.part_kinds import FoamPart
from circuit.plan import Plan
from circuit.settings import Settings
from circuit.stack import stack_of
from circuit.tape_list import LightPlace, TapeList, light_places, tape_list
from cli.output_names import PLAN_NAME
from vision.drawing.shapes import tidy
from vision.drawing.subject import Subject, subject_of


@dataclass(frozen=True, slots=True)
class Build(Subject):
    """One plan ready to be drawn. Without traces there is no switch, no tape and no light's side.

    foam : the layers under the flap and round the card that the plan was made with; those that would do where it
    names none. colours : label -> colour, as the plan's electrics have them; others are as the settings say.
    """

    name: str
    tapes: TapeList | None
    places: tuple[LightPlace, ...]
    foam: tuple[FoamPart, ...]
    colours: Mapping[str, str]


def build_of(plan: Plan, settings: Settings, name: str = "") -> Build:
    """Work out what the pages show; `name` is the card's, that of the photo or layout file where it is left out.

    Raises LayoutFileError for a trace of no length.
    """
    name = name or _name_of(plan)
    # A maker's own pencilled lines are no tape: on a page to build from they would be taken for some.
    layout, traces = replace(plan.layout, drawn_lines=()), _without_repeats(plan.traces)
    sides_deg = {} if traces is None else positive_sides_deg(layout, traces, settings)
    plan = replace(plan, layout=layout, traces=traces, sides_deg=sides_deg)
    switch = subject_of(plan, settings).switch
    tapes = None if traces is None else tape_list(traces, switch, settings)
    stack, lit = plan.stack, plan.electrics
    return Build(
        plan,
        settings,
        switch,
        name=name,
        tapes=tapes,
        places=() if traces is None or tapes is None else light_places(layout.lights, traces, tapes),
        foam=stack.foam if stack is not None and stack.foam else stack_of(settings).heights.foam,
        colours={light.label: light.colour for light in lit.fresh.lights} if lit else {},
    )


def _name_of(plan: Plan) -> str:
    """What the card is called after the file that it was planned from: pages of several are told apart by it."""
    if plan.reading is not None:
        return PurePath(plan.reading.photo).stem
    if plan.source is None or plan.source.name == PLAN_NAME:
        return ""
    return PurePath(plan.source.name).stem


def _without_repeats(traces: Traces | None) -> Traces | None:
    """The traces without points that repeat the one before, which have no direction."""
    if traces is None:
        return None
    positive, negative = tidy(traces.positive), tidy(traces.negative)
    for sign, line in (("positive", positive), ("negative", negative)):
        if len(line) < 2:
            raise LayoutFileError(
                f"This file can't be used: all points of its {sign} trace are at one place. Plan the card again."
            )
    return replace(traces, positive=positive, negative=negative)
