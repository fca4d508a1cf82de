"""What tells a filled-in dot from a letter, a crossing, a loop or a smudge, as one row of numbers.

In:    the card's `Blob`s and the strokes round them.
Out:   (N, len(BASE)) of base traits, and the (N, len(TERMS)) terms that the dots' weights multiply.
Fails: never.

Of itself a letter's knot can be as round and dark as a small dot; what gives it away is the company it
keeps: short bent strokes, ends and junctions all round. Lines that touch a dot are long and straight.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.marks.blobs import Blob
from vision.marks.ink import Ink
from vision.marks.strokes import Strokes

Floats = NDArray[np.float64]

BASE = (
    "diameter",  # mm
    "level_ratio",  # its ink over that of the card's clean dots
    "middle",
    "holes",
    "ragged",  # mm
    "long",
    "strays",
    "edge",  # mm, less what the blur alone makes
    "around",  # ink beside it over its own
    "floor",  # ink of its palest tenth over its own
    "stroke_length",  # mm of stroke nearby
    "nodes",  # ends and junctions of strokes nearby
    "one_way",  # 1: the strokes nearby run one way
    "reach",  # mm, extent of the strokes nearby
    "level",
)

# Each term and the group it belongs to: what a blob that fails by it is likely to be.
TERMS: tuple[tuple[str, str], ...] = (
    ("tiny", "size"),
    ("small", "size"),
    ("huge", "size"),
    ("log_level_ratio", "pale"),
    ("middle", "loop"),
    ("hollow", "loop"),
    ("holes", "loop"),
    ("ragged", "shape"),
    ("long", "shape"),
    ("strays", "strokes"),
    ("strays_squared", "strokes"),
    ("edge", "soft"),
    ("around", "strokes"),
    ("floor", "loop"),
    ("stroke_length", "strokes"),
    ("nodes", "strokes"),
    ("one_way", "strokes"),
    ("reach", "strokes"),
    ("small_strays", "strokes"),
    ("small_nodes", "strokes"),
    ("small_length", "strokes"),
    ("strays_one_way", "strokes"),
    ("small_log_level_ratio", "pale"),
    ("strays_log_level_ratio", "strokes"),
    ("log_level", "pale"),
    ("small_floor", "loop"),
)

BLUR_EDGE_TIMES = 1.4  # a blurred step falls from 3/4 to 1/4 within 1.35 standard deviations
SHARP_EDGE_MM = 0.5  # graphite on grain has no sharper one
NEAR_MM = (0.4, 3.5)  # ring beyond the blob's edge in which strokes are its company
FEW_POINTS = 3
FAR_REACH_MM = 20.0  # where there is no stroke nearby: as harmless as a long line
MOST_REACH_MM = 25.0
USUAL_LEVEL = 0.45  # what a soft pencil leaves, where no dot on the card tells


def base_traits(ink: Ink, strokes: Strokes, blobs: list[Blob], blur_mm: float) -> Floats:
    """One row of `BASE` per blob."""
    if not blobs:
        return np.zeros((0, len(BASE)))
    usual = _usual_level(blobs)
    nodes_mm = _nodes(ink, strokes)
    extent = _extents(ink, strokes)
    doubled = np.exp(2j * np.arctan2(strokes.along[:, 1], strokes.along[:, 0]))
    rows = []
    for blob in blobs:
        low, high = (blob.radius_mm + step for step in NEAR_MM)
        away = np.hypot(strokes.points_mm[:, 0] - blob.x_mm, strokes.points_mm[:, 1] - blob.y_mm)
        near = (away > low) & (away < high)
        node_away = np.hypot(nodes_mm[:, 0] - blob.x_mm, nodes_mm[:, 1] - blob.y_mm)
        some = int(near.sum()) > FEW_POINTS
        rows.append(
            (
                2 * blob.radius_mm,
                blob.level / usual,
                blob.middle,
                blob.holes,
                blob.ragged_mm,
                blob.long,
                blob.strays,
                blob.edge_mm - BLUR_EDGE_TIMES * blur_mm,
                blob.around / max(blob.level, 1e-6),
                blob.floor,
                float(near.sum()) / ink.work_px_per_mm,
                float(((node_away > low) & (node_away < high)).sum()),
                float(abs(doubled[near].mean())) if some else 1.0,
                min(float(np.median(extent[near])), MOST_REACH_MM) if some else FAR_REACH_MM,
                blob.level,
            )
        )
    return np.array(rows, dtype=np.float64)


def terms(base: Floats) -> Floats:
    """The (N, len(TERMS)) terms of (N, len(BASE)) traits."""
    at = {name: base[:, index] for index, name in enumerate(BASE)}
    small = np.clip(2.4 - at["diameter"], 0, 2)
    ratio = np.log(np.clip(at["level_ratio"], 0.05, 3))
    return np.column_stack(
        [
            np.clip(1.7 - at["diameter"], 0, 1),
            small,
            np.clip(at["diameter"] - 5.5, 0, 3),
            ratio,
            np.clip(at["middle"], 0, 1.1),
            np.clip(1.1 - at["middle"], 0, 1) ** 2,
            at["holes"],
            at["ragged"],
            at["long"],
            at["strays"],
            at["strays"] ** 2,
            np.clip(at["edge"] - SHARP_EDGE_MM, 0, 1.5),
            at["around"],
            at["floor"],
            at["stroke_length"],
            at["nodes"],
            at["one_way"],
            at["reach"] / 10,
            small * at["strays"],
            small * at["nodes"],
            small * at["stroke_length"],
            at["strays"] * at["one_way"],
            small * ratio,
            at["strays"] * ratio,
            np.log(np.clip(at["level"], 0.02, 1)),
            at["floor"] * small,
        ]
    )


def _usual_level(blobs: list[Blob]) -> float:
    clean = [
        blob.level
        for blob in blobs
        if 1.9 <= 2 * blob.radius_mm <= 5.6 and blob.strays < 0.2 and blob.holes < 0.05 and blob.middle > 0.7
    ]
    return float(np.median(clean)) if clean else USUAL_LEVEL


def _nodes(ink: Ink, strokes: Strokes) -> Floats:
    """(M, 2) ends and junctions of the thinned strokes. [mm]"""
    thin = strokes.thin.astype(np.uint8)
    around = cv2.filter2D(thin, cv2.CV_8U, np.ones((3, 3), np.float32), borderType=cv2.BORDER_CONSTANT)
    rows, columns = np.nonzero(strokes.thin & (around != 3))  # itself and two neighbours
    return ink.work_to_mm(np.column_stack([columns, rows]))


def _extents(ink: Ink, strokes: Strokes) -> Floats:
    """(N,) diagonal of the piece of stroke that each stroke point belongs to. [mm]"""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(strokes.thin.astype(np.uint8), connectivity=8)
    across = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]) / ink.work_px_per_mm
    rows, columns = np.nonzero(strokes.thin)
    return np.asarray(across[labels[rows, columns]], dtype=np.float64)
