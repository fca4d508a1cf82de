"""Plain squares anywhere in the picture: dark paper, or paper of another colour than the table.

In:    a `Sight`.
Out:   `SquareSeen`s, the likeliest first. Each is only a candidate: which dark square is the reference is
       settled together with the card, in `vision.reading.placing.find_view`.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np

from vision.arrays import Floats
from vision.reading.sight import Sight
from vision.reading.square.dark_patches import Patches, patches_below
from vision.reading.square.patch import GRAIN_PX, Patch, by_colour
from vision.reading.square.square_edges import SquareSeen, alike, clearness, solid

SAME_PLACE_PX = 8.0  # patches of one thing at several thresholds; small px
TRIES_EACH = 3  # thresholds at which one thing's edges are laid, the clearest kept
MOST_LAID = 3  # chosen: times as many things are looked at as squares are wanted
# Shares of the picture below the levels that are tried in each channel.
LEVEL_SHARES = (0.005, 0.02, 0.04, 0.07, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6)
FAR_LEVELS = 12
EVERY = 4  # chosen: row and column from which the levels are told
MOST_COLOURED, MOST_PLACES = 8, 12  # of one channel, and of all; chosen
MOST_PLAIN = 6
COLOUR_SMOOTH_PX = 1.2  # chosen: before patches are cut out


def find_plain_squares(
    sight: Sight,
    most: int = MOST_PLAIN,
    likely: Callable[[Floats], bool] = lambda corners: True,
    worth_laying: Callable[[Floats], bool] = lambda corners: True,
) -> list[SquareSeen]:
    """Dark four-cornered patches that may be a plain square, the most square-like first.

    likely : tells by rough corners, (4, 2) [photo px], whether a patch is one of the things that are looked at;
    worth_laying : which of these could matter, since laying their sides takes longest."""
    small = sight.small
    # Each thing's middle and its patches, the likeliest thing first.
    places: list[tuple[Floats, list[int]]] = []
    for k, (_, corners) in enumerate(sight.dark_patches()):
        if not likely(small.to_photo(corners)):
            continue
        middle = corners.mean(axis=0)
        own = next((its for at, its in places if np.linalg.norm(at - middle) < SAME_PLACE_PX), None)
        if own is None:
            if len(places) == MOST_LAID * most:
                break  # what comes now is likely nothing, nor another threshold of what came
            places.append((middle, [k]))
        elif len(own) < TRIES_EACH:
            own.append(k)
    kept: list[SquareSeen] = []
    for _, its in places:
        worth = (k for k in its if worth_laying(small.to_photo(sight.dark_patches()[k][1])))
        ways = [seen for k in worth if (seen := sight.laid(k)) is not None]
        if ways:
            kept.append(max(ways, key=clearness))
        if len(kept) == most:
            break
    return kept


def search_coloured_squares(sight: Sight) -> list[SquareSeen]:
    """Plain squares anywhere that stand out by colour alone; dear, and only for when nothing else is seen."""
    small = sight.small
    rough: Patches = []
    for channel in range(3):
        values = small.lab[:, :, channel]
        low, high = float(values.min()), float(values.max())
        coarse = np.clip((values - low) * (255 / max(high - low, 1e-6)), 0, 255).astype(np.uint8)
        fine = cv2.medianBlur(coarse, GRAIN_PX).astype(np.float32)
        smooth = cv2.GaussianBlur(fine, (0, 0), COLOUR_SMOOTH_PX)
        for way in (1.0, -1.0):
            tint = way * smooth
            ends = np.quantile(tint[::EVERY, ::EVERY], LEVEL_SHARES)
            # A small square of a colour of its own lies far from all else, one like its table among it.
            levels = np.unique(np.append(np.linspace(ends[0], ends[-1], FAR_LEVELS), ends).round(1))
            rough += patches_below(small, tint, levels)[:MOST_COLOURED]
    # What fills four sides best in any channel comes first, and each place is looked at closely once.
    rough.sort(key=lambda item: item[0])
    places: list[Floats] = []
    for _, corners in rough:
        if len(places) < MOST_PLACES and not any(alike(corners, place) for place in places):
            places.append(corners)
    found: list[SquareSeen] = []
    for place in places:
        corners = small.to_photo(place)
        if solid(small, corners):
            found += by_colour(sight, Patch.about(sight.pixels, corners), corners)
    return sorted(found, key=lambda square: -clearness(square))[:MOST_COLOURED]
