"""Things that lie on the card: coins, rubbers, buttons, finger tips.

In:    a `StraightCard` and where its face can be seen.
Out:   `Things`: masks at the ink's working scale, True where a thing lies, with a little beyond its rim.
Fails: never.

A thing has a colour or brightness of its own over more than any pencil mark's width, and a sharp edge.
A shadow or the lamp's reflection has a soft edge; pencil is thin.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.marks.ink import BoolImage, Ink
from vision.straight import StraightCard

SMALL_PX_PER_MM = 2.0
FAR_PX_PER_MM = 0.5
FAR_WINDOW_MM = 50.0  # chosen: twice the largest coin
LEAST_WIDTH_MM = 7.0  # chosen: over the largest dot
OWN_COLOUR = 0.09  # chosen: difference of the channels' log ratios to the paper's
SURE_COLOUR = 0.12  # chosen: no mixed light tints a shadow as much
BRIGHTER, DARKER = 0.08, -0.55  # chosen, log of brightness over the paper's; a hand's shadow takes 0.5
SHARP_STEP = 0.10  # chosen: change of the log within SHARP_MM
SHARP_MM = 1.0
SHARP_SHARE = 0.5  # chosen: of the outline
SKIRT_MM = 2.0  # the rim's own shade


@dataclass(frozen=True, slots=True)
class Things:
    """sure : what has a colour of its own or is as dark as no shadow is. perhaps : what is only brighter
    than the paper, which a patch of sun between shadows may be, too."""

    sure: BoolImage
    perhaps: BoolImage


def find_things(straight: StraightCard, ink: Ink) -> Things:
    """Where something lies on the card."""
    scale = min(1.0, SMALL_PX_PER_MM / straight.px_per_mm)
    shape = straight.pixels.shape
    size = (max(1, round(shape[1] * scale)), max(1, round(shape[0] * scale)))
    small = cv2.resize(straight.pixels, size, interpolation=cv2.INTER_AREA)
    known = cv2.resize(ink.face.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    none = Things(np.zeros(ink.work.shape, dtype=np.bool_), np.zeros(ink.work.shape, dtype=np.bool_))
    if known.sum() < 100:
        return none
    logs = np.log(np.maximum(small.astype(np.float32), 4.0))
    own = logs - _far(logs, known)
    light = own.mean(axis=2)
    tint = np.abs(own - light[..., None]).max(axis=2)
    unlike = ((tint > OWN_COLOUR) | (light > BRIGHTER) | (light < DARKER)) & known
    width = max(3, round(LEAST_WIDTH_MM * SMALL_PX_PER_MM) | 1)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (width, width))
    # finger tips come in over the card's edge: what lies beyond it counts as like them
    beyond = (unlike | ~known).astype(np.uint8)
    cores = cv2.morphologyEx(beyond, cv2.MORPH_OPEN, disc).astype(bool) & unlike
    if not cores.any():
        return none
    sharp = _sharp(light, tint)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(cores.astype(np.uint8), connectivity=8)
    found = {True: np.zeros(cores.shape, dtype=np.uint8), False: np.zeros(cores.shape, dtype=np.uint8)}
    for label in range(1, count):
        if stats[label, cv2.CC_STAT_AREA] < (LEAST_WIDTH_MM * SMALL_PX_PER_MM) ** 2 / 4:
            continue
        part = (labels == label).astype(np.uint8)
        rim = cv2.dilate(part, np.ones((3, 3), np.uint8)).astype(bool) & (part == 0) & known
        if rim.any() and float(sharp[rim].mean()) > SHARP_SHARE:
            inside = part.astype(bool)
            own_look = (tint[inside] > SURE_COLOUR) | (light[inside] < DARKER)
            found[float(own_look.mean()) > 0.5] |= part
    return Things(_grown(found[True], ink), _grown(found[False], ink))


def _grown(found: NDArray[np.uint8], ink: Ink) -> BoolImage:
    skirt = 2 * round(SKIRT_MM * SMALL_PX_PER_MM) + 1
    found = cv2.dilate(found, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (skirt, skirt)))
    large = cv2.resize(found, (ink.work.shape[1], ink.work.shape[0]), interpolation=cv2.INTER_NEAREST)
    return np.asarray(large > 0, dtype=np.bool_)


def _far(logs: NDArray[np.float32], known: BoolImage) -> NDArray[np.float32]:
    """The paper's own log brightness far around every pixel, one value per channel."""
    middle = np.median(logs[known], axis=0)
    filled = np.where(known[..., None], logs, middle).astype(np.float32)
    scale = FAR_PX_PER_MM / SMALL_PX_PER_MM
    size = (max(1, round(logs.shape[1] * scale)), max(1, round(logs.shape[0] * scale)))
    tiny = cv2.resize(filled, size, interpolation=cv2.INTER_AREA)
    reach = round(FAR_WINDOW_MM * FAR_PX_PER_MM) // 2
    # a median filter takes bytes: 1/80 of a log step is finer than any limit here
    coded = np.clip(np.round((tiny - middle) * 80 + 128), 0, 255).astype(np.uint8)
    coded = cv2.copyMakeBorder(coded, reach, reach, reach, reach, cv2.BORDER_REFLECT_101)
    far = cv2.medianBlur(coded, 2 * reach + 1)[reach:-reach, reach:-reach]
    far = (far.astype(np.float32) - 128) / 80 + middle
    return np.asarray(cv2.resize(far, (logs.shape[1], logs.shape[0])), dtype=np.float32)


def _sharp(light: NDArray[np.float32], tint: NDArray[np.float32]) -> BoolImage:
    """True where brightness or tint changes within a millimetre."""
    reach = max(1, round(SHARP_MM * SMALL_PX_PER_MM))
    near = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    steps = [cv2.dilate(image, near) - cv2.erode(image, near) for image in (light, tint)]
    return np.asarray((steps[0] > SHARP_STEP) | (steps[1] > SHARP_STEP / 2), dtype=np.bool_)
