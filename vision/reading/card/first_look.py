"""A first look at the whole scene: where the card lies, and where the reference square's dark area.

In:    the reduced photo.
Out:   `FirstLook`: two maps of how likely each place belongs to card and square; all low where there is none.

A small network gives the maps (weights learnt by ``tests/benchmarks/train_first_look.py``, run by OpenCV). It
knows a card on striped cloth from the stripes, which lines alone can't. It measures nothing: it says
where to look closely, and whether what was measured is what a first look sees too.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.network import ask, chance_of
from vision.reading.small_picture import SmallPicture

SIDE = 320  # of the network's picture [px]; its maps have half of that
HALF_RANGE = 127.5  # of 8 bits: the network takes levels from -1 to 1
MAP = SIDE // 2
WEIGHTS_FILE = Path(__file__).with_name("first_look.onnx")

Chances = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class FirstLook:
    """card, square : (h, w) chances 0..1 over the picture alone; scale : map px per small px.

    The card's map covers its whole face, whatever lies on it; the square's its dark part.
    """

    card: Chances
    square: Chances
    scale: float

    def to_small(self, points: Floats) -> Floats:
        """Small-picture pixels of (..., 2) map pixels (pixel centres at integers in both)."""
        return (np.asarray(points, dtype=np.float64) + 0.5) / self.scale - 0.5

    def to_map(self, points: Floats) -> Floats:
        """Map pixels of (..., 2) small-picture pixels."""
        return (np.asarray(points, dtype=np.float64) + 0.5) * self.scale - 0.5


def take_first_look(small: SmallPicture) -> FirstLook:
    """The maps of one picture."""
    width, height = small.size
    scale = SIDE / max(width, height)
    # Whole map pixels, so that the picture's border is one of the maps too.
    wide, high = (max(2, 2 * round(length * scale / 2)) for length in (width, height))
    left, top = ((SIDE - length) // 4 * 2 for length in (wide, high))
    shrunk = cv2.resize(
        small.rgb, (wide, high), interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    )
    boxed = np.zeros((1, 3, SIDE, SIDE), np.float32)
    boxed[0, :, top : top + high, left : left + wide] = shrunk.transpose(2, 0, 1) / np.float32(HALF_RANGE) - 1
    logits = ask(WEIGHTS_FILE, boxed)
    # Each cell holds the four quarters of both maps.
    quarters = logits.reshape(2, 2, 2, MAP // 2, MAP // 2).transpose(0, 3, 1, 4, 2).reshape(2, MAP, MAP)
    seen = quarters[:, top // 2 : (top + high) // 2, left // 2 : (left + wide) // 2]
    chances = chance_of(seen)
    return FirstLook(chances[0], chances[1], scale / 2)
