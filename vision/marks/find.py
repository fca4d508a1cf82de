"""All mark finders in their order: ink, dots, circle, outline, drawn lines."""

from __future__ import annotations

import numpy as np

from circuit.settings import Units
from vision.marks.battery import Ring, find_rings
from vision.marks.blobs import Blob, find_blobs
from vision.marks.crossings import judge_crossing
from vision.marks.dots import judge_dots
from vision.marks.graph import build_graph
from vision.marks.ink import BoolImage, Ink, read_ink
from vision.marks.places import place
from vision.marks.seen import MarksSeen, MaybeMark, SeenCircle, SeenLight, SeenWindow
from vision.marks.strokes import Strokes, trace_strokes
from vision.marks.traits import base_traits
from vision.marks.window import Outline, find_outline
from vision.straight import StraightCard

SURE_COVER = 0.85  # chosen: of the way round; a hand-drawn ring with a gap has this much
CREDIBLE_COVER = 0.68
RING_WOBBLE = 0.05  # chosen: of the radius
OUTLINE_SIGMA_MM = 0.15  # the hand's own wander and half a pixel


def find_marks(straight: StraightCard, units: Units = "mm") -> MarksSeen:
    """Every pencil mark on the card; `units` only for the lengths in doubts."""
    ink = read_ink(straight)
    strokes = trace_strokes(ink)
    rings = [ring for ring in find_rings(ink, strokes) if ring.cover >= CREDIBLE_COVER]
    circles = tuple(_circle(ring) for ring in rings if abs(ring.inside_tone - 1.0) < 0.03)
    blobs = find_blobs(ink)
    judged = judge_dots(blobs, base_traits(ink, strokes, blobs, straight.blur_mm))
    lights, crossed, doubts, maybe = [], [], [], []
    for item in judged:
        blob = item.blob
        if item.verdict == "neither":
            continue
        where = place(blob.x_mm, blob.y_mm, straight.card, units)
        crossing = judge_crossing(ink, blob.x_mm, blob.y_mm, blob.radius_mm, blob.level)
        if crossing == "crossed":
            crossed.append((blob.x_mm, blob.y_mm))
        elif item.verdict == "light" and crossing == "clear":
            lights.append(_light(blob, None))
        else:
            why = "a dot that is crossed out" if crossing == "unclear" else item.why
            doubt = f"A mark {where}, could be a light or {why}."
            doubts.append(doubt)
            if item.verdict == "light":
                lights.append(_light(blob, doubt))
            else:
                maybe.append(MaybeMark("light", blob.x_mm, blob.y_mm, 2 * blob.radius_mm, doubt))
    thin = strokes.thin.copy()
    dots = [(light.x_mm, light.y_mm, light.diameter_mm / 2) for light in lights]
    _wipe(ink, thin, strokes, dots, circles)
    graph = build_graph(ink, thin, dots)
    outline = find_outline(ink, strokes, graph, straight.square_mm)
    window = None
    if outline is not None:
        window, doubt = _window(outline)
        if doubt is not None:
            doubts.append(doubt)
    return MarksSeen(
        lights=tuple(sorted(lights, key=lambda light: (light.y_mm, light.x_mm))),
        circles=circles,
        window=window,
        crossed_out=tuple(crossed),
        doubts=tuple(doubts),
        maybe=tuple(maybe),
        ink_share=float((ink.work > 0.2).mean()),
    )


def _window(outline: Outline) -> tuple[SeenWindow, str | None]:
    doubt = None if outline.sure else (
        "I'm not sure of the window's outline: it has wide gaps, or other lines run into it."
    )
    corners = tuple((float(x), float(y)) for x, y in outline.polygon)
    return SeenWindow(corners, OUTLINE_SIGMA_MM, outline.sure, doubt), doubt


def _light(blob: Blob, doubt: str | None) -> SeenLight:
    return SeenLight(blob.x_mm, blob.y_mm, 2 * blob.radius_mm, blob.sigma_mm, doubt is None, doubt)


def _circle(ring: Ring) -> SeenCircle:
    sure = ring.cover >= SURE_COVER and ring.wobble_mm <= RING_WOBBLE * ring.radius_mm
    return SeenCircle(
        ring.x_mm,
        ring.y_mm,
        2 * ring.radius_mm,
        ring.sigma_mm,
        2 * ring.radius_sigma_mm,
        sure,
        None if sure else "The battery circle has wide gaps.",
    )


def _wipe(
    ink: Ink,
    thin: BoolImage,
    strokes: Strokes,
    dots: list[tuple[float, float, float]],
    circles: tuple[SeenCircle, ...],
) -> None:
    """Take the dots and the battery circle out of the thinned strokes."""
    at = np.round(ink.mm_to_work(strokes.points_mm)).astype(int)
    gone = np.zeros(len(at), dtype=np.bool_)
    for x, y, radius in dots:
        offset = strokes.points_mm - (x, y)
        gone |= np.hypot(offset[:, 0], offset[:, 1]) < radius + 0.3
    for circle in circles[:1]:
        offset = strokes.points_mm - circle.centre
        distance = np.hypot(offset[:, 0], offset[:, 1])
        tangent = np.abs((offset * strokes.along).sum(axis=1)) / np.maximum(distance, 1e-9) < 0.5
        gone |= (np.abs(distance - circle.diameter_mm / 2) < 1.0) & tangent
    thin[at[gone, 1], at[gone, 0]] = False
