"""What each spot of the card looks like to a small trained network: light, battery, window, line.

In:    a `StraightCard` and its `Ink`.
Out:   `Likeness`: one map per kind of mark, 0 (no) to 1 (surely).
Fails: never; a blank card gives maps near 0.

The weights, marks.onnx, were learnt by tests/benchmarks/train_marks.py from simulated cards. The network
only judges what a mark is; where it lies is measured on the ink itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from circuit.layout import Point
from vision.arrays import AnyFloats, FloatImage, Floats
from vision.reading.marks.ink import Ink
from vision.reading.marks.places import rings, values_at
from vision.reading.middle import median
from vision.reading.network import ask
from vision.straight_card import Points, StraightCard, mm_to_px, px_to_mm

CHANNELS = ("light", "crossed", "battery", "window", "line")
PX_PER_MM = 4.0  # chosen: a 0.4 mm stroke is still 1.6 px
STRIDE = 2  # input pixels per map pixel
BLOCK = 32  # the network halves the picture five times
TONE = 160.0  # the number that stands for bare paper
CHROMA = 220.0  # per unit of difference between colour shares
GREY = 128.0
DIMMEST = 12.0  # chosen: added to the sum of three bytes, so that black has no colour
ROUND_TURNS = 24  # chosen: of a circle the size of a battery's, a place in 3 mm
WEIGHTS_FILE = Path(__file__).with_name("marks.onnx")


@dataclass(frozen=True, slots=True)
class Likeness:
    """maps : (len(CHANNELS), h, w) float32 at PX_PER_MM / STRIDE, with the card's margin round it."""

    maps: FloatImage
    px_per_mm: float
    margin_mm: float

    def of(self, kind: str) -> FloatImage:
        """One kind's map, (h, w)."""
        return np.asarray(self.maps[CHANNELS.index(kind)], dtype=np.float32)

    def to_px(self, points_mm: Points) -> Points:
        """Map positions of (N, 2) card millimetres."""
        return mm_to_px(points_mm, self.px_per_mm, self.margin_mm)

    def to_mm(self, points_px: Points) -> Points:
        """Card millimetres of (N, 2) map positions."""
        return px_to_mm(points_px, self.px_per_mm, self.margin_mm)

    def sample(self, kind: str, points_mm: Points) -> FloatImage:
        """One kind's map at (..., 2) card millimetres; 0 outside."""
        return self.read(self.of(kind), points_mm)

    def read(self, image: FloatImage, points_mm: AnyFloats) -> FloatImage:
        """Any image that lies as the maps do at (..., 2) card millimetres; 0 outside."""
        at = (points_mm.astype(np.float32) + np.float32(self.margin_mm)) * np.float32(self.px_per_mm)
        return values_at(image, at - np.float32(0.5))

    def round_about(self, kind: str, middle_mm: Point, radii_mm: Floats) -> FloatImage:
        """(radii, turns) one kind's map on circles round a place."""
        return self.sample(kind, rings(np.array([middle_mm]), radii_mm, ROUND_TURNS)[0])

    def patches(self, kind: str, limit: float) -> tuple[Points, Floats]:
        """(N, 2) middles [mm] and (N,) areas [mm2] of the connected places above a limit."""
        above = (self.of(kind) > limit).astype(np.uint8)
        _, _, stats, middles = cv2.connectedComponentsWithStats(above, connectivity=8)
        return self.to_mm(middles[1:]), stats[1:, cv2.CC_STAT_AREA] / self.px_per_mm**2


def network_input(straight: StraightCard, ink: Ink) -> NDArray[np.uint8]:
    """(H, W, 3) uint8 at PX_PER_MM: tone over the paper's own, and how far two shares of colour differ
    from the paper's, so that neither the paper's tint nor the lamp's makes a difference."""
    size = (
        round(straight.pixels.shape[1] * PX_PER_MM / straight.px_per_mm),
        round(straight.pixels.shape[0] * PX_PER_MM / straight.px_per_mm),
    )
    how = cv2.INTER_AREA if straight.px_per_mm >= PX_PER_MM else cv2.INTER_LINEAR
    rgb = cv2.resize(straight.pixels, size, interpolation=how)
    red, green, blue = (channel.astype(np.float32) for channel in cv2.split(rgb))
    tone = cv2.resize(ink.tone, size, interpolation=how)
    face = cv2.resize(ink.work_face.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    whole = red + green + blue + DIMMEST
    seen = [tone * TONE]
    for other in (red, blue):
        share = (other - green) / whole
        usual = float(median(share[face][::4])) if face.any() else 0.0
        seen.append(np.where(face, (share - usual) * CHROMA, 0.0) + GREY)
    return np.asarray(np.clip(np.rint(np.dstack(seen)), 0, 255), dtype=np.uint8)


def read_likeness(straight: StraightCard, ink: Ink) -> Likeness:
    """Run the network once over the whole card."""
    maps = maps_of(network_input(straight, ink))
    return Likeness(maps, PX_PER_MM / STRIDE, straight.margin_mm)


def maps_of(seen: NDArray[np.uint8], weights: Path = WEIGHTS_FILE) -> FloatImage:
    """(len(CHANNELS), H / STRIDE, W / STRIDE) chances by a network of what it takes of a card, (H, W, 3)."""
    rows, columns = (-(-side // BLOCK) * BLOCK for side in seen.shape[:2])
    padded = cv2.copyMakeBorder(
        seen,
        0,
        rows - seen.shape[0],
        0,
        columns - seen.shape[1],
        cv2.BORDER_CONSTANT,
        value=(TONE, GREY, GREY),
    )
    picture = np.ascontiguousarray(padded.transpose(2, 0, 1)[None].astype(np.float32))
    maps: FloatImage = ask(weights, picture)[0][:, : seen.shape[0] // STRIDE, : seen.shape[1] // STRIDE]
    return maps
