"""The painted layers of one picture: table, card, square, glare; each sampled through camera and lens.

Light is linear, (H, W, 3) float32. Every layer finds for each of its pixels the paper under it and
takes the share of the pixel that the layer covers from the distance to its outline.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.photo_simulator import scene
from tests.benchmarks.photo_simulator.graphite import PX_PER_MM, Face
from tests.benchmarks.photo_simulator.litter import Litter
from tests.benchmarks.photo_simulator.table_tops import TILE_PX_PER_MM, table_tile
from tests.card_kit.camera import TABLE, Camera, Sheet
from tests.card_kit.outlines import Plane, Points, blend, coverage
from tests.card_kit.square import white_cells

Light = NDArray[np.float32]
SQUARE_PAPER_MM = 0.1
WHITE_PRINT = 0.83

RING = np.array([(math.cos(a), math.sin(a)) for a in np.linspace(0, 2 * math.pi, 8, endpoint=False)])


def along(corners: Points, pieces: int = 24) -> Points:
    """Points all along the sides of a polygon."""
    t = (np.arange(pieces) / pieces)[:, None]
    return np.vstack([a + (b - a) * t for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)])


def box_of(camera: Camera, px: Points, spare: int = 4) -> tuple[int, int, int, int]:
    low, high = np.floor(px.min(axis=0)).astype(int) - spare, np.ceil(px.max(axis=0)).astype(int) + spare + 1
    limits = np.array([camera.width_px, camera.height_px])
    low, high = np.clip(low, 0, limits), np.clip(high, 0, limits)
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def px_per_mm(camera: Camera, at: Points) -> float:
    """Pixels per millimetre about a place on the table, the mean of all directions."""
    around = np.column_stack([at + RING * 2.0, np.zeros(8)])
    return math.sqrt(
        cv2.contourArea(camera.project(around).astype(np.float32))
        / cv2.contourArea((RING * 2).astype(np.float32))
    )


def lay_table(rng: np.random.Generator, kind: str, camera: Camera) -> Light:
    x, y = camera.sampling_maps(TABLE, (0, 0, camera.width_px, camera.height_px))
    a = math.radians(float(rng.choice((0, 90)) + rng.normal(0, 12)))
    shift = rng.uniform(0, 256, 2)
    s = TILE_PX_PER_MM
    map_x = np.asarray((x * math.cos(a) + y * math.sin(a) + shift[0]) * s, np.float32)
    map_y = np.asarray((y * math.cos(a) - x * math.sin(a) + shift[1]) * s, np.float32)
    encoded = cv2.remap(table_tile(kind), map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    tint = rng.uniform(0.9, 1.1) * (1 + rng.normal(0, 0.03, 3))
    levels = (np.arange(256, dtype=np.float32) / 255) ** 2
    table = np.stack([levels * np.float32(t) for t in tint], axis=1).reshape(1, 256, 3)
    return np.asarray(cv2.LUT(encoded, table))


def lay_card(
    rng: np.random.Generator,
    picture: Light,
    camera: Camera,
    card: scene.CardSpec,
    sheet: Sheet,
    face: Face,
    litter: Litter | None = None,
) -> None:
    rim = card.rim_mm()
    upper = camera.project(sheet.to_world(rim))
    lower = camera.project(sheet.to_world(rim, above_mm=-sheet.thickness_mm))
    colour = np.float32(scene.PAPERS[card.paper]) * np.float32(rng.uniform(0.96, 1.04))
    side = [float(c) * 0.72 for c in colour]
    table = picture.copy() if litter is not None else picture
    for outline in (lower, upper):
        fixed = np.round(outline * 16).astype(np.int32)
        cv2.fillPoly(picture, [fixed], side, cv2.LINE_AA, 4)
    left, top, right, bottom = box_of(camera, upper)
    x, y = camera.sampling_maps(sheet, (left, top, right, bottom))
    scale = px_per_mm(camera, card.corners_mm.mean(axis=0))
    mottle = 0.10 if card.paper == "kraft" else 0.025
    surface = face.marks * (1 + mottle * (face.tooth - 0.5))
    # Finer than the photo: average over about one photo pixel before sampling.
    wide = 0.29 * math.sqrt(max((PX_PER_MM / scale) ** 2 - 1, 0.0)) + 0.3

    def sampled(painted: Light) -> Light:
        soft = cv2.GaussianBlur(painted, (0, 0), wide)
        at = (plane * np.float32(PX_PER_MM) - np.float32(0.5) for plane in (x, y))
        return np.asarray(cv2.remap(soft, *at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))

    shade = sampled(surface)
    if len(sheet.along_mm) > 2:
        shade *= _bend_shade(sheet, x, y)
    cover = coverage(x, y, card.corners_mm, scale, card.wander_mm)
    seen = shade[:, :, None] * colour
    if card.lead != scene.GREY_LEAD:
        through = sampled(face.marks)[:, :, None]
        seen *= (1 - (1 - through) * np.float32(card.lead)) / through
    if litter is not None:
        over, gone = sampled(litter.over), sampled(litter.gone)[:, :, None]
        through = table[top:bottom, left:right] * np.float32(litter.lit_through)
        seen *= sampled(litter.stained)
        seen += gone * (through - seen)
        seen = seen * (1 - over[:, :, 3:]) + over[:, :, :3]
    blend(picture[top:bottom, left:right], seen, cover)


def _bend_shade(sheet: Sheet, x: Plane, y: Plane) -> Plane:
    """A bent sheet turns towards or away from the light: a few per cent of brightness."""
    a = math.radians(sheet.direction_deg)
    along = x * np.float32(math.cos(a)) + y * np.float32(math.sin(a))
    slope = np.gradient(sheet.lift_mm, sheet.along_mm)
    step = float(sheet.along_mm[1] - sheet.along_mm[0])
    table = (1 - 0.5 * slope).astype(np.float32)[None, :]
    at = np.asarray((along - sheet.along_mm[0]) / step, np.float32)
    wrapped = np.clip(at, 0, table.shape[1] - 1)
    # remap takes at most 32767 columns; the profile has a few thousand
    return np.asarray(cv2.remap(table, wrapped, np.zeros_like(wrapped), cv2.INTER_LINEAR))


def lay_square(
    rng: np.random.Generator, picture: Light, camera: Camera, square: scene.SquareSpec, lies: Sheet
) -> None:
    outline = along(square.paper_mm, 6)
    above = SQUARE_PAPER_MM
    left, top, right, bottom = box_of(camera, camera.project(lies.to_world(outline, above_mm=above)))
    if right <= left or bottom <= top:
        return
    x, y = camera.sampling_maps(lies, (left, top, right, bottom), above)
    paint, half_mm = _square_texture(rng, square)
    a = math.radians(square.turn_deg)
    dx, dy = x - np.float32(square.centre_mm[0]), y - np.float32(square.centre_mm[1])
    local_x = dx * np.float32(math.cos(a)) + dy * np.float32(math.sin(a))
    local_y = dy * np.float32(math.cos(a)) - dx * np.float32(math.sin(a))
    scale = px_per_mm(camera, square.centre_mm)
    wide = 0.29 * math.sqrt(max((PX_PER_MM / scale) ** 2 - 1, 0.0)) + 0.3
    paint = cv2.GaussianBlur(paint, (0, 0), wide)
    seen = cv2.remap(
        paint,
        (local_x + np.float32(half_mm)) * np.float32(PX_PER_MM) - np.float32(0.5),
        (local_y + np.float32(half_mm)) * np.float32(PX_PER_MM) - np.float32(0.5),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    cover = coverage(x, y, square.paper_mm, scale)
    blend(picture[top:bottom, left:right], seen, cover)


def _square_texture(rng: np.random.Generator, square: scene.SquareSpec) -> tuple[Light, float]:
    """(N, N, 3) of the square's paper, and half its side in mm."""
    half = square.true_side_mm / 2 * square.border + 0.5
    count = math.ceil(2 * half * PX_PER_MM)
    at = (np.arange(count) + 0.5) / PX_PER_MM - half
    ink = np.float32(square.colour) * np.float32(rng.uniform(0.8, 1.3))
    mottled = 1 + 0.08 * rng.standard_normal((count, count)).astype(np.float32)
    if not square.coded:
        return np.asarray(mottled[:, :, None] * ink), half
    bits = white_cells(square.side_mm)
    cell = square.true_side_mm / 6
    fine = 4  # the coverage of each texture pixel from 4 x 4 samples
    sub = (np.arange(count * fine) + 0.5) / (PX_PER_MM * fine) - half
    index = np.floor((sub + square.true_side_mm / 2) / cell).astype(int)
    inside = (index >= 0) & (index < 6)
    big = np.ones((len(sub), len(sub)), np.float32)
    black = ~bits[np.ix_(np.clip(index, 0, 5), np.clip(index, 0, 5))]
    big[(inside[:, None] & inside[None, :]) & black] = 0
    white = cv2.resize(big, (count, count), interpolation=cv2.INTER_AREA)
    white = cv2.GaussianBlur(white, (0, 0), 0.5)[:, :, None]  # ink bleeds a little
    paper = np.float32(WHITE_PRINT) * np.float32((1.0, 1.0, 0.99))
    assert len(at) == count
    return np.asarray(white * paper + (1 - white) * mottled[:, :, None] * ink, np.float32), half


def add_glare(
    rng: np.random.Generator,
    picture: Light,
    camera: Camera,
    sheet: Sheet,
    card: scene.CardSpec,
    strength: float,
    place_mm: Points | None = None,
) -> None:
    """The lamp's reflection on the card, at a place or anywhere."""
    w, h = card.nominal_mm
    anywhere = rng.uniform((0.1 * w, 0.1 * h), (0.9 * w, 0.9 * h))
    at = camera.project(sheet.to_world((anywhere if place_mm is None else place_mm)[None, :]))[0]
    size = rng.uniform(0.08, 0.22) * math.hypot(camera.width_px, camera.height_px)
    u = ((np.arange(0, camera.width_px, 8) - at[0]) / size)[None, :]
    v = ((np.arange(0, camera.height_px, 8) - at[1]) / (size * rng.uniform(0.5, 1.0)))[:, None]
    blob = (strength * np.exp(-0.5 * (u * u + v * v))).astype(np.float32)
    full = cv2.resize(blob, (camera.width_px, camera.height_px), interpolation=cv2.INTER_LINEAR)
    picture += full[:, :, None]
