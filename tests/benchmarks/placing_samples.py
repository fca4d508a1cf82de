"""Placings of simulated photos with how far each lays the marks off: what a placing's price is judged on.

In:    a series' seed and the photos' numbers.
Out:   `PhotoSample`s, one line of JSON each in a file that may be made longer later.
Fails: never; a photo whose dice come to nothing is left out.

Each photo is read as anyone's would be, and scored; beside that, every placing that the reading made, and a few
that it only might have made, is held against the simulator's own geometry, so that no mark has to be found.
"""

from __future__ import annotations

import json
import tempfile
import time
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import cv2
import numpy as np

from circuit.asked import Asked
from tests.benchmarks.photo_simulator.render import Shot, Wishes, shoot
from tests.benchmarks.photo_simulator.sensor import save
from tests.benchmarks.reading import score_photo
from tests.benchmarks.reading_score import Score, card_corners, turned
from vision.arrays import Floats
from vision.errors import PhotoError
from vision.reading.card.outline import apart_px, borne_out
from vision.reading.edges.beside import (
    SIDE_PASSED_OVER,
    SIDE_STRETCHES,
    courses,
    least_step,
    strangest_tint,
)
from vision.reading.fit.parameters import K1, LOG_FOCAL, SLANTS
from vision.reading.fit.view import View
from vision.reading.fit.wander import likely_bow_mm
from vision.reading.placing import choice, find_view
from vision.reading.placing.candidate import Candidate
from vision.reading.placing.doubts import corners_mm, side_places
from vision.reading.placing.edge_signs import sides
from vision.reading.placing.placing import CardPose, placed
from vision.reading.sight import Sight

MORE_PLACINGS = 3  # chosen: of the candidates that the reading passed over, so many are carried on
ELSEWHERE_MM = 0.8  # a candidate that lies no farther off teaches nothing new
ODD_MM = 99.0  # stands for a placing that has no place for a mark


@dataclass(slots=True)
class PlacingSample:
    """One placing. stood : whether the reading took it; off_mm : how far off it lays the worst light or battery;
    rms_mm : of all of them; measures : what the photo says of it, by name."""

    stood: bool
    off_mm: float
    rms_mm: float
    measures: dict[str, float]


@dataclass(slots=True)
class PhotoSample:
    """One photo: how it was read and scored, and its placings."""

    seed: int
    number: int
    score: dict[str, Any]
    placings: list[PlacingSample] = field(default_factory=list)

    @property
    def told(self) -> Score:
        return Score(**self.score)


@dataclass(slots=True)
class _Caught:
    """What one reading made on its way; the last try counts, in which finer pixels may have been read."""

    sight: Sight | None = None
    placings: list[CardPose] = field(default_factory=list)
    candidates: list[Candidate] = field(default_factory=list)
    stood: CardPose | None = None


def kept(files: Iterable[Path]) -> list[PhotoSample]:
    """All photos of some files."""
    found = []
    for file in files:
        for line in file.read_text(encoding="utf-8").splitlines():
            values = json.loads(line)
            placings = [PlacingSample(**one) for one in values.pop("placings")]
            found.append(PhotoSample(**values, placings=placings))
    return found


def make(out: Path, seed: int, numbers: range, jobs: int, seconds: float) -> int:
    """Add the photos that the file lacks, until the time is up: how many were added."""
    known = {(one.seed, one.number) for one in kept([out])} if out.exists() else set()
    wanted = [number for number in numbers if (seed, number) not in known]
    end, added = time.monotonic() + seconds, 0
    with out.open("a", encoding="utf-8") as lines, ProcessPoolExecutor(jobs) as pool:
        for start in range(0, len(wanted), jobs):
            if time.monotonic() > end:
                break
            for sample in pool.map(partial(of_photo, seed), wanted[start : start + jobs]):
                if sample is not None:
                    lines.write(json.dumps(asdict(sample)) + "\n")
                    added += 1
            lines.flush()
    return added


def of_photo(seed: int, number: int) -> PhotoSample | None:
    """One photo, read, scored, and its placings held against the truth."""
    cv2.setNumThreads(1)
    try:
        shot = shoot(seed, number, Wishes())
    except RuntimeError:
        return None
    name = Path(shot.truth["photo"]).stem
    with tempfile.TemporaryDirectory() as folder, catching() as caught:
        save(shot.picture, shot.sensor, Path(folder) / f"{name}.jpg")
        truth_file = Path(folder) / f"{name}.json"
        truth_file.write_text(json.dumps(shot.truth), encoding="utf-8")
        score = score_photo(truth_file)
    return PhotoSample(seed, number, asdict(score), _held_against(shot, caught))


@contextmanager
def catching() -> Iterator[_Caught]:
    """Keep what a reading within this block makes of outlines and placings."""
    caught = _Caught()
    tell_candidates, tell_doubts, take_in = choice.candidates_of, find_view.doubts_of, find_view.take_in

    def taken_in(sight: Sight, *others: Any) -> Any:
        caught.sight, caught.placings, caught.candidates, caught.stood = sight, [], [], None
        return take_in(sight, *others)

    def candidates(*others: Any) -> list[Candidate]:
        found = tell_candidates(*others)
        caught.candidates += found
        return found

    def placing(*others: Any) -> CardPose:
        made = placed(*others)
        caught.placings.append(made)
        return made

    def doubts(sight: Sight, stood: CardPose, *others: Any) -> Any:
        caught.stood = stood
        return tell_doubts(sight, stood, *others)

    with (
        patch.object(find_view, "take_in", taken_in),
        patch.object(choice, "candidates_of", candidates),
        patch.object(find_view, "placed", placing),
        patch.object(find_view, "doubts_of", doubts),
    ):
        yield caught


def _held_against(shot: Shot, caught: _Caught) -> list[PlacingSample]:
    if caught.sight is None or not shot.truth["square"]:
        return []
    placings = caught.placings + _passed_over(caught)
    samples = []
    for number, placing in enumerate(placings):
        view = find_view._view_of(placing, 0)
        off = off_mm(shot, caught.sight, view)
        rivals = [
            other.price
            for k, other in enumerate(placings)
            if k != number and other.flat.apart_mm(placing.flat) > ELSEWHERE_MM
        ]
        measures = measures_of(caught.sight, placing, view)
        measures["rival_dearer"] = min(rivals, default=np.inf) - placing.price
        samples.append(
            PlacingSample(
                placing is caught.stood,
                round(float(off.max(initial=0.0)), 4),
                round(float(np.sqrt((off**2).mean())) if len(off) else 0.0, 4),
                {name: round(float(min(value, 1e6)), 5) for name, value in measures.items()},
            )
        )
    return samples


def _passed_over(caught: _Caught) -> list[CardPose]:
    """Placings of the likeliest candidates that lie elsewhere than those that the reading carried on."""
    placings: list[CardPose] = []
    for one in sorted(caught.candidates, key=lambda one: -one.rank):
        known = [placing.flat for placing in caught.placings + placings]
        if len(placings) == MORE_PLACINGS:
            break
        if all(one.apart_mm(other) > ELSEWHERE_MM for other in known):
            try:
                placings.append(placed(one, Asked()))
            except (PhotoError, np.linalg.LinAlgError):
                continue
    return placings


def off_mm(shot: Shot, sight: Sight, view: View) -> Floats:
    """(N,) how far off the view lays each true light and the battery, the card turned as fits best."""
    marks = [*shot.truth["lights"], *([shot.truth["battery"]] if shot.truth["battery"] else [])]
    true = np.array([(mark["x_mm"], mark["y_mm"]) for mark in marks], dtype=np.float64).reshape(-1, 2)
    if not len(true):
        return np.zeros(0)
    # A large photo is read at half its size: pixel centres lie at halves.
    ratio = sight.pixels.shape[1] / shot.picture.shape[1]
    read = view.to_mm((shot.to_px(true) + 0.5) * ratio - 0.5)
    corners = card_corners(shot.truth)
    ways = [np.linalg.norm(turned(true, corners, side) - read, axis=1) for side in range(4)]
    best: Floats = np.nan_to_num(
        min(ways, key=lambda off: float(np.nan_to_num(off, nan=ODD_MM).max())), nan=ODD_MM
    )
    return best


def measures_of(sight: Sight, placing: CardPose, view: View) -> dict[str, float]:
    """What the photo says of one placing, by name; nothing of it is known from the truth."""
    flat, bent, free = placing.flat, placing.likeliest, placing.flat.fit
    edges = bent.evidence.edges
    middle = np.array([[view.card.width_mm / 2, view.card.height_mm / 2]])
    density = float(view.px_per_mm(middle)[0])
    along = courses(edges)
    seen = strangest_tint(sight.pixels, along, density)
    laid = strangest_tint(sight.pixels, sides(view), density, SIDE_STRETCHES, SIDE_PASSED_OVER)
    there, sheet = sight.photo_to_map(side_places(view)), sight.sheet
    shares = [0.0 if edge is None else edge.share for edge in edges]
    focal = (bent.values[LOG_FOCAL] - np.log(bent.evidence.focal_px)) / bent.sigmas[LOG_FOCAL]
    points = len(bent.model.points)
    inner = corners_mm(view) * 0.8 + middle * 0.2
    spread = view.position_covariance(inner)
    return {
        "score": flat.quad.score,
        "size_off": flat.best.distance,
        "shape_off": flat.shape_departure,
        "misfit_flat": free.misfit,
        "misfit": bent.misfit,
        "lift_mm": bent.lift_mm,
        "share_least": min(shares),
        "share_mean": float(np.mean(shares)),
        "cost_a_point": bent.cost / points,
        "price": placing.price,
        "points": float(points),
        "bend_gains": max(fit.cost for fit, _ in placing.fits) - bent.cost,
        "bow_mm": likely_bow_mm(bent),
        "k1": abs(float(bent.values[K1])),
        "slants": float(((bent.values[SLANTS] / bent.sigmas[SLANTS]) ** 2).sum()),
        "focal_off": abs(float(focal)),
        "tint": seen,
        "tint_laid": laid,
        "step": least_step(sight.pixels, along, density),
        "look_apart_px": 99.0 if sheet is None else apart_px(sheet, there),
        "look_borne_out": borne_out(sight.first_look.card, there),
        "look_plain": 0.0 if sheet is None else sheet.borne_out,
        "coded": float(flat.square.kind == "coded"),
        "size_known": float(placing.match is not None),
        "px_per_mm": density,
        "bound_mm": float(np.sqrt(np.linalg.eigvalsh(spread).max())),
    }
