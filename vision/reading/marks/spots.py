"""Every place on the card that could be a filled-in dot, measured.

In:    `Ink` and the network's `Likeness`.
Out:   `Blob`s: dark compact spots, what the network takes for a light though no spot stands out there, and spots
       that lie alone once more as the clouds of specks they may be.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vision.arrays import Floats
from vision.reading.marks.blobs import CLOUD_MM, Blob, measure_blobs
from vision.reading.marks.ink import Ink
from vision.reading.marks.likeness import Likeness
from vision.reading.marks.probe import probed_places
from vision.reading.marks.traits import bare_about

PLACE_FROM = 0.4  # chosen: of the light's map, under the even chance, so that no likely place is left out
APART_MM = 1.2  # chosen: half a usual dot; nearer than this a spot stands there already


def find_spots(ink: Ink, likeness: Likeness) -> list[Blob]:
    """Every spot to be judged; the same dot may be among them more than once."""
    spots = measure_blobs(ink, probed_places(ink))
    places = [
        place
        for place in likeness.patches("light", PLACE_FROM)[0]
        if all(np.hypot(place[0] - spot.x_mm, place[1] - spot.y_mm) > APART_MM for spot in spots)
    ]
    spots += measure_blobs(ink, np.array(places).reshape(-1, 2), CLOUD_MM)
    return spots + _clouds(ink, spots)


def _clouds(ink: Ink, spots: Sequence[Blob]) -> list[Blob]:
    """Spots with nothing about them, smoothed: in a half filled or thinly filled dot the rays settle on its
    darkest part."""
    alone = bare_about(ink, spots)
    starts: Floats = np.array([(spot.x_mm, spot.y_mm) for spot in spots]).reshape(-1, 2)[alone]
    return measure_blobs(ink, starts, CLOUD_MM)
