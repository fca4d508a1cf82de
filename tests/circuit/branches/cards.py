"""Cards that no single lane passes, and what was laid on them, worked out once for all tests."""

from functools import cache, partial

from circuit.branches import lay_branches
from circuit.check import check
from circuit.layout import BatteryMark, Branch, Card, Layout, LightMark, Traces
from circuit.orientation import positive_sides_deg
from circuit.plan import Plan
from circuit.route import lay_traces
from circuit.settings import Settings
from circuit.settings_json import settings_to_dict

SETTINGS = Settings()
QUARTER_LETTER = Card(107.95, 139.7)

# Lights in corners can only be a lane's last: every corner beyond the first asks for a branch.
PLACES = {
    "two corners": [(9.0, 9.0), (99.0, 9.0), (40.0, 40.0), (68.0, 40.0)],
    "three corners": [(9.0, 9.0), (99.0, 9.0), (9.0, 130.0), (54.0, 40.0)],
    "two corners of a picture": [
        (9.0, 9.0),
        (99.0, 9.0),
        (54.0, 30.0),
        (54.0, 50.0),
        (30.0, 40.0),
        (78.0, 40.0),
    ],
}


def card_of(places, battery=(54.0, 100.0), card=QUARTER_LETTER):
    lights = tuple(LightMark(f"L{i + 1}", x, y) for i, (x, y) in enumerate(places))
    return Layout(card, lights, BatteryMark(*battery, 20.6))


@cache
def laid(name):
    """The layout and what was laid on it."""
    layout = card_of(PLACES[name])
    quick = partial(lay_traces, quick=True)
    return layout, lay_branches(layout, SETTINGS, route=lay_traces, quick_route=quick)


def straight_lane(*branches, lights=((54.0, 75.0), (54.0, 35.0), (80.0, 60.0))):
    """A lane up the card's middle, the positive tape on its left, with these branches; L3 sits on the first."""
    traces = Traces(((51.5, 114.5), (51.5, 30.0)), ((56.5, 114.5), (56.5, 30.0)), branches=tuple(branches))
    return card_of(lights, battery=(54.0, 110.0)), traces


# To the right, square to the lane, its positive tape above: that one crosses the lane's negative tape.
RIGHT = Branch(((50.24, 57.5), (85.0, 57.5)), ((55.24, 62.5), (85.0, 62.5)))


def planned(*branches, **given):
    """The lane by hand as a plan, checked and solved."""
    layout, traces = straight_lane(*branches, **given)
    return Plan(
        layout,
        traces,
        problems=check(layout, traces, SETTINGS),
        settings=settings_to_dict(SETTINGS),
        sides_deg=positive_sides_deg(layout, traces, SETTINGS),
    )


# A second branch, to the left between the lane's own two lights, its positive tape above: the negative one crosses.
LEFT = Branch(((52.76, 45.5), (20.0, 45.5)), ((57.76, 50.5), (20.0, 50.5)))
# To the right with two folds, for lists of runs.
FOLDED = Branch(
    ((50.24, 57.5), (77.5, 57.5), (77.5, 20.0)),
    ((55.24, 62.5), (82.5, 62.5), (82.5, 20.0)),
)
