"""What to say of a photo in which square or card could not be found: the cause as it looks from the scene.

In:    the photo's `Sight` and what was found so far.
Out:   the `PhotoError` to raise, which names the cause and the remedy.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vision.arrays import Floats, RgbImage
from vision.errors import (
    CardCutOffError,
    NoCardError,
    NoSquareError,
    PhotoError,
    SquareCutOffError,
    TooBlurredError,
    TooDarkError,
    TooSmallError,
)
from vision.reading.card.find_card import quad_of_outline
from vision.reading.card.outline import Outline
from vision.reading.edges.find_edge import find_edge
from vision.reading.four_corners import side_lengths
from vision.reading.quality import blur_across, blurred_at_large, most_blur_px
from vision.reading.sight import Sight
from vision.reading.square.find_squares import CUT_SIDE
from vision.reading.square.square_edges import REACH_SHARE, SquareSeen


def no_square(sight: Sight) -> PhotoError:
    """Why there is no square."""
    cut = [patch for patch in sight.patches if _runs_out(patch)]
    if cut:
        return square_cut_off(sight.pixels, sight.map_to_photo(cut[0].corners))
    if is_blurred(sight, ()):
        return too_blurred()
    return NoSquareError(
        "There is no reference square in this picture; lay the printed square or a dark paper square flat on "
        "the card or beside it, wholly in the picture, and take it again."
    )


def no_card(sight: Sight, squares: Sequence[SquareSeen], curled: bool = False) -> PhotoError:
    """Why there is no card, though there is a square. curled : its edges are seen well, yet are no flat card's."""
    sheet = sight.sheet
    if sheet is not None and sheet.cut_off:
        corners = sight.map_to_photo(sheet.corners)
        outside = beyond(sight.pixels, corners)
        return card_cut_off(sight.pixels, outside if len(outside) else corners)
    if sight.patches and all(_runs_out(patch) for patch in sight.patches):
        return square_cut_off(sight.pixels, sight.map_to_photo(sight.patches[0].corners))
    if is_blurred(sight, squares):
        return too_blurred()
    if curled:
        return NoCardError(
            "I see the card's edges, but they are not those of a flat card: it curls, or the square stands up. Press "
            "both flat, weigh the card down at its edges, and take it again."
        )
    return NoCardError(
        "I can't make out the card's four edges; lay it on a table of another colour, with nothing over its "
        "edges, and take it again."
    )


def is_blurred(sight: Sight, squares: Sequence[SquareSeen]) -> bool:
    """Whether square and card themselves are seen blurred; where neither is to be seen, the whole picture.

    Measured in the small picture, where the edges of a blurred photo are edges still. The sharpest thing
    speaks for the photo: an edge that is hardly to be seen looks wide, too.
    """
    small = sight.small
    spreads = [blur_across(square.sides) * small.scale for square in squares]
    for seen in (*sight.sheets[:1], *sight.patches):
        quad = quad_of_outline(sight.first_look, seen)
        side_px = float(side_lengths(quad.corners).min())
        edges = [
            find_edge(
                small.rgb,
                quad.course(side, BLUR_PROFILES, BLUR_ENDS),
                min(BLUR_REACH_PX, side_px * REACH_SHARE),
            )
            for side in range(4)
        ]
        plain = [edge if edge is not None and abs(edge.contrast) > LEAST_CONTRAST else None for edge in edges]
        # A shaken photo shows its edges in one direction only: one of each direction must speak.
        if any(plain[0::2]) and any(plain[1::2]):
            spreads.append(blur_across(plain))
    if not spreads:
        return blurred_at_large(small)
    return min(spreads) > most_blur_px(sight.pixels) * small.scale


BLUR_PROFILES, BLUR_ENDS, BLUR_REACH_PX = 40, 0.1, 5.0  # along one side in the small picture
LEAST_CONTRAST = 0.03  # of linear light, under which an edge's own spread drowns in noise


def _runs_out(place: Outline) -> bool:
    """Whether a patch of the map is a square that goes on beyond the border, and no shade at the border."""
    plain = place.borne_out > CUT_PLAIN or (place.filled > CUT_FILLED and place.borne_out > CUT_BORNE_OUT)
    return plain and bool(place.on_border.max() > CUT_SIDE)


# Measured: of 24 cut squares 22 are as plain as this, of 8 other things at the border none.
CUT_PLAIN, CUT_FILLED, CUT_BORNE_OUT = 0.8, 0.86, 0.4


def square_cut_off(pixels: RgbImage, corners: Floats) -> SquareCutOffError:
    """The error for a square with these (4, 2) corners [photo px], some of them beyond the picture."""
    return SquareCutOffError(
        "The reference square is not wholly in the picture; step back until the whole card and the whole "
        "square are in it, and take it again.",
        [_inside(pixels, corners.mean(axis=0))],
    )


def beyond(pixels: RgbImage, corners: Floats, slack_px: float = 0.0) -> Floats:
    """(K, 2) of (N, 2) corners that lie outside the picture by more than `slack_px`."""
    limits = np.array(pixels.shape[1::-1]) - 1
    outside = ((corners < -slack_px) | (corners > limits + slack_px)).any(axis=1)
    return np.asarray(corners[outside], dtype=np.float64)


def _inside(pixels: RgbImage, point: Floats) -> tuple[float, float]:
    x, y = np.clip(point, 0, np.array(pixels.shape[1::-1]) - 1)
    return float(x), float(y)


def card_cut_off(pixels: RgbImage, corners: Floats) -> CardCutOffError:
    """For a card of which these (N, 2) corners [photo px] are out of the picture."""
    return CardCutOffError(
        "The card is not wholly in the picture; step back until all four corners are in it, and take it again.",
        [_inside(pixels, corner) for corner in corners],
    )


def too_blurred() -> TooBlurredError:
    return TooBlurredError(
        "The photo is too blurred to read; hold the phone still, tap the card so that it focuses there, and "
        "take it again."
    )


def photo_too_dark() -> TooDarkError:
    return TooDarkError("The photo is too dark to read; take it again by daylight or under a lamp.")


def photo_too_small() -> TooSmallError:
    return TooSmallError(
        "This picture is only a few dots wide; take the photo itself, not its preview, and try again."
    )


def card_too_small() -> TooSmallError:
    return TooSmallError(
        "The card is too small in this picture for its pencil marks; go nearer, or use the photo at full "
        "size, and take it again."
    )
