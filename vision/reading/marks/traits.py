"""What is known of each dark spot: the network's opinion, its own shape and ink, what lies about it, its fellows.

In:    `Ink`, `Likeness` and the card's `Blob`s.
Out:   one `Traits` a spot, in natural units; no verdicts.
Fails: never; a spot outside the card has no ink and no likeness about it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from operator import attrgetter

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.marks.blobs import Blob
from vision.reading.marks.ink import Ink
from vision.reading.marks.likeness import Likeness
from vision.reading.marks.places import rings

# All of these say where and how something is measured; what a measure is worth is learnt (`chances.py`).
CORE = 0.7 * np.sqrt([0.15, 0.5, 0.85])  # of the radius: circles that stand for equal parts of the inner half
WITHIN_RIM = np.array([0.0, 0.4, 0.8, 1.2])  # of the radius: circles on which the network's surest place lies
CORE_TURNS, AROUND_TURNS, TURNS = 12, 24, 48  # of a circle within, about the rim, and for strokes
OPPOSITE_SLACK = range(-2, 3)  # turns of 24: a line may bend by 30 degrees where it passes a light
PLAIN_LIGHT = 0.8  # of the network: spots whose size and ink the others are compared with
USUAL_LEVEL = 0.45  # measured: ink of a soft pencil's dot, where none on the card tells
INKED = 0.35  # of a spot's level: half of what a stroke beside it has
RIM_MM = np.array([0.6, 0.9, 1.2, 1.6, 2.0])  # beyond the rim: past its blur, within a dot's radius
CLEAR_MM = np.array([2.8, 3.2, 3.6])  # about the middle: past the largest dot's rim
MOST_INKED_CLEAR = 0.02  # chosen: a place or two of the 144 may be the paper's grain
LINE_MM = np.array([0.0, 0.4, 0.8, 1.4])  # beyond the rim: circuit lines graze dots or pass them
ARM_MM = np.array([0.6, 0.9, 1.2, 1.5])  # beyond the rim: strikes stick out by 0.8 mm and more
ARM_PAST_MM = np.array([5.0, 5.5, 6.0, 6.5, 7.0])  # beyond the rim: strikes have ended, lines run on
ARM_SLACK = 2  # turns of 48: two halves of one stroke lie in line within 15 degrees
ACROSS = range(6, 19)  # turns of 48: two strikes differ by 45 degrees and more
PIECE_LEAST_INK, PIECE_NOISE_TIMES = 0.12, 6.0  # ink that belongs to a piece of pencil
LETTER_MM = (1.2, 6.5)  # longer side of a letter as people write on cards
NEXT_LETTER_MM = 5.0  # from a letter's middle to the next one's
TOUCH_MM = 0.6  # about the middle, where a spot's own piece is looked for
FAR_MM = 20.0  # chosen: farther lights are no neighbours


@dataclass(frozen=True, slots=True)
class Traits:
    """One spot. Shares, ratios and likenesses are 0..1 unless said.

    light, crossed, line, battery : the network's mean over the spot's core. light_about : its highest light near
    the middle. light_beyond : its mean light just beyond the rim.
    diameter_mm, level, middle, floor, holes, ragged_mm, long, strays, edge_mm : as in `Blob`.
    size_ratio, level_ratio : diameter and ink over the median of the card's other plain lights; 1 without any, and
    ink then over a soft pencil's. clearness : ink over the bare paper's noise.
    rim_inked, far_inked : share of rings just beyond the rim, and farther off, that has ink.
    line_beside, line_between : the likeliest circuit line near the rim; the weaker of two on opposite sides.
    arms, arms_past : ink of two strokes through the middle, over the spot's; of what they run on as, 5 mm out.
    piece_mm : longer side of the connected pencil it belongs to. letters : pieces of a letter's size near by, up
    to 4. in_row : how far two of them lie on opposite sides, -1 (same side or none) to 1.
    nearest_mm : middle of the nearest other plain light, at most 20.
    """

    light: float
    crossed: float
    line: float
    battery: float
    light_about: float
    light_beyond: float
    diameter_mm: float
    level: float
    middle: float
    floor: float
    holes: float
    ragged_mm: float
    long: float
    strays: float
    edge_mm: float
    size_ratio: float
    level_ratio: float
    clearness: float
    rim_inked: float
    far_inked: float
    line_beside: float
    line_between: float
    arms: float
    arms_past: float
    piece_mm: float
    letters: float
    in_row: float
    nearest_mm: float


NAMES = tuple(field.name for field in fields(Traits))
_FIGURES = attrgetter(*NAMES)


def as_rows(traits: Sequence[Traits]) -> Floats:
    """(N, T) for N spots and the T traits of `NAMES`."""
    return np.array([_FIGURES(one) for one in traits], dtype=np.float64).reshape(-1, len(NAMES))


def traits_of(ink: Ink, likeness: Likeness, blobs: Sequence[Blob]) -> list[Traits]:
    """The traits of every spot, in order."""
    if not blobs:
        return []
    middles = _middles(blobs)
    radii = np.array([blob.radius_mm for blob in blobs])
    levels = np.array([blob.level for blob in blobs])
    core = rings(middles, radii[:, None] * CORE, CORE_TURNS)
    light, crossed, line, battery = (
        likeness.sample(kind, core).mean(axis=(1, 2)) for kind in ("light", "crossed", "line", "battery")
    )
    plain = light > PLAIN_LIGHT
    columns: list[Floats] = [
        light,
        crossed,
        line,
        battery,
        likeness.sample("light", rings(middles, radii[:, None] * WITHIN_RIM, CORE_TURNS)).max(axis=(1, 2)),
        likeness.sample("light", rings(middles, radii[:, None] + RIM_MM[:3], AROUND_TURNS)).mean(axis=(1, 2)),
        2 * radii,
        levels,
        *(
            np.array([getattr(blob, name) for blob in blobs])
            for name in ("middle", "floor", "holes", "ragged_mm", "long", "strays", "edge_mm")
        ),
        _over_fellows(radii, middles, plain, None),
        _over_fellows(levels, middles, plain, USUAL_LEVEL),
        levels / max(ink.noise, 1e-6),
        _inked(ink, middles, radii[:, None] + RIM_MM, levels),
        _inked(ink, middles, CLEAR_MM, levels),
        *_lines_about(likeness, middles, radii),
        *_arms(ink, middles, radii, levels),
        *_letters_about(ink, middles),
        _nearest(middles, plain),
    ]
    return [Traits(*map(float, row)) for row in np.column_stack(columns)]


def bare_about(ink: Ink, blobs: Sequence[Blob]) -> NDArray[np.bool_]:
    """(N,) which spots have no ink round about them at a large dot's distance."""
    levels = np.array([blob.level for blob in blobs])
    return np.asarray(_inked(ink, _middles(blobs), CLEAR_MM, levels) <= MOST_INKED_CLEAR, dtype=np.bool_)


def _middles(blobs: Sequence[Blob]) -> Floats:
    return np.array([(blob.x_mm, blob.y_mm) for blob in blobs], dtype=np.float64).reshape(-1, 2)


def _inked(ink: Ink, middles: Floats, radii: Floats, levels: Floats) -> Floats:
    """(N,) share of rings that has ink of so much of the spot's own."""
    seen = ink.sample(rings(middles, radii, TURNS))
    share: Floats = (seen > INKED * levels[:, None, None]).mean(axis=(1, 2))
    return share


def _over_fellows(
    values: Floats, middles: Floats, plain: NDArray[np.bool_], otherwise: float | None
) -> Floats:
    """(N,) each value over the median of the other plain lights'; over `otherwise`, or 1, where there are none."""
    ratios = np.ones(len(values)) if otherwise is None else values / otherwise
    for k, value in enumerate(values):
        apart = np.hypot(*(middles - middles[k]).T) > 1e-9
        fellows = values[plain & apart]
        if len(fellows):
            ratios[k] = value / max(float(np.median(fellows)), 1e-6)
    return ratios


def _nearest(middles: Floats, plain: NDArray[np.bool_]) -> Floats:
    apart = np.hypot(*(middles[:, None] - middles[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, FAR_MM)
    apart[:, ~plain] = FAR_MM
    nearest: Floats = np.minimum(apart.min(axis=1), FAR_MM)
    return nearest


def _lines_about(likeness: Likeness, middles: Floats, radii: Floats) -> tuple[Floats, Floats]:
    """The likeliest circuit line about each spot, and the weaker of the two likeliest on opposite sides."""
    ways = likeness.sample("line", rings(middles, radii[:, None] + LINE_MM, AROUND_TURNS)).max(axis=1)
    opposite = (AROUND_TURNS // 2 + off for off in OPPOSITE_SLACK)
    across = np.max([np.minimum(ways, np.roll(ways, turns, axis=1)) for turns in opposite], axis=0)
    return ways.max(axis=1).astype(np.float64), across.max(axis=1).astype(np.float64)


def _arms(ink: Ink, middles: Floats, radii: Floats, levels: Floats) -> tuple[Floats, Floats]:
    """How plainly two strokes run through each spot and out of it on all four sides, and whether they run on."""
    over = np.maximum(levels, 1e-6)[:, None]
    near, far = (
        np.minimum(ink.sample(rings(middles, radii[:, None] + beyond, TURNS)).mean(axis=1) / over, 1.0)
        for beyond in (ARM_MM, ARM_PAST_MM)
    )
    near, far = (
        np.max([np.roll(shown, off, axis=1) for off in range(-ARM_SLACK, ARM_SLACK + 1)], axis=0)
        for shown in (near, far)
    )
    half = TURNS // 2
    stroke, past = np.minimum(near[:, :half], near[:, half:]), (far[:, :half] + far[:, half:]) / 2
    crosses = np.stack([np.minimum(stroke, np.roll(stroke, turn, axis=1)) for turn in ACROSS], axis=1)
    run_on = np.stack([(past + np.roll(past, turn, axis=1)) / 2 for turn in ACROSS], axis=1)
    flat = crosses.reshape(len(middles), -1)
    best = flat.argmax(axis=1)[:, None]
    return (
        np.take_along_axis(flat, best, axis=1)[:, 0],
        np.take_along_axis(run_on.reshape(len(middles), -1), best, axis=1)[:, 0],
    )


def _letters_about(ink: Ink, middles: Floats) -> tuple[Floats, Floats, Floats]:
    """Size of each spot's own piece of pencil [mm], pieces of a letter's size near it, and whether two of them lie
    on opposite sides: letters stand in rows."""
    scale = ink.work_px_per_mm
    inked = (ink.work > max(PIECE_LEAST_INK, PIECE_NOISE_TIMES * ink.noise)).astype(np.uint8)
    _, labels, stats, places = cv2.connectedComponentsWithStats(inked, connectivity=8)
    sizes = stats[:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1) / scale
    sizes[0] = 0.0
    letter = (sizes >= LETTER_MM[0]) & (sizes <= LETTER_MM[1])
    reach = max(round(TOUCH_MM * scale), 1)
    found = np.zeros((3, len(middles)))
    found[2] = -1.0
    for k, (x, y) in enumerate(np.round(ink.mm_to_work(middles)).astype(int)):
        here = labels[max(y - reach, 0) : y + reach + 1, max(x - reach, 0) : x + reach + 1]
        here = here[here > 0]
        own = int(np.bincount(here).argmax()) if len(here) else 0
        found[0, k] = sizes[own]
        away = (places[letter] - (places[own] if own else (x, y))) / scale
        distance = np.hypot(*away.T)
        near = (distance < NEXT_LETTER_MM) & (distance > 1e-6)
        found[1, k] = min(int(near.sum()), 4)
        if near.sum() > 1:
            ways = away[near] / distance[near, None]
            found[2, k] = -float((ways @ ways.T).min())
    return found[0], found[1], found[2]
