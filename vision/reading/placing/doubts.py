"""What speaks against a view that fits: doubts and notes about the card as it was laid.

In:    the photo's `Sight`, the `CardPose` that stands, the `View` made of it.
Out:   doubts, notes; none where all agrees.
Fails: never.
"""

from __future__ import annotations

import numpy as np

from circuit.layout import Doubt, Remark, Saying
from vision.arrays import Floats
from vision.reading.card.outline import apart_px
from vision.reading.fit.view import View
from vision.reading.placing.candidate import Candidate
from vision.reading.placing.edge_signs import (
    DOUBTED_SHARE,
    TOLD_LIFT_MM,
    departs_beyond_its_bend,
    has_else_beside_edges,
)
from vision.reading.placing.placing import CardPose
from vision.reading.sight import Sight

DOUBTED_MISFIT = 0.66  # see `Fit.misfit`, bends allowed for: 4 of 4,100 right cards have more
MOST_LIFT_MM = 4.6  # beyond this the shape of the bend is guesswork; of 4 mm it may come out so much
# Map px by which a card's side may lie off where a first look plainly sees it: measured, right ones stay under
# 0.45 where the look leaves no doubt (see `Outline.borne_out`), and go up to 1.5 where it is 0.8.
MOST_APART_PX, APART_IF_VAGUE_PX = 0.6, 6.0
# Where lines, square, shape and a known size all agree the look is rather what errs; what agrees by chance
# lies wholly elsewhere, as a tile of a wall or a square of a mat.
# Of 220 outlines that a look saw ten or more off, the wrong ones had a departure over 30.
APART_IF_AGREEING_PX = 25.0
# Places along a side at which a first look is asked, but for this share at its ends.
RING_POINTS, RING_ENDS = 9, 0.1


def doubts_of(sight: Sight, placing: CardPose, view: View, torn: bool) -> tuple[list[Doubt], list[Remark]]:
    """torn : whether another placing with an edge elsewhere explains the photo about as well."""
    flat, lift_mm = placing.flat, view.fit.lift_mm
    known = placing.match is not None
    says, notes = [], []
    if lift_mm > MOST_LIFT_MM:
        says.append(Saying("bent", {"lift_mm": lift_mm}))
    elif lift_mm > TOLD_LIFT_MM:
        notes.append(Remark("card", None, Saying("edge-up", {"lift_mm": lift_mm})))
    odd_shape = known and departs_beyond_its_bend(flat, view)
    faint = odd_shape and flat.least_share < DOUBTED_SHARE
    else_beside = has_else_beside_edges(sight.pixels, flat, view)
    if torn or faint or else_beside or not _is_where_it_is_seen(sight, side_places(view), placing.candidate):
        says.append(Saying("edges-faint"))
    elif odd_shape or view.fit.misfit > DOUBTED_MISFIT:
        says.append(Saying("not-flat"))
    return [Doubt("card", None, one) for one in says], notes


def _is_where_it_is_seen(sight: Sight, ring: Floats, candidate: Candidate) -> bool:
    """Whether a first look shows the card's sides there; or all else agrees, and no look shows a card far away.
    ring : (4, N, 2) photo px along them."""
    sheet, there = sight.sheet, sight.photo_to_map(ring)
    if candidate.agrees_closely and (sheet is None or apart_px(sheet, there) < APART_IF_AGREEING_PX):
        return True
    if sheet is None or not sheet.plain:
        return candidate.least_share > DOUBTED_SHARE
    return apart_px(sheet, there) < MOST_APART_PX + APART_IF_VAGUE_PX * (1 - sheet.borne_out)


def corners_mm(view: View) -> Floats:
    """(4, 2) corners of the card in its own frame, clockwise as seen."""
    width, height = view.card.width_mm, view.card.height_mm
    return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


def side_places(view: View) -> Floats:
    """(4, N, 2) places along the card's sides, the corners left out. [photo px]"""
    corners = corners_mm(view)
    t = np.linspace(RING_ENDS, 1 - RING_ENDS, RING_POINTS)[:, None]
    places = [corners[k] + t * (corners[(k + 1) % 4] - corners[k]) for k in range(4)]
    return view.to_photo(np.vstack(places)).reshape(4, RING_POINTS, 2)
