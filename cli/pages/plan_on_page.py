"""The plan on a page: at true size to build by, small beside the list of what is needed.

In:    a `Build`, where the card lies on the page.
Out:   ink on the page; the words lie where they cover nothing, found once for all the parts of a large card.
Fails: never.
"""

from __future__ import annotations

from dataclasses import dataclass

from circuit.joint import lanes_of, line_of
from circuit.layout import POLARITIES, Point, Polarity, Traces
from cli.pages.build_data import Build
from vision.drawing.box import Box, Placing
from vision.drawing.colours import FAINT_INK, INK, Colour, polarity_colour
from vision.drawing.draw_card import draw_foam_border, draw_over_tape, draw_tapes, draw_under_tape
from vision.drawing.fonts import Weight
from vision.drawing.labels import NoRoomError, place_tags
from vision.drawing.lettering import (
    ASCENT,
    DESCENT,
    LABEL_PT,
    MM_PER_POINT,
    TINY_PT,
    shortened,
    width_mm,
)
from vision.drawing.look import ON_PAPER
from vision.drawing.occupied import occupied
from vision.drawing.page_pen import PagePen
from vision.drawing.shapes import Crease, creases
from vision.drawing.tags import Placed, Tag, needs_leader

_INSET_MM = 0.8  # chosen: words keep so far inside the card's outline
_AIR_MM = 0.3  # chosen: round every word
_LEADER_MM = 0.12  # chosen: a line from a word to what it speaks of; thinner than anything that is built from
_LIGHT_LEADER_MM, _FOLD_LEADER_MM = 4.5, 2.0  # chosen: nearer than that the eye joins them by itself
_MOST_NUMBERS_SMALL = 16  # chosen by eye: folds that still have room for their number in the small picture
_WIDEST_WORD_MM = 16.0  # chosen: a layout file may name its lights at any length


@dataclass(frozen=True, slots=True)
class Word:
    """A word near a point of the card; a line to it stops `off` short of the point, and is drawn where it would be
    longer than `leader_mm` (None: never) or where the word lies nearly as near one of the `others` of its kind."""

    text: str
    size_pt: float
    weight: Weight
    colour: Colour
    about: Point
    off: float = 0.0
    leader_mm: float | None = None
    others: tuple[Point, ...] = ()

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of its ink. [mm]"""
        high = (ASCENT + DESCENT) * self.size_pt * MM_PER_POINT
        return (width_mm(self.text, self.size_pt, self.weight), high)


@dataclass(frozen=True, slots=True)
class LaidWord:
    """A word, and where it went as if the card lay at the page's corner."""

    word: Word
    placed: Placed
    pointed: bool


def lay_words(
    build: Build, scale: float = 1.0, *, full: bool, mirrored: bool = False
) -> tuple[LaidWord, ...]:
    """Find each word its place. `full`: with all that the 1:1 sheet carries; else for the build sheet's picture."""
    card = build.plan.layout.card
    placing = Placing(0.0, 0.0, scale, card.width_mm if mirrored else None)
    area = Box(0.0, 0.0, card.width_mm * scale, card.height_mm * scale).inset(_INSET_MM)
    words = [*_lights(build, scale), *_folds(build, full=full), *(_window(build) if full else ())]
    tags = []
    for word in words:
        wide, high = (side + 2 * _AIR_MM for side in word.size_mm)
        tags.append(Tag(placing.at(word.about), wide, high, word.off, tuple(placing.along(word.others))))
    try:
        placed = place_tags(tags, occupied(build, placing, area, ON_PAPER), on_taken=True)
    except NoRoomError:  # a card smaller than a word
        return ()
    return tuple(
        LaidWord(word, where, word.leader_mm is not None and needs_leader(tag, where, word.leader_mm))
        for word, tag, where in zip(words, tags, placed)
    )


def draw_plan(
    pen: PagePen,
    build: Build,
    placing: Placing,
    words: tuple[LaidWord, ...],
    *,
    full: bool,
    showing: Box | None = None,
) -> None:
    """The whole card. `showing` is the part of it that is on this page, None for all: a word that is not wholly on
    it is left out."""
    if full:
        draw_foam_border(pen, placing, build, ON_PAPER)
    draw_under_tape(pen, placing, build, ON_PAPER, foam=full)
    draw_tapes(pen, placing, build, ON_PAPER)
    draw_over_tape(pen, placing, build, ON_PAPER, pricks=full)
    for laid in words:
        _draw_word(pen, laid, placing, showing)


def _draw_word(pen: PagePen, laid: LaidWord, placing: Placing, showing: Box | None) -> None:
    word, placed = laid.word, laid.placed.moved(placing.left, placing.top)
    box = placed.box.inset(_AIR_MM)
    if showing is not None and not showing.holds(box):
        return
    if laid.pointed and placed.leader is not None:
        pen.line(placed.leader, word.colour, _LEADER_MM)
    baseline = box.top + ASCENT * word.size_pt * MM_PER_POINT
    pen.text(box.left, baseline, word.text, word.size_pt, weight=word.weight, colour=word.colour)


def _lights(build: Build, scale: float) -> list[Word]:
    part = build.settings.light
    off = max(part.length_mm, part.width_mm) / 2 * scale
    words, centres = [], [light.centre for light in build.plan.layout.lights]
    for light in build.plan.layout.lights:
        others = tuple(centre for centre in centres if centre != light.centre)
        name = light.label if light.sure else f"{light.label}?"
        text = shortened(name, LABEL_PT, _WIDEST_WORD_MM, "bold")
        words.append(Word(text, LABEL_PT, "bold", INK, light.centre, off, _LIGHT_LEADER_MM, others))
    return words


def _folds(build: Build, *, full: bool) -> list[Word]:
    """Each fold's number by its outer corner; a branch's go on where the lane's end."""
    traces = build.plan.traces
    if traces is None:
        return []
    words = []
    for polarity, sign in zip(POLARITIES, "+−", strict=True):
        corners = [crease.outer for crease in _all_creases(traces, polarity)]
        colour = polarity_colour(sign == "+")
        for number, at in enumerate(corners, 1):
            others = tuple(corner for corner in corners if corner != at)
            words.append(Word(f"{sign}{number}", TINY_PT, "bold", colour, at, 0.0, _FOLD_LEADER_MM, others))
    # Too crowded to be read; the 1:1 sheet has them.
    return words if full or len(words) <= _MOST_NUMBERS_SMALL else []


def _all_creases(traces: Traces, polarity: Polarity) -> list[Crease]:
    lines = (line_of(lane, polarity) for lane in lanes_of(traces))
    return [crease for line in lines for crease in creases(line, traces.tape_width_mm)]


def _window(build: Build) -> list[Word]:
    window = build.plan.layout.window
    if window is None:
        return []
    top = min(window, key=lambda point: (point[1], point[0]))
    return [Word("window", TINY_PT, "regular", FAINT_INK, top)]
