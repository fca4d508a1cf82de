"""The squares where a first look sees some, and those of the whole picture where it sees none.

In:    the photo, its reduced copy and the first look.
Out:   `SquareSeen`s, coded ones before plain ones; [] when there is none.
"""

from __future__ import annotations

from collections.abc import Sequence

from vision.arrays import RgbImage
from vision.reading.card.outline import Outline, outlines
from vision.reading.card.scene import Scene
from vision.reading.small_picture import SmallPicture
from vision.reading.square.coded import codes_in, find_coded_squares
from vision.reading.square.patch import FOUND_REACH_PX, ROUGH_REACH_PX, Patch, by_colour, dark_fours
from vision.reading.square.plain import find_plain_squares
from vision.reading.square.seen import SquareSeen, alike, distinct, refine_square, solid

CUT_SIDE = 0.35  # share of a side that is the picture's border, from which a square counts as cut
LEAST_MAP_PX = 3.0  # side of the smallest patch of the map that is looked at
MOST_PLACES = 4
PATCH_CONSTANTS = (7.0, 3.0)  # threshold constants of the marker search: a dim or faint print needs the lower


def squares_at(
    pixels: RgbImage, small: SmallPicture, scene: Scene
) -> tuple[list[SquareSeen], list[SquareSeen]]:
    """The squares where a first look sees some, the coded ones if there are any, else the plain ones; and
    other ways to lay the plain ones' sides, where something beside them looks like a side, too."""
    places = outlines(scene.square, LEAST_MAP_PX, MOST_PLACES)
    seen = [ways for place in places if (ways := _squares_at(pixels, small, scene, place))]
    coded = [ways[0] for ways in seen if ways[0].kind == "coded"]
    if coded:
        return sorted(coded, key=lambda square: -square.side_px), []
    return [ways[0] for ways in seen], [way for ways in seen for way in ways[1:]]


def search_squares(pixels: RgbImage, small: SmallPicture) -> list[SquareSeen]:
    """The squares of the whole picture: dearer than to look where some are seen."""
    return find_coded_squares(pixels) or find_plain_squares(pixels, small)


def relaid_by_colour(
    pixels: RgbImage, small: SmallPicture, scene: Scene, known: Sequence[SquareSeen]
) -> list[SquareSeen]:
    """Plain squares where a first look sees some or where some are known, laid anew by colour."""
    places = [
        small.to_photo(scene.to_small(place.corners))
        for place in outlines(scene.square, LEAST_MAP_PX, MOST_PLACES)
        if place.on_border.max() <= CUT_SIDE
    ]
    places += [one.corners for one in known if not any(alike(one.corners, place) for place in places)]
    return [
        seen
        for rough in places[:MOST_PLACES]
        for seen in by_colour(pixels, small, Patch.about(pixels, rough), rough)
    ]


def _squares_at(pixels: RgbImage, small: SmallPicture, scene: Scene, place: Outline) -> list[SquareSeen]:
    """The ways to lay a square at one patch of the scene's map, the clearest first; [] when it is none or
    can't be made out."""
    rough = small.to_photo(scene.to_small(place.corners))
    patch = Patch.about(pixels, rough)
    for threshold_constant in PATCH_CONSTANTS:
        for corners, number in codes_in(patch.rgb, threshold_constant):
            seen = refine_square(pixels, patch.to_photo(corners), 3.0 * patch.step, "coded", float(number))
            if seen is not None:
                return [seen]
    if place.on_border.max() > CUT_SIDE:
        return []
    # The place as first seen only where no dark shape serves: those lie nearer.
    for tries in (
        [(corners, FOUND_REACH_PX) for corners in dark_fours(patch, rough)],
        [(patch.to_patch(rough), ROUGH_REACH_PX)],
    ):
        laid = (
            refine_square(pixels, patch.to_photo(corners), reach_px * patch.step, "plain", None)
            for corners, reach_px in tries
        )
        ways = [
            seen for seen in laid if seen is not None and alike(seen.corners, rough) and solid(small, seen)
        ]
        if ways:
            return distinct(ways)
    return distinct(by_colour(pixels, small, patch, rough))
