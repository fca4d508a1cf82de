"""All mark finders in their order: ink, things in the way, circle, dots, outline, drawn lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuit.layout import Point
from circuit.settings import Units
from vision.marks.battery import Ring, find_rings, thing_likeness, thing_reach_mm
from vision.marks.blobs import Blob, find_blobs
from vision.marks.crossings import judge_crossing
from vision.marks.dots import Judged, judge_dots
from vision.marks.graph import Disc, build_graph
from vision.marks.ink import BoolImage, Ink, read_ink
from vision.marks.lanes import find_lane, starts_at
from vision.marks.lines import find_drawn_lines
from vision.marks.lonely import find_lonely_discs
from vision.marks.places import place
from vision.marks.seen import MarksSeen, MaybeMark, SeenCircle, SeenLight, SeenWindow
from vision.marks.strokes import Strokes, trace_strokes
from vision.marks.things import Things, find_things
from vision.marks.traits import base_traits
from vision.marks.window import Outline, find_outline
from vision.straight import StraightCard

# Rings, measured on simulated photos: true ones have a cover of 0.90 or more and wobble up to 0.35 mm;
# arcs of outlines and letters stay under 0.78, or wobble by over 0.4 mm.
SURE_COVER = 0.85
CREDIBLE_COVER = 0.76
SURE_WOBBLE = 0.05  # of the radius
CREDIBLE_WOBBLE = 0.07
SURE_GAP_DEG = 45.0
THING_FROM = 1.1
SURE_PENCIL_BELOW = 0.9
OUTLINE_SIGMA_MM = 0.15  # the hand's own wander and half a pixel
EDGE_MM = 2.0  # chosen: no light's body fits there, and fingers come from there
EDGE_STRAYS = 0.12
RIM_SKIRT_MM = 1.0
WIPE_DOT_MM = 0.15  # beyond a dot's edge
WIPE_RING_MM = 1.0  # to both sides of the battery circle


@dataclass(frozen=True, slots=True)
class _Dots:
    lights: tuple[SeenLight, ...]
    crossed_out: tuple[Point, ...]
    maybe: tuple[MaybeMark, ...]
    doubts: tuple[str, ...]


def find_marks(straight: StraightCard, units: Units = "mm") -> MarksSeen:
    """Every pencil mark on the card; `units` only for the lengths in doubts."""
    ink = read_ink(straight)
    things = find_things(straight, ink)
    strokes = trace_strokes(ink)
    rings = find_rings(ink, strokes)
    circles = _circles(ink, rings, things)
    blobs = find_blobs(ink)
    judged = judge_dots(blobs, base_traits(ink, strokes, blobs, straight.blur_mm))
    rims = _rims(ink, rings, things)
    dots = _sort_dots(straight, ink, judged, things, rims, units)
    thin = _without(ink, strokes, things, rims, dots.lights, circles)
    lane = find_lane(ink, strokes, thin)
    if lane is not None and not (
        circles and starts_at(strokes, lane, circles[0].x_mm, circles[0].y_mm, circles[0].diameter_mm / 2)
    ):
        lane = None
    if lane is not None:
        thin = _clear(ink, thin, strokes.points_mm[lane.on_lane])
    graph = build_graph(ink, thin, [(light.x_mm, light.y_mm, light.diameter_mm / 2) for light in dots.lights])
    outline = find_outline(ink, strokes, graph, straight.square_mm)
    window = None if outline is None else _window(outline)
    doubts = list(dots.doubts)
    doubts += [circle.doubt for circle in circles if circle.doubt is not None]
    if window is not None and window.doubt is not None:
        doubts.append(window.doubt)
    lines = find_drawn_lines(ink, strokes, lane, circles[0] if circles else None, dots.lights, thin)
    return MarksSeen(
        lights=dots.lights,
        circles=circles,
        window=window,
        drawn_lines=lines,
        crossed_out=dots.crossed_out,
        doubts=tuple(doubts),
        maybe=dots.maybe,
        notes=_notes(straight, dots, lane is not None and not lines, rims, units),
    )


def _notes(
    straight: StraightCard, dots: _Dots, lost_lane: bool, rims: list[Disc], units: Units
) -> tuple[str, ...]:
    notes = [
        f"The dot {place(x, y, straight.card, units)}, is crossed out and counts as no light."
        for x, y in dots.crossed_out
    ]
    if lost_lane:
        notes.append(
            "The pencilled circuit lines could not be followed from the battery on; they are not checked."
        )
    on_card = [
        (x, y) for x, y, _ in rims if 0 < x < straight.card.width_mm and 0 < y < straight.card.height_mm
    ]
    if on_card:
        notes.append(
            f"Something round lies on the card {place(*on_card[0], straight.card, units)}; "
            "what is under it can't be seen."
        )
    return tuple(notes)


def _sort_dots(
    straight: StraightCard, ink: Ink, judged: list[Judged], things: Things, rims: list[Disc], units: Units
) -> _Dots:
    """Lights, dots that are struck out, and what could be either or neither."""
    lights: list[SeenLight] = []
    crossed: list[Point] = []
    maybe: list[MaybeMark] = []
    doubts: list[str] = []
    for item in judged:
        blob = item.blob
        if item.verdict == "neither" or _on(ink, things.sure, blob) or _in_rim(blob, rims):
            continue
        crossing = judge_crossing(ink, blob.x_mm, blob.y_mm, blob.radius_mm, blob.level)
        if crossing == "crossed":
            crossed.append((blob.x_mm, blob.y_mm))
            continue
        why = None if item.verdict == "light" else item.why
        if crossing == "unclear":
            why = "a dot that is crossed out"
        elif _on(ink, things.perhaps, blob) or _over_the_edge(straight, blob):
            why = "a part of something that lies on the card"
        if why is None:
            lights.append(_light(blob, None))
            continue
        doubt = f"The mark {place(blob.x_mm, blob.y_mm, straight.card, units)}, could be a light or {why}."
        doubts.append(doubt)
        if item.verdict == "light":
            lights.append(_light(blob, doubt))
        else:
            maybe.append(MaybeMark("light", blob.x_mm, blob.y_mm, 2 * blob.radius_mm, doubt))
    taken = [light.centre for light in lights] + crossed + [(mark.x_mm, mark.y_mm) for mark in maybe]
    for blob in find_lonely_discs(ink, taken):
        if _on(ink, things.sure, blob) or _on(ink, things.perhaps, blob) or _in_rim(blob, rims):
            continue
        doubt = (
            f"The mark {place(blob.x_mm, blob.y_mm, straight.card, units)}, could be a thinly filled light "
            "or a rubbed-out dot."
        )
        doubts.append(doubt)
        maybe.append(MaybeMark("light", blob.x_mm, blob.y_mm, 2 * blob.radius_mm, doubt))
    lights.sort(key=lambda light: (light.y_mm, light.x_mm))
    return _Dots(tuple(lights), tuple(crossed), tuple(maybe), tuple(doubts))


def _on(ink: Ink, mask: BoolImage, blob: Blob) -> bool:
    column, row = np.round(ink.mm_to_work(np.array([[blob.x_mm, blob.y_mm]]))[0]).astype(int)
    return bool(0 <= row < mask.shape[0] and 0 <= column < mask.shape[1] and mask[int(row), int(column)])


def _over_the_edge(straight: StraightCard, blob: Blob) -> bool:
    """The mark reaches to the card's edge and runs on there, as a finger tip does."""
    x, y = blob.x_mm, blob.y_mm
    to_edge = min(x, y, straight.card.width_mm - x, straight.card.height_mm - y) - blob.radius_mm
    return to_edge < EDGE_MM and blob.strays > EDGE_STRAYS


def _rims(ink: Ink, rings: list[Ring], things: Things) -> list[Disc]:
    """Round things that lie on the card, as large as their shade goes."""
    return [
        (ring.x_mm, ring.y_mm, thing_reach_mm(ink, ring) + RIM_SKIRT_MM)
        for ring in rings
        if ring.cover >= SURE_COVER
        and (thing_likeness(ring) >= THING_FROM or _ring_on(ink, things.perhaps, ring))
    ]


def _in_rim(blob: Blob, rims: list[Disc]) -> bool:
    """The blob lies on a round thing, such as a coin's relief does."""
    return any(np.hypot(blob.x_mm - x, blob.y_mm - y) < radius for x, y, radius in rims)


def _light(blob: Blob, doubt: str | None) -> SeenLight:
    return SeenLight(blob.x_mm, blob.y_mm, 2 * blob.radius_mm, blob.sigma_mm, doubt is None, doubt)


def _circles(ink: Ink, rings: list[Ring], things: Things) -> tuple[SeenCircle, ...]:
    """The credible battery circles, the most complete first; rims of things are none."""
    found: list[SeenCircle] = []
    for ring in rings:
        likeness = thing_likeness(ring)
        if (
            ring.cover < CREDIBLE_COVER
            or ring.wobble_mm > CREDIBLE_WOBBLE * ring.radius_mm
            or likeness >= THING_FROM
            or _ring_on(ink, things.sure, ring)
            or _ring_on(ink, things.perhaps, ring)
        ):
            continue
        sure = (
            ring.cover >= SURE_COVER
            and ring.wobble_mm <= SURE_WOBBLE * ring.radius_mm
            and ring.longest_gap_deg <= SURE_GAP_DEG
            and likeness < SURE_PENCIL_BELOW
        )
        if not sure and any(_overlaps(ring, circle) for circle in found):
            continue
        doubt = None
        if not sure:
            doubt = (
                "A circle could be the battery circle or the rim of something that lies on the card."
                if likeness >= SURE_PENCIL_BELOW
                else "The battery circle has wide gaps or is far from round."
            )
        found.append(
            SeenCircle(
                ring.x_mm,
                ring.y_mm,
                2 * ring.radius_mm,
                ring.sigma_mm,
                2 * ring.radius_sigma_mm,
                sure,
                doubt,
            )
        )
    return tuple(sorted(found, key=lambda circle: not circle.sure))


def _ring_on(ink: Ink, mask: BoolImage, ring: Ring) -> bool:
    turns = np.arange(24) * (2 * np.pi / 24)
    points = np.column_stack(
        [ring.x_mm + ring.radius_mm * np.cos(turns), ring.y_mm + ring.radius_mm * np.sin(turns)]
    )
    return float(ink.sample_work(mask.astype(np.float32), points).mean()) > 0.5


def _overlaps(ring: Ring, circle: SeenCircle) -> bool:
    apart = np.hypot(ring.x_mm - circle.x_mm, ring.y_mm - circle.y_mm)
    return bool(apart < 0.5 * (ring.radius_mm + circle.diameter_mm / 2))


def _window(outline: Outline) -> SeenWindow:
    doubt = None
    if not outline.sure:
        doubt = "I'm not sure of the window's outline: it has wide gaps, or other lines run into it."
    corners = tuple((float(x), float(y)) for x, y in outline.polygon)
    return SeenWindow(corners, OUTLINE_SIGMA_MM, outline.sure, doubt)


def _clear(ink: Ink, thin: BoolImage, points_mm: NDArray[np.float64]) -> BoolImage:
    at = np.round(ink.mm_to_work(points_mm)).astype(int)
    rest = thin.copy()
    rest[at[:, 1], at[:, 0]] = False
    return rest


def _without(
    ink: Ink,
    strokes: Strokes,
    things: Things,
    rims: list[Disc],
    lights: tuple[SeenLight, ...],
    circles: tuple[SeenCircle, ...],
) -> BoolImage:
    """The thinned strokes without things, dots and the battery circle."""
    at = np.round(ink.mm_to_work(strokes.points_mm)).astype(int)
    gone: NDArray[np.bool_] = things.sure[at[:, 1], at[:, 0]].copy()
    for light in lights:
        offset = strokes.points_mm - light.centre
        gone |= np.hypot(offset[:, 0], offset[:, 1]) < light.diameter_mm / 2 + WIPE_DOT_MM
    for x, y, radius in rims:
        gone |= np.hypot(strokes.points_mm[:, 0] - x, strokes.points_mm[:, 1] - y) < radius
    for circle in circles[:1]:
        offset = strokes.points_mm - circle.centre
        distance = np.hypot(offset[:, 0], offset[:, 1])
        tangent = np.abs((offset * strokes.along).sum(axis=1)) / np.maximum(distance, 1e-9) < 0.5
        gone |= (np.abs(distance - circle.diameter_mm / 2) < WIPE_RING_MM) & tangent
    thin = strokes.thin.copy()
    thin[at[gone, 1], at[gone, 0]] = False
    return thin
