"""Spots of simulated cards with what each truly is: what the chance of a mark is learnt from and judged on.

In:    a series' seed, the photos' numbers, and what is drawn many times as often: nothing, rare kinds or litter.
Out:   `Samples`: every spot's traits, place and truth, and the true lights, card by card; one .npz file.
Fails: never; a photo whose dice come to nothing is left out.

Cards are photographed and straightened by the simulator's own geometry, so no reading of edges stands between.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields, replace
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.mark_cards import KINDS, as_straightened, lesson, straight_by_truth
from tests.benchmarks.photo_simulator.render import Shot, shoot
from vision.reading.fit.view import LEAST_PX_PER_MM, MARGIN_MM, MOST_PX_PER_MM
from vision.reading.marks.blobs import Blob
from vision.reading.marks.ink import Ink, read_ink
from vision.reading.marks.likeness import Likeness, read_likeness
from vision.reading.marks.spots import find_spots
from vision.reading.marks.traits import NAMES, as_rows, traits_of

Numbers = NDArray[np.float32]
# PART teaches nothing: too far off a light to be it and too near to be another, or a light too small to be one.
LIGHT, CROSSED, OTHER, PART = range(4)
USUAL, RARE, LITTERED = range(len(KINDS))
LEAST_DOT_MM = 1.5  # chosen: dots are to be 2 to 5 mm; what came out under three quarters of that is a speck
OFF_MM = 1.0  # the project's aim: a light farther off than this is wrong
PLAIN_LIKENESS, KEPT = 1e-3, 0.15  # chosen: the network's, under which so small a share teaches enough


@dataclass(frozen=True, slots=True)
class Samples:
    """rows : (N, traits). places : (N, 3) x, y, radius [mm]. kinds : (N,) LIGHT ... PART. near : (N,) index of the
    nearest true light in `lights`, -1 where none is near. cards : (N,) the spot's card. lights : (L, 4) card, x, y,
    diameter of every true light. rare : (cards,) USUAL, RARE or LITTERED. stand_for : (N,) how many
    spots each counts for."""

    rows: Numbers
    places: Numbers
    kinds: NDArray[np.int8]
    near: NDArray[np.int32]
    cards: NDArray[np.int32]
    lights: Numbers
    rare: NDArray[np.int8]
    stand_for: Numbers

    def save(self, file: Path) -> None:
        np.savez_compressed(file, **{field.name: getattr(self, field.name) for field in fields(self)})

    @classmethod
    def load(cls, file: Path) -> Samples:
        with np.load(file) as kept:
            return cls(**{field.name: kept[field.name] for field in fields(cls)})


def joined(parts: list[Samples]) -> Samples:
    """Several as one, cards and lights numbered on."""
    cards = np.cumsum([0, *(len(part.rare) for part in parts)])
    lights = np.cumsum([0, *(len(part.lights) for part in parts)])
    moved = np.array([1, 0, 0, 0], np.float32)
    return Samples(
        rows=np.concatenate([part.rows for part in parts]),
        places=np.concatenate([part.places for part in parts]),
        kinds=np.concatenate([part.kinds for part in parts]),
        near=np.concatenate([np.where(p.near < 0, -1, p.near + lights[k]) for k, p in enumerate(parts)]),
        cards=np.concatenate([part.cards + cards[k] for k, part in enumerate(parts)]),
        lights=np.concatenate([part.lights + moved * cards[k] for k, part in enumerate(parts)]),
        rare=np.concatenate([part.rare for part in parts]),
        stand_for=np.concatenate([part.stand_for for part in parts]),
    )


def thinned(samples: Samples, seed: int = 0) -> Samples:
    """Of the spots that the network sees nothing like a light in, a share, each standing for all of its kind."""
    about = samples.rows[:, [NAMES.index("light"), NAMES.index("light_about")]].max(axis=1)
    plain = (samples.kinds != LIGHT) & (about < PLAIN_LIKENESS)
    kept = ~plain | (np.random.default_rng(seed).random(len(plain)) < KEPT)
    return replace(
        samples,
        rows=samples.rows[kept],
        places=samples.places[kept],
        kinds=samples.kinds[kept],
        near=samples.near[kept],
        cards=samples.cards[kept],
        stand_for=np.where(plain, samples.stand_for / KEPT, samples.stand_for)[kept].astype(np.float32),
    )


def make_samples(seed: int, numbers: range, rare: int, jobs: int) -> Samples:
    """The spots of a series' photos."""
    with ProcessPoolExecutor(jobs) as pool:
        return joined([one for one in pool.map(partial(of_photo, seed, rare), numbers, chunksize=4) if one])


def of_photo(seed: int, rare: int, number: int) -> Samples | None:
    """The spots of one photo."""
    cv2.setNumThreads(1)
    try:
        shot = shoot(seed, number, lesson(KINDS[rare], number))
    except RuntimeError:
        return None
    ink, likeness = seen_of(shot)
    return samples_of(shot.truth, ink, likeness, find_spots(ink, likeness), rare)


def seen_of(shot: Shot) -> tuple[Ink, Likeness]:
    """Ink and likeness of the card as the reading straightens it, were its edges known exactly."""
    card = shot.truth["card"]
    size = np.array([card["width_mm"], card["height_mm"]])
    ends = shot.to_px(size / 2 + np.array([[0.0, 0.0], [0.5, 0.0], [0.0, 0.5]]))
    density = 2 * float(np.sqrt(abs(np.linalg.det(ends[1:] - ends[0]))))
    scale = float(np.clip(density, LEAST_PX_PER_MM, MOST_PX_PER_MM))
    pixels = straight_by_truth(shot, scale, MARGIN_MM)
    straight = as_straightened(shot.truth, pixels, scale, MARGIN_MM)
    ink = read_ink(straight)
    return ink, read_likeness(straight, ink)


def samples_of(truth: dict[str, Any], ink: Ink, likeness: Likeness, spots: list[Blob], rare: int) -> Samples:
    """One card's spots and what each is."""
    places = np.array([(s.x_mm, s.y_mm, s.radius_mm) for s in spots], np.float32).reshape(-1, 3)
    lights = np.array([(m["x_mm"], m["y_mm"], m["diameter_mm"]) for m in truth["lights"]]).reshape(-1, 3)
    struck = np.array([(m["x_mm"], m["y_mm"], m["diameter_mm"]) for m in truth["crossed_out"]]).reshape(-1, 3)
    near, off = _nearest(places, lights)
    _, off_struck = _nearest(places, struck)
    reach = lights[near, 2] / 2 if len(lights) else np.zeros(len(places))
    kinds = np.full(len(places), OTHER, np.int8)
    kinds[off_struck < OFF_MM] = CROSSED
    kinds[off < np.maximum(reach, OFF_MM) + 0.3] = PART
    kinds[off < OFF_MM] = LIGHT
    kinds[(kinds == LIGHT) & (2 * reach < LEAST_DOT_MM)] = PART
    return Samples(
        rows=as_rows(traits_of(ink, likeness, spots)).astype(np.float32),
        places=places,
        kinds=kinds,
        near=np.where(kinds == LIGHT, near, -1).astype(np.int32),
        cards=np.zeros(len(places), np.int32),
        lights=np.column_stack([np.zeros(len(lights)), lights]).astype(np.float32),
        rare=np.array([rare], np.int8),
        stand_for=np.ones(len(places), np.float32),
    )


def _nearest(places: Numbers, marks: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Index of the nearest mark and the distance to it, infinite where there are no marks. [mm]"""
    if not len(marks):
        return np.zeros(len(places), np.intp), np.full(len(places), np.inf)
    apart = np.hypot(*(places[:, None, :2] - marks[None, :, :2]).transpose(2, 0, 1))
    return apart.argmin(axis=1), apart.min(axis=1)
