"""How much pencil lies at each spot of the card: the paper's own brightness divided out.

In:    a `StraightCard`.
Out:   `Ink`: how far each pixel is darker than the paper around it, 0 (paper) to 1 (black), at the
       picture's own scale and at one working scale, with the parts that can't be judged masked out.
Fails: never; on a black or blank card the ink is 0 all over.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import BoolImage, FloatImage, RgbImage
from vision.reading.marks.places import values_at
from vision.reading.marks.reduced import reduced
from vision.reading.middle import median, scatter_of
from vision.straight_card import Points, StraightCard, mm_to_px, px_to_mm

WORK_PX_PER_MM = 5.0  # chosen: a 0.4 mm stroke is 2 px, and a quarter-letter card 0.4 Mpx
PAPER_PX_PER_MM = 2.0  # chosen: shadows and the lamp's falloff are smooth on half a millimetre
PAPER_WINDOW_MM = 15.0  # chosen: three of the widest dots; less than half of it is ever pencil
EDGE_STRIP_MM = 1.0  # chosen: the cut edge's own shade and the straightening's error at the edge
SQUARE_SKIRT_MM = 0.8  # chosen: the square's blur and contact shadow
CODED_MARGIN_CELLS = 1.0  # white margin that a coded square has at the least
CODED_CELLS = 6  # cells along one side of a DICT_4X4 marker with its border
DARKEST_PAPER = 24.0  # chosen: of 255; below it nothing can be told from nothing


@dataclass(frozen=True, slots=True)
class Ink:
    """Pencil on the card.

    fine : (H, W) float32 ink at the straight card's own scale `px_per_mm`.
    work : (h, w) float32 ink at `work_px_per_mm`.
    work_face : True where the card's own face can be seen (not table, edge strip, square).
    noise : standard deviation of the ink of bare paper at the working scale.
    """

    fine: FloatImage
    px_per_mm: float
    work: FloatImage
    work_px_per_mm: float
    work_face: BoolImage
    margin_mm: float
    noise: float
    tone: FloatImage  # (h, w): brightness over the paper's, unclipped, at the working scale
    coarse: RgbImage  # the card at the paper's scale, see `paper_scale`
    coarse_face: BoolImage  # (h, w): True where that is wholly the card's own face

    def work_to_mm(self, points_px: Points) -> Points:
        """Card millimetres of (N, 2) positions in `work`."""
        return px_to_mm(points_px, self.work_px_per_mm, self.margin_mm)

    def mm_to_work(self, points_mm: Points) -> Points:
        """Positions in `work` of (..., 2) card millimetres."""
        return mm_to_px(points_mm, self.work_px_per_mm, self.margin_mm)

    def mm_to_fine(self, points_mm: Points) -> Points:
        """Positions in `fine` of (..., 2) card millimetres."""
        return mm_to_px(points_mm, self.px_per_mm, self.margin_mm)

    def sample(self, points_mm: Points) -> FloatImage:
        """(...) fine ink at (..., 2) card millimetres, linear between pixels; 0 outside the picture."""
        return values_at(self.fine, self.mm_to_fine(points_mm))

    def sample_work(self, image: FloatImage, points_mm: Points) -> FloatImage:
        """(...) any image at the working scale at (..., 2) card millimetres; 0 outside the picture."""
        return values_at(image, self.mm_to_work(points_mm))


def read_ink(straight: StraightCard) -> Ink:
    """Ink of the whole card, paper's brightness, shadows and lamp's falloff divided out."""
    grey = np.asarray(cv2.cvtColor(straight.pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    cover = square_cover_mm(straight)
    face = _face(straight, cover, straight.px_per_mm, grey.shape)
    coarse = reduced(straight.pixels, paper_scale(straight))
    coarse_face = _face(straight, cover, straight.px_per_mm * paper_scale(straight), coarse.shape[:2])
    known = cv2.erode(coarse_face.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    paper = _paper(straight, grey, known)
    tone = np.asarray(cv2.divide(grey, np.maximum(paper, DARKEST_PAPER), dtype=cv2.CV_32F), dtype=np.float32)
    np.copyto(tone, 1.0, where=~face | (paper < DARKEST_PAPER))
    fine = np.maximum(1.0 - tone, 0.0)
    scale = min(1.0, WORK_PX_PER_MM / straight.px_per_mm)
    size = (max(1, round(fine.shape[1] * scale)), max(1, round(fine.shape[0] * scale)))
    tone_work = np.asarray(cv2.resize(tone, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
    work_face = _face(straight, cover, straight.px_per_mm * scale, tone_work.shape)
    return Ink(
        fine=fine,
        px_per_mm=straight.px_per_mm,
        work=np.clip(1.0 - tone_work, 0.0, 1.0).astype(np.float32),
        work_px_per_mm=straight.px_per_mm * size[0] / fine.shape[1],
        work_face=work_face,
        margin_mm=straight.margin_mm,
        noise=spread_of(tone_work[work_face]),
        tone=tone_work,
        coarse=coarse,
        coarse_face=known,
    )


def paper_scale(straight: StraightCard) -> float:
    """The share of the straight card's own size at which its paper is looked at."""
    return min(1.0, PAPER_PX_PER_MM / straight.px_per_mm)


def square_cover_mm(straight: StraightCard) -> Points | None:
    """(4, 2) corners of what the reference square's paper hides at the least, or None."""
    if straight.square_mm is None:
        return None
    corners = np.asarray(straight.square_mm, dtype=np.float64)
    side = float(np.mean(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1)))
    grow = SQUARE_SKIRT_MM
    if straight.square_coded:
        grow += side / CODED_CELLS * CODED_MARGIN_CELLS
    middle = corners.mean(axis=0)
    return np.asarray(middle + (corners - middle) * (1 + 2 * grow / side), dtype=np.float64)


def _face(
    straight: StraightCard, cover: Points | None, px_per_mm: float, shape: tuple[int, ...]
) -> BoolImage:
    """Where the card's own face can be seen, in a picture of that scale."""
    face = np.zeros(shape, dtype=np.uint8)
    size = np.array([straight.card.width_mm, straight.card.height_mm])
    ends = mm_to_px(np.array([[EDGE_STRIP_MM] * 2, size - EDGE_STRIP_MM]), px_per_mm, straight.margin_mm)
    x0, y0 = (max(0, math.ceil(v)) for v in ends[0])
    x1, y1 = (max(0, math.floor(v) + 1) for v in ends[1])
    face[y0:y1, x0:x1] = 1
    if cover is not None:
        corners = mm_to_px(cover, px_per_mm, straight.margin_mm)
        cv2.fillConvexPoly(face, np.round(corners).astype(np.int32), 0)
    return face.astype(np.bool_)


def _paper(straight: StraightCard, grey: NDArray[np.uint8], known: BoolImage) -> FloatImage:
    """Brightness of the bare paper at every pixel: the running median of the card's face. `known` : where that is
    wholly seen, at the paper's scale.

    A median follows the edge of a shadow, where a mean or a blurred maximum would leave a dark band
    along it; pencil never fills half of the window.
    """
    scale = paper_scale(straight)
    if not known.any():
        return np.zeros(grey.shape, dtype=np.float32)
    paper = bare_paper(reduced(grey, scale), known, straight.px_per_mm * scale)
    full = cv2.resize(paper, (grey.shape[1], grey.shape[0]), interpolation=cv2.INTER_LINEAR)
    return np.asarray(full, dtype=np.float32)


def bare_paper(seen: NDArray[np.uint8], known: BoolImage, px_per_mm: float) -> FloatImage:
    """(H, W) brightness of the bare paper in one colour, where only what is `known` is the card's face."""
    reach = round(PAPER_WINDOW_MM * px_per_mm) // 2
    filled = cv2.copyMakeBorder(
        _fill_from_nearest(seen, known), reach, reach, reach, reach, cv2.BORDER_REFLECT
    )
    paper = cv2.medianBlur(filled, 2 * reach + 1)[reach:-reach, reach:-reach]
    return np.asarray(cv2.GaussianBlur(paper.astype(np.float32), (0, 0), 1.0), dtype=np.float32)


def _fill_from_nearest(image: NDArray[np.uint8], known: BoolImage) -> NDArray[np.uint8]:
    """`image` with every pixel that isn't known taken from the nearest one that is."""
    unknown = (~known).astype(np.uint8)
    _, labels = cv2.distanceTransformWithLabels(unknown, cv2.DIST_L2, 3, labelType=cv2.DIST_LABEL_PIXEL)
    values = np.zeros(int(labels.max()) + 1, dtype=np.uint8)
    values[labels[known]] = image[known]
    return np.where(known, image, values[labels]).astype(np.uint8)


def spread_of(seen: FloatImage) -> float:
    """Standard deviation of bare paper by the median absolute deviation: pencil is the outlier. Of every fourth
    value, since they are many; 0 of none."""
    some = seen[::4]
    if some.size == 0:
        return 0.0
    return float(scatter_of(some - median(some)))
