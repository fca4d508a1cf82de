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
from circuit.switch import Switch
from circuit.tape_list import LightPlace, TapeList, light_places, tape_list
from vision.drawing.shapes import tidy
from vision.drawing.subject import Subject, subject_of


@dataclass(frozen=True, slots=True)
class Build:
    """One plan ready to be drawn. Without traces there is no switch, no tape and no light's side.

    foam : the layers under the flap and round the card. colours : label -> colour, where the plan tells.
    """

    subject: Subject
    name: str
    tapes: TapeList | None
    places: tuple[LightPlace, ...]
    foam: tuple[FoamPart, ...]
    colours: Mapping[str, str]

    @property
    def plan(self) -> Plan:
        return self.subject.plan

    @property
    def settings(self) -> Settings:
        return self.subject.settings

    @property
    def switch(self) -> Switch | None:
        return self.subject.switch

    @property
    def sides_deg(self) -> Mapping[str, float]:
        return self.plan.sides_deg


def build_of(plan: Plan, settings: Settings, name: str = "") -> Build:
    """Work out what the pages show; `name` is the card's, the photo's name where it is left out.

    Raises LayoutFileError for a trace of no length.
    """
    if not name and plan.reading is not None:
        name = PurePath(plan.reading.photo).stem
    # A maker's own pencilled lines are no tape: on a page to build from they would be taken for some.
    layout = replace(plan.layout, drawn_lines=())
    plan = replace(plan, layout=layout, traces=_without_repeats(plan.traces))
    traces = plan.traces
    foam = _foam_of(plan, settings)
    if traces is None:
        plan = replace(plan, sides_deg={})
        return Build(subject_of(plan, settings), name, None, (), foam, _colours_of(plan))
    plan = replace(plan, sides_deg=positive_sides_deg(layout, traces, settings))
    subject = subject_of(plan, settings)
    tapes = tape_list(traces, subject.switch, settings)
    return Build(
        subject=subject,
        name=name,
        tapes=tapes,
        places=light_places(layout.lights, traces, tapes),
        foam=foam,
        colours=_colours_of(plan),
    )


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


def _foam_of(plan: Plan, settings: Settings) -> tuple[FoamPart, ...]:
    """The layers that the plan was made with; those that would do where it names none."""
    return plan.stack.foam if plan.stack is not None and plan.stack.foam else stack_of(settings).heights.foam


def _colours_of(plan: Plan) -> dict[str, str]:
    """Label -> colour, as the plan's electrics have them; lights without an entry are as the settings say."""
    return {light.label: light.colour for light in plan.electrics.fresh.lights} if plan.electrics else {}
