"""Where a lamp's reflection whites the card out, so that a mark beneath it could not be seen.

In:    a `StraightCard` and its `Ink`.
Out:   the middle of every such patch. [mm]
Fails: never.

A patch counts where the camera is at its limit in all three colours, over more than a small dot, on paper that it
else sees well below that limit, and where the light falls off about it as a reflection's does. A bright thing that
lies on the card ends in an edge instead, with bare paper beside it.
"""

from __future__ import annotations

import cv2
import numpy as np

from circuit.layout import Point
from vision.reading.marks.ink import Ink
from vision.reading.marks.reduced import disc
from vision.straight_card import StraightCard, px_to_mm

LIMIT = 250  # chosen: of 255; noise and a JPEG's blocks leave a few levels under the sensor's limit
LEAST_MM = 3.0  # chosen: narrower ones hide no dot of 2 mm and more whole
JOINED_MM = 2.0  # chosen: lines and rims on a bright thing don't part it
# Chosen: of the limit. Lit paper that is lighter needs so little more to reach it that uneven light does it, and
# pencil mostly still shows there.
MOST_PAPER = 0.75
LIT_PERCENT = 75.0  # chosen: of the face; a shadow over most of a card leaves lit paper to compare with
RIM_MM = (0.5, 2.0)  # beyond the patch's edge: past the blur, within what a reflection takes to fall off
LEAST_RIM = 1.08  # chosen: over the paper's brightness; a lamp's falloff along the card is less within 2 mm


def glare_spots(straight: StraightCard, ink: Ink) -> list[Point]:
    """Middles of the patches that are whited out, the largest first. [mm]"""
    bright = ink.coarse.min(axis=2)
    rows, columns = bright.shape
    px_per_mm = straight.px_per_mm * columns / straight.pixels.shape[1]
    face = cv2.resize(ink.work_face.astype(np.uint8), (columns, rows), interpolation=cv2.INTER_NEAREST) > 0
    white = ((bright >= LIMIT) & face).astype(np.uint8)
    if not white.any():
        return []
    paper = float(np.percentile(bright[face], LIT_PERCENT))
    if paper > MOST_PAPER * LIMIT:
        return []
    white = cv2.morphologyEx(white, cv2.MORPH_CLOSE, disc(JOINED_MM / 2, px_per_mm))
    white = cv2.morphologyEx(white, cv2.MORPH_OPEN, disc(LEAST_MM / 2, px_per_mm)).astype(np.uint8)
    count, labels, stats, middles = cv2.connectedComponentsWithStats(white, connectivity=8)
    found = []
    for k in range(1, count):
        patch = (labels == k).astype(np.uint8)
        near, far = (cv2.dilate(patch, disc(reach, px_per_mm)) > 0 for reach in RIM_MM)
        rim = bright[far & ~near & face]
        if rim.size and float(np.median(rim)) > LEAST_RIM * paper:
            at = px_to_mm(middles[k], px_per_mm, straight.margin_mm)
            found.append((int(stats[k, cv2.CC_STAT_AREA]), (float(at[0]), float(at[1]))))
    return [at for _, at in sorted(found, reverse=True)]
