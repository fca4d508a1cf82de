"""All mark finders in their order: ink, likeness, circle, dots, outline, drawn lines."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from circuit.layout import Doubt, Point, Remark, Saying
from vision.arrays import BoolImage, FloatImage
from vision.reading.marks.battery import Ring, find_rings
from vision.reading.marks.blobs import Blob
from vision.reading.marks.circles import find_rims, guess_circles, judge_rings
from vision.reading.marks.dots import Judged, judge_dots
from vision.reading.marks.glare import glare_spots
from vision.reading.marks.ink import Ink, read_ink
from vision.reading.marks.lanes import LEAST_LINE_MM2, DrawnLane, find_lane, line_area_mm2
from vision.reading.marks.likeness import Likeness, read_likeness
from vision.reading.marks.lines import find_drawn_lines
from vision.reading.marks.seen import MarksSeen, MaybeMark, SeenCircle, SeenLight, SeenWindow
from vision.reading.marks.spots import find_spots
from vision.reading.marks.strokes import Strokes, trace_strokes
from vision.reading.marks.window import WindowOutline, find_outline
from vision.straight_card import StraightCard

OUTLINE_SIGMA_MM = 0.15  # the hand's own wander and half a pixel
LEAST_PATCH_MM2, UNEXPLAINED_MM = 1.5, 2.0  # chosen: half of the smallest dot; within a dot's radius
WIPE_DOT_MM = 0.15  # beyond a dot's edge
WIPE_RING_MM = 1.0  # to both sides of the battery circle
WIPE_LINE = 0.3  # of the lines' map


@dataclass(frozen=True, slots=True)
class _Dots:
    lights: tuple[SeenLight, ...]
    crossed_out: tuple[Point, ...]
    maybe: tuple[MaybeMark, ...]
    doubts: tuple[Doubt, ...]


def find_marks(straight: StraightCard) -> MarksSeen:
    """Every pencil mark on the card."""
    ink = read_ink(straight)
    likeness = read_likeness(straight, ink)
    strokes = trace_strokes(ink)
    rings = find_rings(ink, strokes, guess_circles(likeness))
    circles = judge_rings(rings, likeness)
    dots = _sort_dots(judge_dots(ink, likeness, find_spots(ink, likeness)), likeness)
    outline = find_outline(ink, strokes, likeness)
    window = None if outline is None else _window(outline)
    lane = find_lane(likeness, _in_sight(ink, likeness), circles[0], dots.lights) if circles else None
    lines = (
        ()
        if lane is None
        else find_drawn_lines(
            ink, lane, circles[0], _signs_only(ink, strokes, likeness, dots.lights, circles)
        )
    )
    doubts = list(dots.doubts)
    doubts += [
        Doubt("battery", circle.centre, Saying(circle.doubt))
        for circle in circles
        if circle.doubt is not None
    ]
    if window is not None and window.doubt is not None:
        doubts.append(Doubt("window", None, Saying(window.doubt)))
    whited_out = glare_spots(straight, ink)
    doubts += [Doubt("", at, Saying("glare")) for at in whited_out[:1]]
    lost = not lines and line_area_mm2(likeness) > LEAST_LINE_MM2
    return MarksSeen(
        lights=dots.lights,
        circles=circles,
        window=window,
        drawn_lines=lines,
        crossed_out=dots.crossed_out,
        doubts=tuple(doubts),
        maybe=dots.maybe,
        whited_out=tuple(whited_out),
        notes=_notes(straight, dots, _lines_note(lane, lost), find_rims(rings, likeness)),
    )


def _lines_note(lane: DrawnLane | None, lost: bool) -> str | None:
    """The key of what has to be said of the pencilled circuit lines."""
    if lost:
        return "lines-lost"
    return "lines-unsure" if lane is not None and not lane.sure else None


def _notes(straight: StraightCard, dots: _Dots, lines: str | None, rims: list[Ring]) -> tuple[Remark, ...]:
    notes = [Remark("", at, Saying("crossed-out")) for at in dots.crossed_out]
    if lines is not None:
        notes.append(Remark("", None, Saying(lines)))
    on_card = [
        (ring.x_mm, ring.y_mm)
        for ring in rims
        if 0 < ring.x_mm < straight.card.width_mm and 0 < ring.y_mm < straight.card.height_mm
    ]
    notes += [Remark("", at, Saying("something-round")) for at in on_card[:1]]
    return tuple(notes)


def _sort_dots(judged: list[Judged], likeness: Likeness) -> _Dots:
    """Lights, dots that are struck out, and what could be either or neither."""
    lights: list[SeenLight] = []
    crossed: list[Point] = []
    maybe: list[MaybeMark] = []
    doubts: list[Doubt] = []
    for item in judged:
        blob = item.blob
        if item.verdict == "light":
            lights.append(_light(blob, None))
        elif item.verdict == "crossed":
            crossed.append((blob.x_mm, blob.y_mm))
        elif item.verdict == "doubt":
            key = f"light-or-{item.why}"
            doubts.append(Doubt("light", (blob.x_mm, blob.y_mm), Saying(key)))
            if item.likely:
                lights.append(_light(blob, key))
            else:
                maybe.append(MaybeMark("light", blob.x_mm, blob.y_mm, 2 * blob.radius_mm, key))
    taken = [light.centre for light in lights] + crossed + [(mark.x_mm, mark.y_mm) for mark in maybe]
    for x, y, diameter in _unexplained(likeness, taken):
        key = "light-or-else"
        doubts.append(Doubt("light", (x, y), Saying(key)))
        maybe.append(MaybeMark("light", x, y, diameter, key))
    lights.sort(key=lambda light: (light.y_mm, light.x_mm))
    return _Dots(tuple(lights), tuple(crossed), tuple(maybe), tuple(doubts))


def _unexplained(likeness: Likeness, taken: list[Point]) -> list[tuple[float, float, float]]:
    """Place and diameter of what the network takes for a light though nothing was made of it. [mm]"""
    return [
        (float(spot[0]), float(spot[1]), 2 * float(np.sqrt(area / np.pi)))
        for spot, area in zip(*likeness.patches("light", 0.5))
        if area >= LEAST_PATCH_MM2
        and all(np.hypot(spot[0] - x, spot[1] - y) > UNEXPLAINED_MM for x, y in taken)
    ]


def _light(blob: Blob, doubt: str | None) -> SeenLight:
    return SeenLight(blob.x_mm, blob.y_mm, 2 * blob.radius_mm, blob.sigma_mm, doubt is None, doubt)


def _window(outline: WindowOutline) -> SeenWindow:
    doubt = None
    if not outline.sure:
        doubt = "window-unclear"
    corners = tuple((float(x), float(y)) for x, y in outline.polygon)
    return SeenWindow(corners, OUTLINE_SIGMA_MM, outline.sure, doubt)


def _in_sight(ink: Ink, likeness: Likeness) -> FloatImage:
    """1 where the card's face is to be seen, as the likeness's maps lie."""
    rows, columns = likeness.maps.shape[1:]
    seen = cv2.resize(ink.work_face.astype(np.float32), (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(seen, dtype=np.float32)


def _signs_only(
    ink: Ink,
    strokes: Strokes,
    likeness: Likeness,
    lights: tuple[SeenLight, ...],
    circles: tuple[SeenCircle, ...],
) -> BoolImage:
    """The thinned strokes without circuit lines, dots and the battery circle: what signs are among."""
    gone: NDArray[np.bool_] = likeness.sample("line", strokes.points_mm) > WIPE_LINE
    for light in lights:
        offset = strokes.points_mm - light.centre
        gone |= np.hypot(offset[:, 0], offset[:, 1]) < light.diameter_mm / 2 + WIPE_DOT_MM
    for circle in circles[:1]:
        offset = strokes.points_mm - circle.centre
        distance = np.hypot(offset[:, 0], offset[:, 1])
        tangent = np.abs((offset * strokes.along).sum(axis=1)) / np.maximum(distance, 1e-9) < 0.5
        gone |= (np.abs(distance - circle.diameter_mm / 2) < WIPE_RING_MM) & tangent
    at = np.round(ink.mm_to_work(strokes.points_mm)).astype(int)
    thin = strokes.thin.copy()
    thin[at[gone, 1], at[gone, 0]] = False
    return thin
