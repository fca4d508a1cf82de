"""python -m tests.benchmarks.placing_geometry --seed S --count N [--first K] [--bend B] [--curl MM]

Placings without pictures: the dice of the simulated photos say where card, square and camera are; their edges are what
a reading finds in such photos, errors and all, but nothing is drawn, so that a placing takes a twentieth of a photo's
time. Prints, by how far cards are bent, how many would be doubted for their places or wrong in silence, how often the
stated bounds hold, and how often a card is bent that is said to be with some chance.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from circuit.asked import Asked
from tests.benchmarks.photo_simulator import scene
from tests.benchmarks.photo_simulator.edges import unclean, wander_of_chance
from tests.benchmarks.photo_simulator.framing import camera_of_chance
from tests.benchmarks.reading_score import RIGHT_MM, turned
from tests.card_kit.camera import TABLE, Camera, Sheet
from vision.arrays import Floats
from vision.reading.card.find_card import EDGE_ENDS, EDGE_POINTS
from vision.reading.card.quads import Quad
from vision.reading.edges.profiles import EdgePoints
from vision.reading.fit.uncertainty import SURE_MM, bound_mm
from vision.reading.placing.find_view import MARKS_AT, _view_of
from vision.reading.placing.first_fit import _free_candidate, _lens, _start, side_of
from vision.reading.placing.placing import CardPose, placed
from vision.reading.square.square_edges import SIDE_ENDS, SIDE_POINTS, SquareSeen

# Errors of edges as found in 60 simulated photos, standard deviations about the true ones: of each whole edge, of the
# half waves along it, of each point, by how much photos differ in all that; the outward step that all edges share; of a
# square's sides. [px] What a point's error is taken for by the reading is larger.
EDGE_PX, WAVE_PX, POINT_PX, PHOTOS_DIFFER, STEP_PX, STEP_SPREAD_PX = 0.2, 0.05, 0.13, 0.4, 0.2, 0.1
SIDE_PX, SIDE_POINT_PX = 0.08, 0.03
TOLD_EDGE_PX, TOLD_SIDE_PX = 0.22, 0.05
HALF_WAVES = np.arange(1, 5)
MARK_MM = 0.06  # of where a mark lies in its own pencil, each way; as the reading's
LARGE_PX = 3000  # long side of a photo from which it is read at half its size
SQUARE_ABOVE_MM = 0.1  # of the square's paper
DICE_AGAIN = 40
PLAIN_SCORE = 1.2  # of an outline that is plain all round


@dataclass(frozen=True, slots=True)
class Setting:
    """Where card, square and camera are."""

    card: scene.CardSpec
    square: scene.SquareSpec
    sheet: Sheet
    curl: float
    camera: Camera

    @property
    def ratio(self) -> float:
        return 0.5 if max(self.camera.width_px, self.camera.height_px) > LARGE_PX else 1.0

    def to_px(self, paper_mm: Floats, lies: Sheet | None = None, above: float = 0.0) -> Floats:
        """(N, 2) pixels as read of points on the card's paper, or on what lies elsewhere."""
        px = self.camera.project((lies or self.sheet).to_world(paper_mm, above))
        return np.asarray((px + 0.5) * self.ratio - 0.5)


@dataclass(frozen=True, slots=True)
class Placing:
    """curl : height of the card's bend; bent : chance of one by the fits; off, bounds : (N,) of marks. [mm]"""

    curl: float
    bent: float
    off: Floats
    bounds: Floats

    @property
    def doubted(self) -> bool:
        return bool(self.bounds.max() > SURE_MM)

    @property
    def wrong(self) -> bool:
        return bool(self.off.max() > RIGHT_MM)


def setting_of(
    rng: np.random.Generator, curl: float | None = None, bend: str | None = None
) -> Setting | None:
    """None where the dice come to nothing."""
    for _ in range(DICE_AGAIN):
        card = scene.card_of_chance(rng, None)
        square = scene.square_of_chance(rng, card, None, None)
        sheet, lift = scene.sheet_of_chance(rng, card, curl, bend)
        wander = wander_of_chance(rng, card.by_hand)
        sheet = unclean(rng, sheet, card.corners_mm, lift)
        camera = camera_of_chance(rng, card, square, sheet, None, None, scene.LARGE_SHARE)
        if square is not None and camera is not None:
            cut = replace(card, wander_mm=wander)
            return Setting(cut, square, sheet, lift, camera)
    return None


def placing_of(setting: Setting, rng: np.random.Generator) -> Placing | None:
    """What the reading makes of the setting; None where it makes nothing of it."""
    pose = _pose(setting, rng)
    if pose is None or pose.match is None:
        return None
    view = _view_of(pose, 0)
    true = MARKS_AT * setting.card.nominal_mm
    read = view.to_mm(setting.to_px(true))
    own = rng.normal(0, MARK_MM, true.shape)
    off = np.linalg.norm(read + own - turned(true, setting.card.corners_mm, 0), axis=1)
    covariances = view.position_covariance(read) + MARK_MM**2 * np.eye(2)
    chances = np.exp([(pose.fits[0][1] - price) / 2 for _, price in pose.fits])
    bent = sum(chance for chance, (fit, _) in zip(chances, pose.fits, strict=True) if fit.lift_mm > 0)
    return Placing(
        setting.curl, float(bent / chances.sum()), off, np.array([bound_mm(one) for one in covariances])
    )


def _pose(setting: Setting, rng: np.random.Generator) -> CardPose | None:
    camera, asked = setting.camera, Asked()
    size = (round(camera.height_px * setting.ratio), round(camera.width_px * setting.ratio), 3)
    lens = _lens(np.zeros(size, np.uint8), None)
    corners, edges, square = (
        setting.to_px(setting.card.corners_mm),
        _edges(setting, rng),
        _square(setting, rng),
    )
    start = _start(corners, square, side_of(square, asked), lens)
    if start is None:
        return None
    quad = Quad(corners, PLAIN_SCORE, ())  # type: ignore[arg-type]  # a placing asks nothing of its lines
    candidate = _free_candidate(quad, edges, square, start, asked, lens)
    return None if candidate is None else placed(candidate, asked)


def _edges(
    setting: Setting, rng: np.random.Generator
) -> tuple[EdgePoints, EdgePoints, EdgePoints, EdgePoints]:
    noisy, step = np.exp(rng.normal(0, PHOTOS_DIFFER)), rng.normal(STEP_PX, STEP_SPREAD_PX)
    t = np.linspace(EDGE_ENDS, 1 - EDGE_ENDS, EDGE_POINTS)
    waves = np.sin(np.pi * t[:, None] * HALF_WAVES)

    def found(side: int) -> EdgePoints:
        start, end = setting.card.corners_mm[side], setting.card.corners_mm[(side + 1) % 4]
        x, y = (end - start) / np.linalg.norm(end - start)
        off = setting.card.wander_mm[side]
        out = np.interp(t, np.linspace(0, 1, len(off)), off)
        px = setting.to_px(start + t[:, None] * (end - start) + out[:, None] * np.array([y, -x]))
        wave = waves @ rng.normal(0, WAVE_PX, len(HALF_WAVES))
        error = rng.normal(0, EDGE_PX) + wave + rng.normal(0, POINT_PX, len(t))
        return _seen(px, step + noisy * error, noisy * TOLD_EDGE_PX)

    return found(0), found(1), found(2), found(3)


def _square(setting: Setting, rng: np.random.Generator) -> SquareSeen:
    square, lies = setting.square, setting.sheet if setting.square.on_card else TABLE
    t = np.linspace(SIDE_ENDS, 1 - SIDE_ENDS, SIDE_POINTS)

    def found(side: int) -> EdgePoints:
        start, end = square.corners_mm[side], square.corners_mm[(side + 1) % 4]
        px = setting.to_px(start + t[:, None] * (end - start), lies, SQUARE_ABOVE_MM)
        return _seen(px, rng.normal(0, SIDE_PX) + rng.normal(0, SIDE_POINT_PX, len(t)), TOLD_SIDE_PX)

    corners = setting.to_px(square.corners_mm, lies, SQUARE_ABOVE_MM)
    kind, side_mm = ("coded", square.side_mm) if square.coded else ("plain", None)
    return SquareSeen(kind, side_mm, corners, (found(0), found(1), found(2), found(3)))  # type: ignore[arg-type]


def _seen(px: Floats, off_px: Floats, told_px: float) -> EdgePoints:
    """An edge found so far outside of where it is."""
    along = np.gradient(px, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    outward = np.column_stack([along[:, 1], -along[:, 0]])
    return EdgePoints(px + off_px[:, None] * outward, outward, float(told_px), 1.0, 0.3, 1.0)


def made(seed: int, numbers: range, curl: float | None, bend: str | None) -> list[Placing]:
    found = []
    for number in numbers:
        rng = np.random.default_rng([seed, number])
        setting = setting_of(rng, curl, bend)
        placing = None if setting is None else placing_of(setting, rng)
        if placing is not None:
            found.append(placing)
    return found


BANDS: tuple[tuple[str, Callable[[float], bool]], ...] = (
    ("all", lambda curl: True),
    ("flat", lambda curl: curl == 0),
    ("under 1 mm", lambda curl: 0 < curl < 1),
    ("1 to 2 mm", lambda curl: 1 <= curl < 2),
    ("over 2 mm", lambda curl: curl >= 2),
)
CHANCES = (0.0, 0.001, 0.15, 0.4, 0.6, 0.85, 0.98, 1.001)


def table(placings: list[Placing]) -> str:
    lines = [f"{'':12}cards  doubted  for nothing  wrong  in silence  bounds hold %  off mm 50 95"]
    for name, holds in BANDS:
        some = [one for one in placings if holds(one.curl)]
        if not some:
            continue
        off, bounds = (np.concatenate([getattr(one, key) for one in some]) for key in ("off", "bounds"))
        sure = np.concatenate([np.full(len(one.off), not one.doubted) for one in some])
        hold = 100 * float((off <= bounds)[sure].mean()) if sure.any() else float("nan")
        lines.append(
            f"{name:12}{len(some):5d}  {sum(one.doubted for one in some):7d}"
            f"  {sum(one.doubted and not one.wrong for one in some):11d}  {sum(one.wrong for one in some):5d}"
            f"  {sum(one.wrong and not one.doubted for one in some):10d}  {hold:13.1f}"
            f"  {np.median(off):9.2f} {np.percentile(off, 95):.2f}"
        )
    lines.append("said to be bent with a chance of: cards, mean chance, share that is")
    for low, high in pairwise(CHANCES):
        some = [one for one in placings if low <= one.bent < high]
        if some:
            said, bent = np.mean([one.bent for one in some]), np.mean([one.curl > 0 for one in some])
            lines.append(f"  {low:5.3f} to {min(high, 1):5.3f}  {len(some):5d}  {said:.3f}  {bent:.3f}")
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, required=True)
    parser.add_argument("--bend", choices=("end", "ends", "arch", "s", "corners"))
    parser.add_argument("--curl", type=float, help="height of the bend in mm; 0 is flat")
    options = parser.parse_args(arguments)
    numbers = range(options.first, options.first + options.count)
    print(table(made(options.seed, numbers, options.curl, options.bend)))


if __name__ == "__main__":
    main()
