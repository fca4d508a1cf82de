"""What the signs on the 1:1 sheet mean, each beside a small drawing of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeVar

from circuit.lengths import format_length
from circuit.rules import limit_of
from cli.pages.build_data import Build
from cli.pages.card import CROSS_ARM_MM, draw_body, draw_crease, draw_tape
from cli.pages.lines import Placing, creases
from cli.pages.pen import BLACK, GREY, HAIR_MM, INK, PALE, WHITE, Pen
from cli.pages.stamps import draw_cross
from cli.pages.type import SMALL_PT, line_mm, wrapped

ROW_MM = 6.6  # chosen: a light's body and air
_SWATCH_MM = 11.0
_AIR_MM = 1.2

T = TypeVar("T")
Entry = tuple[Callable[[Pen, float, float], None], str]


def entries(build: Build) -> list[Entry]:
    """Swatch (drawn about a point) and words, of what is on this card and nothing else."""
    return list(_entries(build))


def _entries(build: Build) -> Iterator[Entry]:
    plan, settings = build.plan, build.settings
    if plan.traces is not None:
        yield _tape(plan.traces.tape_width_mm, positive=True), "positive tape (+)"
        yield _tape(plan.traces.tape_width_mm, positive=False), "negative tape (−), barred"
    if plan.traces is not None and any(
        creases(line, plan.traces.tape_width_mm) for line in (plan.traces.positive, plan.traces.negative)
    ):
        yield _fold, "fold here; its number is in the build sheet's list"
    if any(light.label in build.sides_deg for light in plan.layout.lights):
        yield _light(build), "light: prick the cross through; the dark edge is its + side"
    elif plan.layout.lights:
        yield _unturned_light, "light: prick the cross through"
    if any(not light.sure for light in plan.layout.lights):
        yield _question, "a mark that was not read for sure: compare it with your card"
    if plan.layout.battery is not None:
        yield _cell, f"the {settings.cell.name}, its + face up"
        yield _zone, "keep lights and tape out of here, but for the two ends"
    if build.flap is not None:
        yield _flap, "flap over the cell; the dashes are its hinge"
        yield _cover, "clear tape over the − tape, under the cell's rim"
    foam = format_length(limit_of(settings, "light-near-edge"), settings.units)
    yield _foam, f"foam: under the flap, and {foam} wide round the card"
    if plan.layout.window is not None:
        yield _window, "the window in the front card"


def legend_height(build: Build, room: float, columns: int = 1) -> float:
    """What `draw_legend` takes."""
    rows = [_row_mm(text, room / columns) for _, text in entries(build)]
    return max(sum(chunk) for chunk in _chunks(rows, columns))


def draw_legend(pen: Pen, build: Build, left: float, top: float, room: float, columns: int = 1) -> None:
    column_mm = room / columns
    for index, chunk in enumerate(_chunks(entries(build), columns)):
        x, y = left + index * column_mm, top
        for swatch, text in chunk:
            row = _row_mm(text, column_mm)
            swatch(pen, x + _SWATCH_MM / 2, y + row / 2)
            lines = _lines(text, column_mm)
            baseline = y + row / 2 - (len(lines) - 1) * line_mm(SMALL_PT) / 2 + 1.1
            for line in lines:
                pen.text(x + _SWATCH_MM + 2.0, baseline, line, SMALL_PT)
                baseline += line_mm(SMALL_PT)
            y += row


def _lines(text: str, column_mm: float) -> list[str]:
    return wrapped(text, SMALL_PT, column_mm - _SWATCH_MM - 4.0)


def _row_mm(text: str, column_mm: float) -> float:
    return max(ROW_MM, len(_lines(text, column_mm)) * line_mm(SMALL_PT) + _AIR_MM)


def _chunks(items: list[T], columns: int) -> list[list[T]]:
    per = -(-len(items) // columns)
    return [items[i : i + per] for i in range(0, len(items), per)] or [[]]


def _tape(width: float, *, positive: bool) -> Callable[[Pen, float, float], None]:
    def draw(pen: Pen, x: float, y: float) -> None:
        half = _SWATCH_MM / 2
        draw_tape(
            pen, ((-half, 0.0), (half, 0.0)), min(width, ROW_MM - 2.0), Placing(x, y), positive=positive
        )

    return draw


def _light(build: Build) -> Callable[[Pen, float, float], None]:
    part = build.settings.light
    scale = min(1.0, (ROW_MM - 1.0) / max(part.length_mm, part.width_mm))

    def draw(pen: Pen, x: float, y: float) -> None:
        draw_body(pen, build, (0.0, 0.0), -90.0, Placing(x, y, scale))
        draw_cross(pen, (x, y), CROSS_ARM_MM * scale, 0.15)
        pen.circle((x, y), 0.3, BLACK, 0.15, fill=WHITE)

    return draw


def _unturned_light(pen: Pen, x: float, y: float) -> None:
    pen.circle((x, y), 2.4, INK, 0.25, dash=(0.8, 0.6))
    draw_cross(pen, (x, y), CROSS_ARM_MM, 0.15)


def _question(pen: Pen, x: float, y: float) -> None:
    pen.text(x, y + 1.1, "L1?", 9.0, weight="bold", anchor="middle")


def _fold(pen: Pen, x: float, y: float) -> None:
    draw_crease(pen, (x - 1.2, y - 1.2), (x + 1.2, y + 1.2), Placing(0.0, 0.0))


def _cell(pen: Pen, x: float, y: float) -> None:
    pen.circle((x, y), 2.6, BLACK, 0.3)


def _zone(pen: Pen, x: float, y: float) -> None:
    pen.circle((x, y), 2.6, GREY, HAIR_MM, dash=(0.8, 1.2))


def _flap(pen: Pen, x: float, y: float) -> None:
    pen.line([(x - 3, y - 2), (x + 3, y - 2), (x + 3, y + 2), (x - 3, y + 2)], GREY, HAIR_MM, closed=True)
    pen.line([(x - 1.4, y - 2), (x - 1.4, y + 2)], INK, 0.3, dash=(0.8, 0.6))


def _cover(pen: Pen, x: float, y: float) -> None:
    pen.line(
        [(x - 2.5, y - 1.5), (x + 2.5, y - 1.5), (x + 2.5, y + 1.5), (x - 2.5, y + 1.5)],
        INK,
        HAIR_MM,
        dash=(0.5, 0.5),
        closed=True,
    )


def _foam(pen: Pen, x: float, y: float) -> None:
    pen.shape([(x - 4, y - 1.6), (x + 4, y - 1.6), (x + 4, y + 1.6), (x - 4, y + 1.6)], PALE)


def _window(pen: Pen, x: float, y: float) -> None:
    pen.line(
        [(x - 4, y - 1.8), (x + 4, y - 1.8), (x + 4, y + 1.8), (x - 4, y + 1.8)],
        INK,
        0.25,
        dash=(0.4, 1.0),
        closed=True,
    )
