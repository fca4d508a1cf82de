"""The key: what this card shows, in words, each beside a small sample drawn as on the card.

In:    a `Subject`, a look.
Out:   rows; only what is on this card, in the order in which one meets it.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Iterator

from circuit import telling
from circuit.joint import lines_of
from circuit.layout import DrawnLine, LightMark
from circuit.lengths import format_length
from circuit.rules import limit_of
from vision.drawing.box import Box, Placing
from vision.drawing.colours import BLACK, FAINT_INK, INK, MOVE, WINDOW, Colour
from vision.drawing.draw_marks import draw_contact, draw_drawn_line, draw_light, draw_prick
from vision.drawing.draw_signs import draw_polarity
from vision.drawing.draw_tapes import draw_tape, sign_radius
from vision.drawing.lettering import LABEL_PT, capitals_mm
from vision.drawing.look import Look
from vision.drawing.pen import BOLD_MM, DOTS, HAIR_MM, LINE_MM, LONG_DASH, SHORT_DASH, Dash, Pen, Sign
from vision.drawing.rows import Row
from vision.drawing.shapes import creases
from vision.drawing.subject import Subject

# Shares of a sample's box, chosen by eye.
_TAPE_SHARE = 0.5
_BODY_SHARE = 0.85
_RING_SHARE = 0.42
_FLAT_SHARE = 0.32
_HINGE_SHARE = 0.3  # chosen: of a sample's width, where the flap's hinge lies
_FOLD_SHARE = 0.3  # chosen: half a fold's line over its box
_UP_DEG = -90.0


def key_rows(subject: Subject, look: Look, *, to_build: bool) -> tuple[Row, ...]:
    """`to_build`: for a page to build from, which has crosses to prick through, numbered folds and foam; else for
    a picture to look at, which has the maker's own lines and moves."""
    found = _to_build(subject, look) if to_build else _to_look_at(subject, look)
    return tuple(Row(words, sign, half=True) for words, sign in found)


def _to_look_at(subject: Subject, look: Look) -> Iterator[tuple[str, Sign]]:
    plan, name = subject.plan, subject.settings.light.name
    yield from _tapes(subject, look)
    if plan.layout.lights:
        sided = plan.traces is not None
        words = f"{name} light, its + end on the positive tape" if sided else f"{name} light at its true size"
        yield words, _light(subject, look, sided=sided)
    yield from _switch(subject, look)
    yield from _window(subject)
    if plan.layout.drawn_lines:
        yield "your own pencilled lines", _drawn_lines(subject, look)
    if plan.moves:
        yield "where a mark would move to", _line(MOVE, BOLD_MM, SHORT_DASH)


def _to_build(subject: Subject, look: Look) -> Iterator[tuple[str, Sign]]:
    plan, settings = subject.plan, subject.settings
    yield from _tapes(subject, look)
    if plan.traces is not None and any(
        creases(line, plan.traces.tape_width_mm) for line in lines_of(plan.traces)
    ):
        corner = telling.CORNER_WORDS[settings.corners]
        yield f"{corner} here; its number is in the build sheet's list", _fold
    if any(subject.side_deg(light.label) is not None for light in plan.layout.lights):
        words = "light: prick the cross through; the dark edge is its + side"
        yield words, _light(subject, look, sided=True, prick=True)
    elif plan.layout.lights:
        yield "light: prick the cross through", _light(subject, look, sided=False, prick=True)
    if any(not light.sure for light in plan.layout.lights):
        yield "a mark that was not read for sure: compare it with your card", _unsure
    yield from _switch(subject, look)
    if subject.switch is not None:
        yield "clear tape over the − tape, from beside the cell's middle to past the tab", _outlined()
    foam = format_length(limit_of(settings, "light-near-edge"), settings.units)
    yield f"foam: a frame round the cell, and {foam} wide round the card", _foam(look)
    yield from _window(subject)


def _tapes(subject: Subject, look: Look) -> Iterator[tuple[str, Sign]]:
    if subject.plan.traces is not None:
        wide = subject.plan.traces.tape_width_mm
        yield "positive tape (+)", _tape(wide, look, positive=True)
        yield "negative tape (−), striped", _tape(wide, look, positive=False)
    if subject.joints:
        yield "joint: tape on tape, its end folded under so that copper meets copper", _contact(look)
        yield "clear tape between two tapes that cross", _outlined()


def _switch(subject: Subject, look: Look) -> Iterator[tuple[str, Sign]]:
    if subject.plan.layout.battery is None:
        return
    yield f"the {subject.settings.cell.name}, its + face up", _ring(LINE_MM, look.cell_dash)
    yield "keep lights and tape out of here, but for the two ends", _ring(HAIR_MM, DOTS)
    if subject.switch is not None:
        rises = "stands upright" if subject.switch.tongue == "upright" else "slopes up"
        yield f"flap over the cell, and the + tape on it; between the long dashes it {rises}", _flap(look)


def _window(subject: Subject) -> Iterator[tuple[str, Sign]]:
    if subject.plan.layout.window is not None:
        yield "the window in the front card", _outlined(window=True)


def _tape(wide: float, look: Look, *, positive: bool) -> Sign:
    def draw(pen: Pen, box: Box) -> None:
        y = box.centre[1]
        tape = min(wide, _TAPE_SHARE * box.height)
        line = ((box.left, y), (box.right, y))
        draw_tape(pen, Placing(0.0, 0.0), line, tape, look, positive=positive)
        draw_polarity(pen, box.centre, sign_radius(tape), positive=positive)

    return draw


def _light(subject: Subject, look: Look, *, sided: bool, prick: bool = False) -> Sign:
    part = subject.settings.light

    def draw(pen: Pen, box: Box) -> None:
        scale = _BODY_SHARE * min(box.width, box.height) / max(part.length_mm, part.width_mm)
        light = LightMark("x", 0.0, 0.0)
        placing = Placing(*box.centre, scale)
        draw_light(pen, placing, light.centre, part, _UP_DEG if sided else None, look)
        if prick:
            draw_prick(pen, box.centre)

    return draw


def _drawn_lines(subject: Subject, look: Look) -> Sign:
    """The maker's lines one below the other, each as it is drawn on the card."""
    polarities = list(dict.fromkeys(line.polarity for line in subject.plan.layout.drawn_lines))

    def draw(pen: Pen, box: Box) -> None:
        for i, polarity in enumerate(polarities):
            y = box.top + box.height * (i + 1) / (len(polarities) + 1)
            draw_drawn_line(
                pen, Placing(0.0, 0.0), DrawnLine(((box.left, y), (box.right, y)), polarity), look
            )

    return draw


def _ring(width: float, dash: Dash | tuple[()]) -> Sign:
    def draw(pen: Pen, box: Box) -> None:
        radius = _RING_SHARE * min(box.width, box.height)
        pen.circle(box.centre, radius, INK if width > HAIR_MM else FAINT_INK, width, dash=dash)

    return draw


def _line(colour: Colour, width: float, dash: Dash) -> Sign:

    def draw(pen: Pen, box: Box) -> None:
        y = box.centre[1]
        pen.line([(box.left, y), (box.right, y)], colour, width, dash=dash)

    return draw


def _flat(box: Box) -> Box:
    """A low box in the sample's middle."""
    high = 2 * _FLAT_SHARE * box.height
    return Box(box.left, box.centre[1] - high / 2, box.width, high).inset(LINE_MM / 2)


def _flap(look: Look) -> Sign:
    def draw(pen: Pen, box: Box) -> None:
        flat = _flat(box)
        x = flat.left + _HINGE_SHARE * flat.width
        look.tinted(pen, [Box(flat.left, flat.top, x - flat.left, flat.height).corners])
        pen.line(flat.corners, FAINT_INK, HAIR_MM, dash=SHORT_DASH, closed=True)
        pen.line([(x, flat.top), (x, flat.bottom)], INK, LINE_MM, dash=LONG_DASH)

    return draw


def _outlined(*, window: bool = False) -> Sign:
    colour, width = (WINDOW, LINE_MM) if window else (INK, HAIR_MM)
    return lambda pen, box: pen.line(_flat(box).corners, colour, width, dash=DOTS, closed=True)


def _foam(look: Look) -> Sign:
    return lambda pen, box: look.tinted(pen, [_flat(box).corners])


def _contact(look: Look) -> Sign:
    def draw(pen: Pen, box: Box) -> None:
        (x, y), half = box.centre, _FLAT_SHARE * min(box.width, box.height)
        draw_contact(pen, Box(x - half, y - half, 2 * half, 2 * half).corners, look)

    return draw


def _fold(pen: Pen, box: Box) -> None:
    (x, y), half = box.centre, _FOLD_SHARE * min(box.width, box.height)
    pen.line([(x - half, y - half), (x + half, y + half)], BLACK, HAIR_MM)


def _unsure(pen: Pen, box: Box) -> None:
    x, y = box.centre
    pen.text(x, y + capitals_mm(LABEL_PT) / 2, "L1?", LABEL_PT, weight="bold", anchor="middle")
