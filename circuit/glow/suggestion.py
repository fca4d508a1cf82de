"""What would even the window out: more paper, more foam, one light moved, one light more. Computed, each tried.

In:    a layout, its solved circuit, the foam's height, the foams there are.
Out:   a `Glow` with the best change of each kind, the best first; none where the window is even enough or
       nothing tried helps.
Fails: as `glow_field`.

Every candidate keeps the marks' own rules: clear of the card's edge, of the battery's zone and of the
other lights, inside the window. The tape is not laid again for it: that is the next photo's business.
Candidates are compared on a coarse grid; what is told is worked out on the plan's own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from circuit.electrics.card import CardElectrics
from circuit.foam_words import height_words
from circuit.glow.field import GlowField, glow_field
from circuit.glow.tried_changes import (
    Sampled,
    TriedChange,
    more_foam,
    more_paper,
    one_added,
    one_moved,
    sampled,
)
from circuit.glow.window import glow_settings
from circuit.layout import Layout
from circuit.mark_changes import with_light_at, with_mark_at
from circuit.part_kinds import FoamPart
from circuit.plan import Glow, GlowChange
from circuit.settings import Settings

EVEN_ENOUGH = 0.6  # chosen; in lighting practice 0.6 and up is asked for where work is done
PATCHY = 0.3  # below this the darkest place is plainly seen as dark. Chosen
_TOLD = 2
_WORTH_IT = 1.15  # a suggestion that gains less than this factor isn't worth the trouble. Chosen
_SEEN = 0.02  # of the average light: less is not seen. Chosen


def glow_of(
    layout: Layout, solved: CardElectrics, settings: Settings, foam_mm: float, foams: Iterable[FoamPart] = ()
) -> Glow | None:
    """All there is to know of the glow, and what would even it out; None where nothing is lit."""
    glow = glow_settings(settings.window_paper)
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
        suggestions=_suggestions(layout, solved, settings, field, foams),
    )


def _suggestions(
    layout: Layout, solved: CardElectrics, settings: Settings, field: GlowField, foams: Iterable[FoamPart]
) -> tuple[GlowChange, ...]:
    """Each kind of change tried on the window; the best of each kind that is worth it, the best first.
    Empty where no window is drawn: nobody can say what should be lit."""
    if layout.window is None or field.evenness >= EVEN_ENOUGH:
        return ()
    window = sampled(layout, solved, settings, field.foam_mm, glow_settings(settings.window_paper))
    if window is None:
        return ()
    tried = (more_paper(window), more_foam(window, foams), one_moved(window), one_added(window))
    found = [_done(max(trials, key=lambda trial: trial.even), window, field) for trials in tried if trials]
    worth = max(_WORTH_IT * field.evenness, field.evenness + _SEEN)
    return tuple(sorted((one for one in found if one.evenness >= worth), key=lambda one: -one.evenness))


def glow_lines(glow: Glow, settings: Settings, *, has_window: bool) -> tuple[str, ...]:
    """What there is to say of the glow: how even it is, then the best of two kinds of change, since
    foam and a light cost a maker different things."""
    return (
        glow_note(glow, settings, has_window=has_window),
        *(one.sentence for one in glow.suggestions[:_TOLD]),
    )


def glow_note(glow: Glow, settings: Settings, *, has_window: bool) -> str:
    """How even the window is, in one or two sentences; also the caption of its picture."""
    foam, spot = (height_words(value, settings.units) for value in (glow.foam_mm, glow.spot_mm))
    if not has_window:
        return (
            f"Behind {foam} of foam one light makes a spot about {spot} wide. Trace the window's outline on the card "
            "to see how evenly it will glow."
        )
    papers = {"two": " and two sheets of translucent paper", "plain": ", translucent and plain paper"}
    behind = f"{foam} of foam{papers.get(settings.window_paper, '')}"
    note = (
        f"Behind {behind} the darkest place of the window gets {_per_cent(glow.evenness)} of its average "
        f"light, and one light makes a spot about {spot} wide."
    )
    if glow.evenness >= EVEN_ENOUGH:
        return f"{note} It will look even."
    return note if glow.evenness >= PATCHY else f"{note} Each light will show as a spot of its own."


def _done(trial: TriedChange, window: Sampled, before: GlowField) -> GlowChange:
    """The trial done on the plan's own grid, and put into words."""
    layout, solved = window.layout, window.solved
    if trial.place is not None and trial.about is not None:
        layout = with_mark_at(layout, trial.about, trial.place)
    elif trial.place is not None:
        layout, label = with_light_at(layout, trial.place)
        solved = replace(solved, lights=(*solved.lights, replace(solved.lights[0], label=label)))
    glow = window.glow if trial.paper is None else glow_settings(trial.paper)
    field = glow_field(layout, solved, trial.foam_mm, glow)
    after = field.evenness if field is not None else 0.0
    sentence = (
        f"{trial.words} would make the window more even: its darkest place would get {_per_cent(after)} of the "
        f"average light, now {_per_cent(before.evenness)}."
    )
    return GlowChange(trial.kind, trial.about, trial.place, trial.foam_mm, after, sentence)


def _per_cent(share: float) -> str:
    return "under 1 %" if 100 * share < 1 else f"{100 * share:.0f} %"
