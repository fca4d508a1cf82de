"""What would even the window out: more paper, more foam, one light moved, one light more. Computed, each tried.

In:    a layout, its solved circuit, the foam's height, the foams there are.
Out:   the best `GlowSuggestion` of each kind, the best first; none where the window is even enough or
       nothing tried helps.
Fails: as `glow_field`.

Every candidate keeps the marks' own rules: clear of the card's edge, of the battery's zone and of the
other lights, inside the window. The tape is not laid again for it: that is the next photo's business.
Candidates are compared on a coarse grid; what is told is worked out on the plan's own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from circuit.arrays import Floats
from circuit.electrics.card import CardElectrics
from circuit.glow.field import (
    GlowField,
    evenness,
    glow_field,
    inside_region,
    profiles_of,
    region_of,
)
from circuit.glow.window import GlowSettings, glow_settings
from circuit.layout import Layout, LightMark, Point, Polyline
from circuit.lengths import format_length
from circuit.parts import FoamPart
from circuit.plan import Glow, GlowChange
from circuit.rules import limit_of
from circuit.settings import Settings, WindowPaper
from circuit.stack import height_words

EVEN_ENOUGH = 0.6  # chosen; in lighting practice 0.6 and up is asked for where work is done
PATCHY = 0.3  # below this the darkest place is plainly seen as dark. Chosen
_TOLD = 2
MOST_FOAM_MM = 8.0  # a thicker card hardly closes and isn't a letter any more. Chosen
_WORTH_IT = 1.15  # a suggestion that gains less than this factor isn't worth the trouble. Chosen
_SEEN = 0.02  # of the average light: less is not seen. Chosen
_MOVES_MM = (3.0, 6.0, 10.0)
_TURNS = 8
_POINTS = 400  # on which candidates are compared; the figures of the plan use the finer grid
_SPOTS = 12  # darkest free places where one more light is tried


@dataclass(frozen=True, slots=True)
class GlowSuggestion:
    """One change that was tried: what, the evenness before and after, in words; `paper` the window's then, where
    that is what changes."""

    kind: str  # "more-paper", "more-foam", "move-light", "add-light"
    about: str | None
    to_mm: Point | None
    foam_mm: float
    before: float
    after: float
    sentence: str
    paper: WindowPaper | None = None


@dataclass(frozen=True, slots=True)
class _Trial:
    """A change on the coarse grid; `place` for a light moved or added, `foam_mm` the height it has, `paper` where
    the window's change."""

    even: float
    kind: str
    about: str | None
    place: Point | None
    foam_mm: float
    words: str
    paper: WindowPaper | None = None


def glow_suggestions(
    layout: Layout,
    solved: CardElectrics,
    settings: Settings,
    foam_mm: float,
    foams: Iterable[FoamPart] = (),
    glow: GlowSettings | None = None,
) -> tuple[GlowSuggestion, ...]:
    """Try each kind of change on the window; the best of each kind that is worth it, the best first.
    Empty where no window is drawn: nobody can say what should be lit."""
    if layout.window is None:
        return ()
    glow = glow or glow_settings(settings.window_paper)
    field = glow_field(layout, solved, foam_mm, glow)
    if field is None or field.evenness >= EVEN_ENOUGH:
        return ()
    x_mm, y_mm = _sample(layout)
    if not x_mm.size:  # a window narrower than the sampling
        return ()
    shares = _contributions(layout, solved, foam_mm, glow, x_mm, y_mm)
    tried = (
        _more_paper(layout, solved, settings, foam_mm, x_mm, y_mm),
        _more_foam(layout, solved, settings, foam_mm, foams, glow, x_mm, y_mm),
        _moved(layout, solved, settings, foam_mm, glow, x_mm, y_mm, shares),
        _added(layout, solved, settings, foam_mm, glow, x_mm, y_mm, shares),
    )
    found = []
    for trials in tried:
        if trials:
            best = max(trials, key=lambda trial: trial.even)
            found.append(_told(best, layout, solved, glow, field.evenness))
    worth = [one for one in found if one.after >= max(_WORTH_IT * one.before, one.before + _SEEN)]
    return tuple(sorted(worth, key=lambda one: -one.after))


def glow_lines(
    layout: Layout,
    solved: CardElectrics,
    settings: Settings,
    foam_mm: float,
    foams: Iterable[FoamPart] = (),
    glow: GlowSettings | None = None,
) -> tuple[str, ...]:
    """What there is to say of the glow: how even it is, then the best of two kinds of change, since
    foam and a light cost a maker different things. Empty where nothing is lit."""
    glow = glow or glow_settings(settings.window_paper)
    field = glow_field(layout, solved, foam_mm, glow)
    if field is None:
        return ()
    found = glow_suggestions(layout, solved, settings, foam_mm, foams, glow)
    return (glow_note(field, settings), *(one.sentence for one in found[:_TOLD]))


def glow_of(
    layout: Layout,
    solved: CardElectrics,
    settings: Settings,
    foam_mm: float,
    foams: Iterable[FoamPart] = (),
    glow: GlowSettings | None = None,
) -> Glow | None:
    """All there is to know of the glow as the plan keeps it; None where nothing is lit."""
    glow = glow or glow_settings(settings.window_paper)
    field = glow_field(layout, solved, foam_mm, glow)
    if field is None:
        return None
    return Glow(
        foam_mm=field.foam_mm,
        evenness=field.evenness,
        spot_mm=field.spot_mm,
        average_lux=field.average_lux,
        hottest_mm=field.hottest,
        darkest_mm=field.darkest,
        stated={"sheet_spread_mm": glow.spread_mm, "bounce": glow.bounce, "passes": glow.passes},
        suggestions=tuple(
            GlowChange(one.kind, one.about, one.to_mm, one.foam_mm, one.after, one.sentence)
            for one in glow_suggestions(layout, solved, settings, foam_mm, foams, glow)
        ),
    )


def glow_note(field: GlowField, settings: Settings) -> str:
    """How even the window is, in one or two sentences; also the caption of its picture."""
    foam, spot = (height_words(value, settings.units) for value in (field.foam_mm, field.spot_mm))
    if not field.has_window:
        return (
            f"Behind {foam} of foam one light makes a spot about {spot} wide. Trace the window's outline on the card "
            "to see how evenly it will glow."
        )
    papers = {"two": " and two sheets of translucent paper", "plain": ", translucent and plain paper"}
    behind = f"{foam} of foam{papers.get(settings.window_paper, '')}"
    note = (
        f"Behind {behind} the darkest place of the window gets {_per_cent(field.evenness)} of its average "
        f"light, and one light makes a spot about {spot} wide."
    )
    if field.evenness >= EVEN_ENOUGH:
        return f"{note} It will look even."
    return note if field.evenness >= PATCHY else f"{note} Each light will show as a spot of its own."


def _told(
    trial: _Trial, layout: Layout, solved: CardElectrics, glow: GlowSettings, before: float
) -> GlowSuggestion:
    """The trial done on the plan's own grid, and put into words."""
    done, lit = layout, solved
    if trial.kind == "move-light" and trial.place is not None:
        x_mm, y_mm = trial.place
        marks = tuple(
            replace(mark, x_mm=x_mm, y_mm=y_mm) if mark.label == trial.about else mark
            for mark in layout.lights
        )
        done = replace(layout, lights=marks)
    elif trial.kind == "add-light" and trial.place is not None:
        label = "+".join(mark.label for mark in layout.lights) + "+"  # no mark's own
        done = replace(layout, lights=(*layout.lights, LightMark(label, *trial.place)))
        lit = replace(solved, lights=(*solved.lights, replace(solved.lights[0], label=label)))
    then = glow if trial.paper is None else glow_settings(trial.paper)
    field = glow_field(done, lit, trial.foam_mm, then)
    after = field.evenness if field is not None else 0.0
    sentence = (
        f"{trial.words} would make the window more even: its darkest place would get {_per_cent(after)} of the "
        f"average light, now {_per_cent(before)}."
    )
    return GlowSuggestion(
        trial.kind, trial.about, trial.place, trial.foam_mm, before, after, sentence, trial.paper
    )


def _per_cent(share: float) -> str:
    return "under 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def _sample(layout: Layout) -> tuple[Floats, Floats]:
    """Points inside the window, evenly spread, (P,) each."""
    outline, margin = region_of(layout)
    low_x, high_x = (f(x for x, _ in outline) + s * margin for f, s in ((min, -1), (max, 1)))
    low_y, high_y = (f(y for _, y in outline) + s * margin for f, s in ((min, -1), (max, 1)))
    pitch = math.sqrt((high_x - low_x) * (high_y - low_y) / _POINTS) or 1.0  # 1.0: a window of no area
    xs = np.arange(low_x + pitch / 2, high_x, pitch)
    ys = np.arange(low_y + pitch / 2, high_y, pitch)
    inside = inside_region(outline, margin, xs[None, :], ys[:, None])
    rows, columns = np.nonzero(inside)
    return xs[columns], ys[rows]


def _contributions(
    layout: Layout, solved: CardElectrics, foam_mm: float, glow: GlowSettings, x_mm: Floats, y_mm: Floats
) -> Floats:
    """(N, P) lux of each light at each point."""
    profiles = profiles_of(solved, foam_mm, glow)
    rows = []
    for light in solved.lights:
        mark = layout.light(light.label)
        away = np.hypot(x_mm - mark.x_mm, y_mm - mark.y_mm)
        rows.append(profiles[light.part].lux(light.candela, away))
    return np.array(rows)


def _more_paper(
    layout: Layout, solved: CardElectrics, settings: Settings, foam_mm: float, x_mm: Floats, y_mm: Floats
) -> list[_Trial]:
    """More in the window than the one sheet that is there."""
    if settings.window_paper != "one":
        return []
    now = glow_settings(settings.window_paper)
    trials: list[_Trial] = []
    choices: tuple[tuple[WindowPaper, str], ...] = (
        ("two", "A second sheet of translucent paper"),
        ("plain", "A sheet of plain white paper behind the translucent one"),
    )
    for paper, what in choices:
        then = glow_settings(paper)
        lux = _contributions(layout, solved, foam_mm, then, x_mm, y_mm).sum(axis=0)
        words = f"{what} in the window, which lets through {100 * then.passes / now.passes:.0f} % of what one does,"
        trials.append(_Trial(evenness(lux), "more-paper", None, None, foam_mm, words, paper))
    return trials


def _more_foam(
    layout: Layout,
    solved: CardElectrics,
    settings: Settings,
    foam_mm: float,
    foams: Iterable[FoamPart],
    glow: GlowSettings,
    x_mm: Floats,
    y_mm: Floats,
) -> list[_Trial]:
    trials: list[_Trial] = []
    for foam in foams:
        higher = foam_mm + foam.thickness_mm
        if higher > MOST_FOAM_MM:
            continue
        lux = _contributions(layout, solved, higher, glow, x_mm, y_mm).sum(axis=0)
        words = (
            f"A further layer of {foam.name} ({format_length(foam.thickness_mm, settings.units)}) under the front "
            "card's border (and one on top of the flap, so that a press still reaches it)"
        )
        trials.append(_Trial(evenness(lux), "more-foam", None, None, higher, words))
    return trials


def _moved(
    layout: Layout,
    solved: CardElectrics,
    settings: Settings,
    foam_mm: float,
    glow: GlowSettings,
    x_mm: Floats,
    y_mm: Floats,
    shares: Floats,
) -> list[_Trial]:
    profiles = profiles_of(solved, foam_mm, glow)
    total = shares.sum(axis=0)
    free = _free_places(layout, settings)
    trials: list[_Trial] = []
    for index, light in enumerate(solved.lights):
        mark = layout.light(light.label)
        others = [other.centre for other in layout.lights if other.label != light.label]
        rest = total - shares[index]
        steps = [
            (by_mm, (mark.x_mm + by_mm * math.cos(turn), mark.y_mm + by_mm * math.sin(turn)))
            for by_mm in _MOVES_MM
            for turn in (2 * math.pi * k / _TURNS for k in range(_TURNS))
        ]
        steps = [step for step in steps if free(step[1], others)]
        if not steps:
            continue
        places = np.array([place for _, place in steps])
        away = np.hypot(x_mm - places[:, :1], y_mm - places[:, 1:])
        lux = rest + profiles[light.part].lux(light.candela, away)
        even = lux.min(axis=1) / lux.mean(axis=1)
        best = int(even.argmax())
        by_mm, place = steps[best]
        words = f"{light.label} moved by {format_length(by_mm, settings.units)} to {_at(place, settings)}"
        trials.append(_Trial(float(even[best]), "move-light", light.label, place, foam_mm, words))
    return trials


def _added(
    layout: Layout,
    solved: CardElectrics,
    settings: Settings,
    foam_mm: float,
    glow: GlowSettings,
    x_mm: Floats,
    y_mm: Floats,
    shares: Floats,
) -> list[_Trial]:
    """One more of the card's first kind of light, at the darkest free places. It takes its share of the
    cell's current from all of them alike, which leaves the evenness alone."""
    like = solved.lights[0]
    profile = profiles_of(solved, foam_mm, glow)[like.part]
    total = shares.sum(axis=0)
    others = [mark.centre for mark in layout.lights]
    free = _free_places(layout, settings)
    trials: list[_Trial] = []
    for index in np.argsort(total):
        place = (float(x_mm[index]), float(y_mm[index]))
        if not free(place, others):
            continue
        after = evenness(total + profile.lux(like.candela, np.hypot(x_mm - place[0], y_mm - place[1])))
        words = f"One more light at {_at(place, settings)}"
        trials.append(_Trial(after, "add-light", None, place, foam_mm, words))
        if len(trials) == _SPOTS:
            break
    return trials


def _free_places(layout: Layout, settings: Settings) -> Callable[[Point, Sequence[Point]], bool]:
    """Whether a light may stand at a place, with others at theirs, by the marks' own rules."""
    half = max(settings.light.length_mm, settings.light.width_mm) / 2
    to_edge = limit_of(settings, "light-near-edge") + half
    apart = limit_of(settings, "lights-too-close")
    right, bottom = layout.card.width_mm - to_edge, layout.card.height_mm - to_edge
    clear = settings.battery_zone_radius_mm + half
    battery, window = layout.battery, layout.window

    def free(place: Point, others: Sequence[Point]) -> bool:
        if not (to_edge <= place[0] <= right and to_edge <= place[1] <= bottom):
            return False
        if battery is not None and math.dist(place, battery.centre) < clear:
            return False
        if window is not None and not _in_polygon(window, place):
            return False
        return all(math.dist(place, other) >= apart for other in others)

    return free


def _at(place: Point, settings: Settings) -> str:
    left, top = (format_length(value, settings.units) for value in place)
    return f"{left} from the left edge and {top} from the top"


def _in_polygon(outline: Polyline, place: Point) -> bool:
    """Even-odd test for one point."""
    inside = False
    for (ax, ay), (bx, by) in zip(outline, (*outline[1:], outline[0])):
        if (ay > place[1]) != (by > place[1]) and place[0] < ax + (place[1] - ay) * (bx - ax) / (by - ay):
            inside = not inside
    return inside
