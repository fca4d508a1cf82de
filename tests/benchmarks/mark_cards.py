"""Simulated cards as the marks' network sees them, with what is truly drawn: what it learns from.

In:    a series' seed, the photos' numbers, and what is drawn many times as often: nothing, rare kinds or litter.
Out:   one file KIND-SEED-NUMBER.npz for each card: `seen`, (H, W, 3) bytes, and `bits`, (H / STRIDE, W / STRIDE), one
       bit for each of `CHANNELS`.
Fails: never; a photo whose dice come to nothing is left out.

Cards are photographed and straightened by the simulator's own geometry, so no reading of edges stands between.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from circuit.layout import Card
from tests.benchmarks.photo_simulator.render import Shot, Wishes, shoot
from vision.reading.marks.ink import read_ink
from vision.reading.marks.likeness import CHANNELS, PX_PER_MM, STRIDE, network_input
from vision.straight_card import StraightCard

Bytes = NDArray[np.uint8]

KINDS = ("usual", "rare", "littered")
MARGIN_MM = 4.0
MAP_PX_PER_MM = PX_PER_MM / STRIDE
LINE_MM = 1.0  # width of a drawn line in its map
TIERS = {"A": 0.2, "B": 0.3, "C": 0.5}
# Chosen: each seventh littered card is drawn in colour, as some with rare kinds are. Where only things were coloured, a
# network took colour itself for a thing: of 24 cards drawn in colour it lost lights on 15.
COLOURED_EACH = 7
LARGE_SHARE = 0.02  # of photos of 12 megapixels, which take long to draw and are halved before they are seen


def make_cards(out: Path, seed: int, numbers: range, kind: str, jobs: int = 1) -> None:
    """The cards of a series, of one of `KINDS`, into the folder `out`."""
    out.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(jobs) as pool:
        list(pool.map(partial(make_card, out, seed, kind), numbers, chunksize=4))


def make_card(out: Path, seed: int, kind: str, number: int) -> None:
    """One card of a series."""
    cv2.setNumThreads(1)
    tier = str(np.random.default_rng([9, seed, number]).choice(list(TIERS), p=list(TIERS.values())))
    try:
        shot = shoot(seed, number, replace(lesson(kind, number), tier=tier))
    except RuntimeError:
        return
    straight = as_straightened(shot.truth, straight_by_truth(shot), PX_PER_MM, MARGIN_MM)
    seen = network_input(straight, read_ink(straight))
    bits = maps_of(shot.truth, seen.shape[1] // STRIDE, seen.shape[0] // STRIDE)
    np.savez_compressed(out / f"{kind}-{seed}-{number:05d}.npz", seen=seen, bits=bits)


def lesson(kind: str, number: int) -> Wishes:
    """What is asked of photo `number` of a series to learn from, of one of `KINDS`."""
    return Wishes(
        readable_only=True,
        large_share=LARGE_SHARE,
        rare=kind == "rare",
        littered=kind == "littered",
        coloured=kind == "littered" and number % COLOURED_EACH == 0,
    )


def load_card(path: Path) -> tuple[Bytes, Bytes]:
    """What the network sees of a card, (H, W, 3), and its maps as one bit per channel, (H/2, W/2)."""
    with np.load(path) as kept:
        return kept["seen"], kept["bits"]


def straight_by_truth(shot: Shot, px_per_mm: float = PX_PER_MM, margin_mm: float = MARGIN_MM) -> Bytes:
    """The card from above, by the geometry that took the photo."""
    card = shot.truth["card"]
    columns = round((card["width_mm"] + 2 * margin_mm) * px_per_mm)
    rows = round((card["height_mm"] + 2 * margin_mm) * px_per_mm)
    step = 8
    x = (np.arange(0, columns + step, step) + 0.5) / px_per_mm - margin_mm
    y = (np.arange(0, rows + step, step) + 0.5) / px_per_mm - margin_mm
    mesh = np.stack(np.meshgrid(x, y), axis=-1)
    sparse = shot.to_px(mesh.reshape(-1, 2)).reshape(mesh.shape).astype(np.float32)
    u, v = np.meshgrid(np.arange(columns, dtype=np.float32) / step, np.arange(rows, dtype=np.float32) / step)
    dense = cv2.remap(sparse, u, v, cv2.INTER_LINEAR)
    ways = np.array([sparse[5, 6] - sparse[5, 5], sparse[6, 5] - sparse[5, 5]]) / step
    ratio = float(np.sqrt(abs(np.linalg.det(ways))))
    jpeg = cv2.imencode(
        ".jpg", shot.picture[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, shot.sensor.jpeg_quality]
    )
    photo = cv2.imdecode(jpeg[1], cv2.IMREAD_COLOR)[:, :, ::-1]
    if ratio > 1.4:
        photo = cv2.resize(photo, None, fx=1 / ratio, fy=1 / ratio, interpolation=cv2.INTER_AREA)
        dense = (dense + 0.5) / ratio - 0.5
    return np.asarray(
        cv2.remap(
            np.ascontiguousarray(photo),
            np.ascontiguousarray(dense[..., 0]),
            np.ascontiguousarray(dense[..., 1]),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
    )


def as_straightened(truth: dict[str, Any], pixels: Bytes, px_per_mm: float, margin_mm: float) -> StraightCard:
    """The card as the reading hands it on, of its true edges' pixels, (H, W, 3)."""
    card = Card(truth["card"]["width_mm"], truth["card"]["height_mm"])
    square = square_on_card(truth)
    coded = square is not None and truth["square"]["kind"] == "coded"
    return StraightCard(np.ascontiguousarray(pixels), px_per_mm, card, margin_mm, square, coded)


def square_on_card(truth: dict[str, Any]) -> NDArray[np.float64] | None:
    """(4, 2) the reference square's corners on the card in mm; None where it lies elsewhere or nowhere."""
    if truth["square"] is None or not truth["scene"]["square_on_card"]:
        return None
    to_mm = cv2.getPerspectiveTransform(
        np.float32(truth["card"]["corners_px"]), np.float32(truth["card"]["corners_mm"])
    )
    corners = np.float32(truth["square"]["corners_px"])[None]
    return np.asarray(cv2.perspectiveTransform(corners, to_mm)[0], dtype=np.float64)


def maps_of(truth: dict[str, Any], width: int, height: int) -> Bytes:
    """(height, width) one bit for each of `CHANNELS`, of what the truth says is drawn."""

    def at(points: Any) -> NDArray[np.int32]:
        return np.round(((np.array(points) + MARGIN_MM) * MAP_PX_PER_MM - 0.5) * 16).astype(np.int32)

    def disc(mask: Bytes, mark: dict[str, float]) -> None:
        radius = round(mark["diameter_mm"] / 2 * MAP_PX_PER_MM * 16)
        cv2.circle(mask, at([mark["x_mm"], mark["y_mm"]]).tolist(), radius, 1, -1, shift=4)

    planes = {name: np.zeros((height, width), np.uint8) for name in CHANNELS}
    for light in truth["lights"]:
        disc(planes["light"], light)
    for mark in truth["crossed_out"]:
        disc(planes["crossed"], mark)
    for ring in [truth["battery"], *truth["extra_batteries"]]:
        if ring:
            disc(planes["battery"], ring)
    if truth["window"]:
        cv2.fillPoly(planes["window"], [at(truth["window"])], 1, shift=4)
    for line in (truth["lines"] or {}).values():
        cv2.polylines(planes["line"], [at(line)], False, 1, round(LINE_MM * MAP_PX_PER_MM), shift=4)
    bits = np.zeros((height, width), np.uint8)
    for k, name in enumerate(CHANNELS):
        bits |= planes[name] << k
    return bits
