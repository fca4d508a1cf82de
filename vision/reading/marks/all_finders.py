"""All mark finders in their order: ink, likeness, circle, dots, outline, drawn lines."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from circuit.layout import Doubt, Point, Remark, Saying
from vision.arrays import BoolImage, FloatImage
from vision.reading.marks.battery import Ring, find_rings
from vision.reading.marks.circles import judge_rings
from vision.reading.marks.dots import ELSE, Judged, judge_dots
from vision.reading.marks.glare import glare_spots
from vision.reading.marks.ink import Ink, read_ink
from vision.reading.marks.lanes import LEAST_LINE_MM2, DrawnLane, find_lane, line_area_mm2
from vision.reading.marks.likeness import Likeness, read_likeness
from vision.reading.marks.lines import find_drawn_lines
from vision.reading.marks.seen import MarksSeen, SeenCircle, SeenLight
from vision.reading.marks.spots import find_spots
from vision.reading.marks.strokes import Strokes, trace_strokes
from vision.reading.marks.things import coloured_things
from vision.reading.marks.tints import odd_tints
from vision.reading.marks.window import find_outline
from vision.reading.ratio import unit
from vision.straight_card import StraightCard

LEAST_PATCH_MM2, UNEXPLAINED_MM = 1.5, 2.0  # chosen: half of the smallest dot; within a dot's radius
WIPE_DOT_MM = 0.15  # beyond a dot's edge
WIPE_RING_MM = 1.0  # to both sides of the battery circle
WIPE_LINE = 0.3  # of the lines' map


@dataclass(frozen=True, slots=True)
class _Dots:
    lights: tuple[SeenLight, ...]
    crossed_out: tuple[Point, ...]
    maybe: tuple[Point, ...]
    doubts: tuple[Doubt, ...]


def find_marks(straight: StraightCard) -> MarksSeen:
    """Every pencil mark on the card."""
    ink = read_ink(straight)
    likeness = read_likeness(straight, ink)
    strokes = trace_strokes(ink)
    circles, rims = judge_rings(find_rings(ink, strokes), likeness)
    judged = judge_dots(ink, likeness, find_spots(ink, likeness))
    dots = _sort_dots(_by_tint(straight, judged), likeness)
    window = find_outline(ink, strokes, likeness)
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
    if window is not None and not window.sure:
        doubts.append(Doubt("window", None, Saying("window-unclear")))
    glare, things = glare_spots(straight, ink), _things_apart(coloured_things(straight, ink), dots)
    doubts += [Doubt("", at, Saying("glare")) for at in glare[:1]]
    doubts += [Doubt("", at, Saying("thing-on-card")) for at in things[:1]]
    lost = not lines and line_area_mm2(likeness) > LEAST_LINE_MM2
    return MarksSeen(
        lights=dots.lights,
        circles=circles,
        window=window,
        drawn_lines=lines,
        crossed_out=dots.crossed_out,
        doubts=tuple(doubts),
        maybe=dots.maybe,
        hidden=(*glare, *things),
        notes=_notes(straight, dots, _lines_note(lane, lost), rims),
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
    notes += [Remark("", (rim.x_mm, rim.y_mm), Saying("something-round")) for rim in rims[:1]]
    return tuple(notes)


def _things_apart(things: list[tuple[Point, float]], dots: _Dots) -> list[Point]:
    """The things that no mark was made of: a dot of coloured pencil is a dot."""
    marks = [light.centre for light in dots.lights] + [*dots.crossed_out, *dots.maybe]
    return [at for at, long_mm in things if all(math.dist(at, mark) > long_mm / 2 for mark in marks)]


def _by_tint(straight: StraightCard, judged: list[Judged]) -> list[Judged]:
    """Of what is of another tint than most of the lights, a sticker, a felt-tip's dot or the table seen through a
    hole, the likely lights are asked about and the unlikely ones are none."""
    if not judged:
        return []
    blobs = [one.blob for one in judged]
    odd = odd_tints(
        straight,
        np.array([(blob.x_mm, blob.y_mm) for blob in blobs]),
        np.array([blob.radius_mm for blob in blobs]),
        np.array([one.verdict == "light" for one in judged]),
    )
    return [
        replace(one, verdict="doubt", why=ELSE) if other and one.verdict == "light" else one
        for one, other in zip(judged, odd.tolist(), strict=True)
        if not other or one.verdict != "doubt" or one.likely
    ]


def _sort_dots(judged: list[Judged], likeness: Likeness) -> _Dots:
    """Lights, dots that are struck out, and what could be either or neither."""
    lights: list[SeenLight] = []
    crossed: list[Point] = []
    maybe: list[Point] = []
    doubts: list[Doubt] = []
    for item in judged:
        blob = item.blob
        place = (blob.x_mm, blob.y_mm)
        key = f"light-or-{item.why}" if item.verdict == "doubt" else None
        if key is not None:
            doubts.append(Doubt("light", place, Saying(key)))
        if item.verdict == "crossed":
            crossed.append(place)
        elif key is not None and not item.likely:
            maybe.append(place)
        else:
            lights.append(SeenLight(*place, 2 * blob.radius_mm, blob.sigma_mm, doubt=key))
    unexplained = _unexplained(likeness, [light.centre for light in lights] + crossed + maybe)
    doubts += [Doubt("light", place, Saying("light-or-else")) for place in unexplained]
    lights.sort(key=lambda light: (light.y_mm, light.x_mm))
    return _Dots(tuple(lights), tuple(crossed), (*maybe, *unexplained), tuple(doubts))


def _unexplained(likeness: Likeness, taken: list[Point]) -> list[Point]:
    """Places of what the network takes for a light though nothing was made of it. [mm]"""
    return [
        (float(spot[0]), float(spot[1]))
        for spot, area in zip(*likeness.patches("light", 0.5))
        if area >= LEAST_PATCH_MM2
        and all(np.hypot(spot[0] - x, spot[1] - y) > UNEXPLAINED_MM for x, y in taken)
    ]


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
        tangent = np.abs((unit(offset) * strokes.along).sum(axis=1)) < 0.5
        gone |= (np.abs(distance - circle.diameter_mm / 2) < WIPE_RING_MM) & tangent
    at = np.round(ink.mm_to_work(strokes.points_mm)).astype(int)
    thin = strokes.thin.copy()
    thin[at[gone, 1], at[gone, 0]] = False
    return thin
