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

from collections.abc import Iterable
from dataclasses import dataclass, replace

from circuit.electrics.card import CardElectrics
from circuit.glow.field import (
    GlowField,
    glow_field,
)
from circuit.glow.trials import Trial, more_foam, more_paper, one_added, one_moved, sampled
from circuit.glow.window import GlowSettings, glow_settings
from circuit.layout import Layout, LightMark, Point
from circuit.parts import FoamPart
from circuit.plan import Glow, GlowChange
from circuit.settings import Settings, WindowPaper
from circuit.stack import height_words

EVEN_ENOUGH = 0.6  # chosen; in lighting practice 0.6 and up is asked for where work is done
PATCHY = 0.3  # below this the darkest place is plainly seen as dark. Chosen
_TOLD = 2
_WORTH_IT = 1.15  # a suggestion that gains less than this factor isn't worth the trouble. Chosen
_SEEN = 0.02  # of the average light: less is not seen. Chosen


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
    window = sampled(layout, solved, settings, foam_mm, glow)
    if window is None:
        return ()
    tried = (more_paper(window), more_foam(window, foams), one_moved(window), one_added(window))
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
    trial: Trial, layout: Layout, solved: CardElectrics, glow: GlowSettings, before: float
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
    return "under 1 %" if 100 * share < 1 else f"{100 * share:.0f} %"
