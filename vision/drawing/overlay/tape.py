"""The two traces as tape: outlines at true width, fold creases, where the signs go, and the painting.

In:    a trace's centre line in millimetres, or in panel pixels once placed.
Out:   polygons and points; `painted` gives the panel's pixels with the tape on, the pencil still visible.
Fails: never; repeated points are passed over.

      outer corner                    a fold turns the tape on its mitre: the crease runs
      +------------+                  from the inner to the outer corner
      | \\ crease   |
      |    +-------+
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from circuit.layout import Point
from vision.drawing.overlay.ink import FINER, finer
from vision.drawing.overlay.paper import Backdrop
from vision.drawing.overlay.style import NEGATIVE, POSITIVE, Colour

_LEAST_FOLD_DEG = 15.0  # the design's rules: under this, tape is eased round without a crease
_MOST_MITRE = 2.7  # 1 / cos(135/2 deg) is 2.61: the sharpest fold allowed keeps its full corner
_OPACITY = 0.62  # chosen: the pencil shows, the colours stay far apart
_EDGE_OPACITY = 0.95
_STRIPE_OPACITY = 0.45
_PEN_PX = 1 / FINER  # Pillow fills a polygon to the far side of its edge pixels: so much too wide
_EDGE_DARKER = 0.35
_EDGE_MM = 0.2  # chosen
_CASING_MM = 0.22  # chosen
_CASING_OPACITY = 0.6
_CREASE_MM = 0.3
_PENCIL_CONTRAST = 1.6  # chosen: grey pencil under colour needs help to be seen
_PENCIL_DEPTH = 0.25  # chosen: how bright the tape stays over black pencil
_STRIPE_EVERY_MM = 1.9  # chosen: the negative tape's stripes
_STRIPE_MM = 0.5
_STRIPE_LEAN_DEG = 60.0
SIGN_EVERY_MM = 17.0  # chosen: a sign in sight wherever one looks


@dataclass(frozen=True, slots=True)
class Outline:
    """`pieces` together cover the tape; `creases` are inner and outer ends of each fold's crease."""

    pieces: tuple[tuple[Point, ...], ...]
    creases: tuple[tuple[Point, Point], ...]


def tidy(line: Sequence[Point]) -> list[Point]:
    """The line without points that repeat the one before."""
    return [point for i, point in enumerate(line) if i == 0 or math.dist(point, line[i - 1]) > 1e-9]


def outline(line: Sequence[Point], width: float) -> Outline:
    """Tape of that width along a centre line, with flat ends and mitred corners."""
    line = tidy(line)
    half = width / 2
    pieces: list[tuple[Point, ...]] = []
    creases: list[tuple[Point, Point]] = []
    for a, b in pairwise(line):
        nx, ny = _normal(a, b)
        pieces.append(
            (
                (a[0] + nx * half, a[1] + ny * half),
                (b[0] + nx * half, b[1] + ny * half),
                (b[0] - nx * half, b[1] - ny * half),
                (a[0] - nx * half, a[1] - ny * half),
            )
        )
    for a, b, c in zip(line, line[1:], line[2:]):
        n1, n2 = _normal(a, b), _normal(b, c)
        cos_turn = max(-1.0, min(1.0, n1[0] * n2[0] + n1[1] * n2[1]))
        turn = math.degrees(math.acos(cos_turn))
        if turn < 1e-6 or turn > 179.9:
            continue
        # Normals point to the right of travel (y down); on a right turn the outer side is the left.
        side = -1.0 if n1[0] * n2[1] - n1[1] * n2[0] > 0 else 1.0
        mx, my = n1[0] + n2[0], n1[1] + n2[1]
        size = math.hypot(mx, my)
        reach = half * min(1 / math.cos(math.radians(turn / 2)), _MOST_MITRE)
        tip = (b[0] + side * mx / size * reach, b[1] + side * my / size * reach)
        inner = (b[0] - side * mx / size * reach, b[1] - side * my / size * reach)
        pieces.append(
            (
                b,
                (b[0] + side * n1[0] * half, b[1] + side * n1[1] * half),
                tip,
                (b[0] + side * n2[0] * half, b[1] + side * n2[1] * half),
            )
        )
        if turn >= _LEAST_FOLD_DEG:
            creases.append((inner, tip))
    return Outline(tuple(pieces), tuple(creases))


def sign_places(
    line: Sequence[Point], every: float, clear_of: Sequence[Point], clear: float, clear_fold: float
) -> list[Point]:
    """Where a trace's signs go: evenly along it, away from `clear_of` by `clear` and from its corners
    by `clear_fold`. A trace too crowded for any gets one in the middle of its longest run."""
    line = tidy(line)
    places: list[Point] = []
    since = every * 0.5
    step = every / 12
    for a, b in pairwise(line):
        run = math.dist(a, b)
        count = max(1, math.floor(run / step))
        for i in range(count):
            done = (i + 0.5) * run / count
            spot = (a[0] + (b[0] - a[0]) * done / run, a[1] + (b[1] - a[1]) * done / run)
            since += run / count
            fits = min(done, run - done) >= clear_fold and all(
                math.dist(spot, at) >= clear for at in clear_of
            )
            if since >= every and fits:
                places.append(spot)
                since = 0.0
    if not places and len(line) > 1:
        a, b = max(pairwise(line), key=lambda ends: math.dist(*ends))
        places.append(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))
    return places


def stripes(line: Sequence[Point], width: float, every: float) -> list[tuple[Point, Point]]:
    """Slanting bars across the tape, at equal steps along it; they reach beyond its edges."""
    bars: list[tuple[Point, Point]] = []
    along = every / 2
    lean = math.radians(_STRIPE_LEAN_DEG)
    reach = width / 2 / math.sin(lean) + 1
    for a, b in pairwise(tidy(line)):
        run = math.dist(a, b)
        ux, uy = (b[0] - a[0]) / run, (b[1] - a[1]) / run
        dx = ux * math.cos(lean) - uy * math.sin(lean)
        dy = ux * math.sin(lean) + uy * math.cos(lean)
        while along < run:
            x, y = a[0] + ux * along, a[1] + uy * along
            bars.append(((x - dx * reach, y - dy * reach), (x + dx * reach, y + dy * reach)))
            along += every
        along -= run
    return bars


def coverage(size: tuple[int, int], line_px: Sequence[Point], width_px: float) -> NDArray[np.float32]:
    """How much of each panel pixel the tape covers, (H, W), 0 to 1."""
    return _reduced(_fine_mask(size, outline(line_px, width_px - _PEN_PX)))


def painted(
    backdrop: Backdrop, lines_px: Mapping[str, Sequence[Point]], width_px: float, px_per_mm: float
) -> NDArray[np.uint8]:
    """The panel's pixels with both tapes laid on; `lines_px` is keyed "positive" and "negative"."""
    pixels = backdrop.pixels.copy()
    for name in ("negative", "positive"):
        if name in lines_px:
            left, top, right, bottom = _around(lines_px[name], width_px, pixels.shape)
            line = [(x - left, y - top) for x, y in lines_px[name]]
            spot = (slice(top, bottom), slice(left, right))
            if right > left and bottom > top:
                pixels[spot] = _laid(
                    pixels[spot], backdrop.bare[spot], line, width_px, px_per_mm, name == "negative"
                )
    return pixels


def _around(line: Sequence[Point], width: float, shape: tuple[int, ...]) -> tuple[int, int, int, int]:
    reach = math.ceil(width * _MOST_MITRE / 2) + 2
    xs, ys = [x for x, _ in line], [y for _, y in line]
    return (
        max(0, math.floor(min(xs)) - reach),
        max(0, math.floor(min(ys)) - reach),
        min(shape[1], math.ceil(max(xs)) + reach),
        min(shape[0], math.ceil(max(ys)) + reach),
    )


def _laid(
    under: NDArray[np.uint8],
    bare: NDArray[np.float32],
    line: Sequence[Point],
    width: float,
    px_per_mm: float,
    striped: bool,
) -> NDArray[np.uint8]:
    size = (under.shape[1], under.shape[0])
    shape = outline(line, width)
    fine = _fine_mask(size, outline(line, width - _PEN_PX))
    rim_px = 2 * max(1, round(_EDGE_MM * px_per_mm * FINER)) + 1
    rim = fine - np.asarray(cv2.erode(fine, np.ones((rim_px, rim_px), np.uint8), borderValue=255))
    dark = np.maximum(rim, _bars(fine, shape.creases, _CREASE_MM * px_per_mm))
    cover = _reduced(fine)[..., None]
    dark_share = _reduced(dark)[..., None]
    colour: Colour = NEGATIVE if striped else POSITIVE
    # The pencil stays readable because the tape's own colour is darkened where the paper is.
    shade = bare[..., None] ** _PENCIL_CONTRAST
    tape = np.array(colour, dtype=np.float32) * (_PENCIL_DEPTH + (1 - _PENCIL_DEPTH) * shade)
    if striped:
        light = _bars(fine, stripes(line, width, _STRIPE_EVERY_MM * px_per_mm), _STRIPE_MM * px_per_mm)
        tape += (255 - tape) * (_reduced(light)[..., None] * _STRIPE_OPACITY * shade)
    tape *= 1 - _EDGE_DARKER * dark_share
    strength = cover * np.maximum(_OPACITY, dark_share * _EDGE_OPACITY)
    # A pale line just outside the tape lifts it off a card of its own tone.
    rim_out = max(1, round(_CASING_MM * px_per_mm * FINER))
    grown = np.asarray(cv2.dilate(fine, np.ones((2 * rim_out + 1, 2 * rim_out + 1), np.uint8)))
    pale = under + (255 - under) * (_reduced(grown - fine)[..., None] * _CASING_OPACITY * shade)
    return np.asarray(np.clip(pale + (tape - pale) * strength + 0.5, 0, 255).astype(np.uint8))


def _fine_mask(size: tuple[int, int], shape: Outline) -> NDArray[np.uint8]:
    image = Image.new("L", (size[0] * FINER, size[1] * FINER), 0)
    draw = ImageDraw.Draw(image)
    for piece in shape.pieces:
        draw.polygon(finer(piece), fill=255)
    return np.array(image)


def _bars(within: NDArray[np.uint8], bars: Sequence[tuple[Point, Point]], width: float) -> NDArray[np.uint8]:
    image = Image.new("L", (within.shape[1], within.shape[0]), 0)
    draw = ImageDraw.Draw(image)
    for bar in bars:
        draw.line(finer(bar), fill=255, width=max(1, round(width * FINER)))
    return np.asarray(np.minimum(np.asarray(image), within))


def _reduced(fine: NDArray[np.uint8]) -> NDArray[np.float32]:
    size = (fine.shape[1] // FINER, fine.shape[0] // FINER)
    share = np.asarray(cv2.resize(fine, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
    share /= 255
    return share


def _normal(a: Point, b: Point) -> Point:
    run = math.dist(a, b)
    return (-(b[1] - a[1]) / run, (b[0] - a[0]) / run)
