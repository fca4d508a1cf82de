"""Small coloured things that lie on the card, such as a light laid on its dot: what is under them can't be seen.

In:    a `StraightCard` and its `Ink`.
Out:   the middle and the size of every such thing. [mm]
Fails: never.

Pencil takes as much of each colour away; what takes or gives one colour more than another is no pencil. Lines are
too thin to hide a dot; what is larger than any light, or reaches in over the card's edge, its maker sees, with all
that lies beside it.
"""

from __future__ import annotations

import cv2
import numpy as np

from circuit.layout import Point
from vision.reading.marks.ink import DARKEST_PAPER, Ink, bare_paper, paper_scale
from vision.reading.marks.reduced import disc, reduced
from vision.straight_card import StraightCard, px_to_mm

PX_PER_MM = 4.0  # chosen: the smallest thing is six pixels of this wide
SMOOTHED_MM = 0.25  # chosen: of a JPEG's colour, which it keeps at half the pixels
# Measured: the range of the three colours, each over the paper's. Yellow phosphor on a white body has 0.4 to 0.6,
# shadows, coloured light, graphite and a coin up to 0.28.
LEAST_COLOUR = 0.3
JOINED_MM = 1.0  # chosen: shades and highlights on one thing don't part it
EDGE_MM = 2.5  # chosen: fingers and things that reach in fade into the table's shadow there
BESIDE_MM = 5.0  # chosen: shaded sides and nails of a large thing lie so near to it
LEAST_MM, MOST_MM = 1.5, 7.0  # chosen: a light's coloured face; the longest light's body and its shadow


def coloured_things(straight: StraightCard, ink: Ink) -> list[tuple[Point, float]]:
    """Middle and longer side of every small coloured thing, the largest first. [mm]"""
    paper_px, small, known = paper_scale(straight), ink.coarse, ink.coarse_face
    if not known.any():
        return []
    colours = reduced(straight.pixels, min(1.0, PX_PER_MM / straight.px_per_mm))
    paper = np.dstack(
        [bare_paper(small[..., k], known, straight.px_per_mm * paper_px) for k in range(small.shape[2])]
    )
    rows, columns = colours.shape[:2]
    px_per_mm = straight.px_per_mm * columns / straight.pixels.shape[1]
    over = colours / np.maximum(cv2.resize(paper, (columns, rows)), DARKEST_PAPER)
    over = cv2.GaussianBlur(over.astype(np.float32), (0, 0), SMOOTHED_MM * px_per_mm)
    face = cv2.resize(ink.work_face.astype(np.uint8), (columns, rows), interpolation=cv2.INTER_NEAREST)
    red, green, blue = cv2.split(over)
    apart = cv2.max(cv2.max(red, green), blue) - cv2.min(cv2.min(red, green), blue)
    coloured = ((apart > LEAST_COLOUR) & (face > 0)).astype(np.uint8)
    whole = cv2.morphologyEx(coloured, cv2.MORPH_CLOSE, disc(JOINED_MM / 2, px_per_mm))
    wide_enough = cv2.morphologyEx(whole, cv2.MORPH_OPEN, disc(LEAST_MM / 2 - SMOOTHED_MM, px_per_mm))
    if not wide_enough.any():
        return []
    at_edge = cv2.dilate((face == 0).astype(np.uint8), disc(EDGE_MM, px_per_mm))
    _, labels, stats, middles = cv2.connectedComponentsWithStats(whole)
    long_mm = stats[:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1) / px_per_mm
    large = {*np.unique(labels[at_edge > 0]).tolist(), *np.flatnonzero(long_mm > MOST_MM).tolist()} - {0}
    beside = cv2.dilate(np.isin(labels, list(large)).astype(np.uint8), disc(BESIDE_MM, px_per_mm))
    left_out = {0, *np.unique(labels[beside > 0]).tolist()}
    found = []
    for k in sorted(set(np.unique(labels[wide_enough > 0]).tolist()) - left_out):
        x, y = px_to_mm(middles[k], px_per_mm, straight.margin_mm)
        found.append(((float(x), float(y)), float(long_mm[k])))
    return sorted(found, key=lambda thing: -thing[1])
