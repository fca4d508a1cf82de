"""All that is made of a photo before anything is measured in it, made once.

In:    the photo's pixels.
Out:   a `Sight`: the photo, its reduced copy, the first look, and where that sees card and square.
Fails: never; a picture of nothing has no sheets and no patches.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial

from vision.arrays import Floats, RgbImage
from vision.reading.card.first_look import FirstLook, take_first_look
from vision.reading.card.outline import Outline, outlines, sheets
from vision.reading.small_picture import SmallPicture, shrink
from vision.reading.square.dark_patches import Patches, dark_patches
from vision.reading.square.square_edges import SquareSeen, refine_square, solid

LEAST_PATCH_PX = 3.0  # side of the smallest patch of the square's map that is looked at
MOST_PATCHES = 4
PATCH_REACH_PX = 4.0  # small px by which a dark patch's corners may lie off the square's; chosen


@dataclass(frozen=True, slots=True)
class Sight:
    """pixels : the photo; small : its reduced copy; first_look : where that shows card and square; sheets : outlines
    that it gives the card, the likeliest first; patches : of where it sees a square, the largest first. Outlines are
    in map pixels. dark_patches : the small picture's, looked for when first asked for; laid : the plain square of
    the k-th of them, measured when first asked for."""

    pixels: RgbImage
    small: SmallPicture
    first_look: FirstLook
    sheets: tuple[Outline, ...]
    patches: tuple[Outline, ...]
    dark_patches: Callable[[], Patches]
    laid: Callable[[int], SquareSeen | None]

    @property
    def sheet(self) -> Outline | None:
        """The likeliest outline of the card; None where the first look sees none."""
        return next(iter(self.sheets), None)

    def map_to_photo(self, points: Floats) -> Floats:
        """Photo pixels of the first look's (..., 2) map pixels."""
        return self.small.to_photo(self.first_look.to_small(points))

    def photo_to_map(self, points: Floats) -> Floats:
        """The first look's map pixels of (..., 2) photo pixels."""
        return self.first_look.to_map(self.small.to_small(points))


def first_sight(pixels: RgbImage) -> Sight:
    """Take in a photo as a whole."""
    small = shrink(pixels)
    look = take_first_look(small)
    patches = outlines(look.square, LEAST_PATCH_PX, MOST_PATCHES)
    dark = cache(partial(dark_patches, small))

    @cache
    def laid(k: int) -> SquareSeen | None:
        corners = small.to_photo(dark()[k][1])
        if not solid(small, corners):  # first, since it costs least
            return None
        seen = refine_square(pixels, corners, PATCH_REACH_PX / small.scale, "plain", None)
        return seen if seen is not None and solid(small, seen.corners) else None

    return Sight(pixels, small, look, tuple(sheets(look.card)), tuple(patches), dark, laid)
