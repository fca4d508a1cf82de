"""Lamps and shadows: how much light of which colour reaches each place in the picture.

Fields are worked out at every `COARSE`th pixel and enlarged; lamps and hands make soft edges.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.card_kit.camera import TABLE, Camera, Points

Light = NDArray[np.float32]
COARSE = 8
HALF = 2  # shadows of things are worked out at every second pixel
KINDS = ("window", "lamp", "cool lamp", "ceiling", "overcast", "mixed")


@dataclass(frozen=True, slots=True)
class Lighting:
    """`toward` is the direction on the table from which most light comes; `slope` how low it stands
    (horizontal over vertical); `penumbra_mm` how soft the shadow of a thing 10 mm high is."""

    kind: str
    toward: Points
    slope: float
    penumbra_mm: float
    strength: float
    colour: tuple[float, float, float]
    second_colour: tuple[float, float, float]
    shadow: str
    glare: float
    vignette: float

    @staticmethod
    def of_chance(rng: np.random.Generator, shadow: str | None = None) -> Lighting:
        kind = str(rng.choice(KINDS))
        a = rng.uniform(0, 2 * math.pi)
        warm, cool, neutral = (1.0, 0.80, 0.58), (0.88, 0.97, 1.1), (1.0, 0.99, 0.97)
        colour = {"lamp": warm, "cool lamp": cool, "window": (0.95, 1.0, 1.06), "overcast": (0.96, 1.0, 1.04)}
        # A phone's white balance takes most of a lamp's colour away and leaves a cast.
        kept = rng.uniform(0.1, 0.6)
        first = colour.get(kind, neutral)
        cast = tuple(1 + (c - 1) * kept for c in first)
        return Lighting(
            kind=kind,
            toward=np.array([math.cos(a), math.sin(a)]),
            slope=float(
                {
                    "window": 1.3,
                    "lamp": 0.9,
                    "cool lamp": 0.9,
                    "ceiling": 0.4,
                    "overcast": 0.25,
                    "mixed": 1.0,
                }[kind]
                * rng.uniform(0.6, 1.5)
            ),
            penumbra_mm=float(rng.uniform(3, 14)),
            strength=float({"overcast": 0.25, "ceiling": 0.4}.get(kind, 0.6) * rng.uniform(0.6, 1.2)),
            colour=(cast[0], cast[1], cast[2]),
            second_colour=(1.08, 0.98, 0.85) if kind == "mixed" else (cast[0], cast[1], cast[2]),
            shadow=shadow or str(rng.choice(("none", "hand", "phone", "stripes"), p=(0.6, 0.17, 0.17, 0.06))),
            glare=float(rng.uniform(0.08, 0.3)) if rng.random() < 0.15 else 0.0,
            vignette=float(rng.uniform(0.05, 0.35)),
        )


def field(
    rng: np.random.Generator, lighting: Lighting, camera: Camera, middle_mm: Points, reach_mm: float
) -> Light:
    """(h, w, 3) light at every `COARSE`th pixel, about 1 in the middle of the card."""
    rows, columns = math.ceil(camera.height_px / COARSE) + 1, math.ceil(camera.width_px / COARSE) + 1
    u, v = np.meshgrid(np.arange(columns) * COARSE, np.arange(rows) * COARSE)
    where = TABLE.meet(camera.eye, camera.rays(np.column_stack([u.ravel(), v.ravel()]).astype(np.float64)))
    off = (where - middle_mm) / reach_mm
    along = (off @ lighting.toward).reshape(rows, columns)
    across = (off @ np.array([-lighting.toward[1], lighting.toward[0]])).reshape(rows, columns)
    if lighting.kind in ("lamp", "cool lamp"):
        height = rng.uniform(1.6, 3.2)  # of the lamp, in card halves: near lamps light unevenly
        away2 = (along - rng.uniform(0.5, 1.8)) ** 2 + (across - rng.uniform(-0.5, 0.5)) ** 2
        bright = (height**2 / (height**2 + away2)) ** 1.5
    elif lighting.kind == "ceiling":
        bright = 1 + 0.06 * along
    else:
        distance = rng.uniform(3.0, 7.0)
        bright = (distance / (distance - np.clip(along, -4, 2))) ** 1.6
    bright = bright / float(bright[rows // 2, columns // 2])
    share = np.clip(0.5 + 0.35 * along, 0, 1)[:, :, None]
    tint = np.float32(lighting.colour) * share + np.float32(lighting.second_colour) * (1 - share)
    out = bright[:, :, None].astype(np.float32) * tint.astype(np.float32)
    if lighting.shadow != "none":
        out *= _cast(rng, lighting, along, across)[:, :, None]
    r2 = ((u - camera.middle_px[0]) ** 2 + (v - camera.middle_px[1]) ** 2) / camera.focal_px**2
    return np.asarray(
        out * ((1 - lighting.vignette) + lighting.vignette / (1 + r2) ** 2)[:, :, None], np.float32
    )


def _cast(rng: np.random.Generator, lighting: Lighting, along: Points, across: Points) -> Light:
    """The shadow of the phone, the hand that holds it, or a window's bars: 1 where there is none."""
    a = rng.uniform(0, 2 * math.pi)
    x = along * math.cos(a) - across * math.sin(a)
    y = along * math.sin(a) + across * math.cos(a)
    x = x + rng.uniform(-0.7, 0.7)
    y = y + rng.uniform(-0.7, 0.7)
    if lighting.shadow == "phone":
        inside = np.minimum(rng.uniform(0.5, 0.8) - np.abs(x), rng.uniform(0.9, 1.4) - np.abs(y + 0.6))
    elif lighting.shadow == "stripes":
        inside = np.cos(x * rng.uniform(4, 7)) * 0.2
    else:
        inside = np.minimum(0.45 - np.abs(x), y + 0.2)
        for k, at in enumerate((-0.36, -0.12, 0.12, 0.34)):
            finger = np.minimum(
                0.10 - np.abs(x - at - 0.1 * y), np.minimum(y + 0.75 + 0.1 * (k % 3), 0.2 - y)
            )
            inside = np.maximum(inside, finger)
    soft = rng.uniform(0.05, 0.25)
    dark = np.clip(inside / soft * 0.5 + 0.5, 0, 1)
    return (1 - lighting.strength * rng.uniform(0.5, 0.9) * dark * dark * (3 - 2 * dark)).astype(np.float32)


def enlarge(coarse: Light, width: int, height: int) -> Light:
    """From every `COARSE`th pixel to all of them."""
    columns, rows = coarse.shape[1] * COARSE, coarse.shape[0] * COARSE
    full = cv2.warpAffine(
        coarse,
        np.array([[COARSE, 0, 0], [0, COARSE, 0]], np.float64),
        (min(columns, width), min(rows, height)),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(full)


def cast_shadow(
    picture: Light, camera: Camera, edges: list[Points], lighting: Lighting, heights: list[float]
) -> None:
    """Darken `picture` where things of these outlines (N, 3 world) and heights keep light away."""
    small = np.zeros((camera.height_px // HALF + 1, camera.width_px // HALF + 1), np.float32)
    scale = camera.focal_px / abs(float(camera.eye[2])) / HALF
    for edge, height in zip(edges, heights, strict=True):
        layer = np.zeros_like(small)
        tip = edge.copy()
        tip[:, :2] += (edge[:, 2:] * lighting.slope) * lighting.toward  # z = -height: away from the light
        tip[:, 2] = 0
        foot = edge.copy()
        foot[:, 2] = 0
        hull = cv2.convexHull(camera.project(np.vstack([tip, foot])).astype(np.float32) / HALF)[:, 0]
        cv2.fillConvexPoly(layer, np.round(hull * 16).astype(np.int32), 1.0, cv2.LINE_AA, 4)
        sigma = float(np.clip(lighting.penumbra_mm * height / 20, 0.25, 12) * scale)
        small = np.maximum(small, cv2.GaussianBlur(layer, (0, 0), max(sigma, 0.8)))
    if small.any():
        full = cv2.resize(
            small, (small.shape[1] * HALF, small.shape[0] * HALF), interpolation=cv2.INTER_LINEAR
        )
        picture *= (1 - lighting.strength * full[: camera.height_px, : camera.width_px])[:, :, None]
