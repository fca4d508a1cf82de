"""Where the phone is held and where things lie: all in sight that should be, nothing over a mark."""

from __future__ import annotations

import math

import cv2
import numpy as np

from tests.benchmarks.photo_simulator import scene, things
from tests.benchmarks.photo_simulator.layers import RING, along
from tests.benchmarks.photo_simulator.layout import Pencilling
from tests.card_kit.camera import TABLE, Camera, Points, Sheet, aim


def camera_of_chance(
    rng: np.random.Generator,
    card: scene.CardSpec,
    square: scene.SquareSpec | None,
    sheet: Sheet,
    refuse: str | None,
    tilt_deg: float | None,
    large_share: float,
) -> Camera | None:
    """A camera that sees all it should, or just not all where the photo is to be refused for it."""
    width, height = scene.resolution_of_chance(rng, large_share)
    rim = sheet.to_world(card.corners_mm)
    paper = np.zeros((0, 3))
    if square:
        lies = sheet if square.on_card else TABLE
        paper = lies.to_world(square.paper_mm * 0.97 + square.centre_mm * 0.03)
    hold = np.vstack([rim, paper])
    fill = rng.uniform(0.84, 0.965)
    if refuse == "card cut by the frame":
        middle = rim.mean(axis=0)
        hold = np.vstack([middle + (rim - middle) * rng.uniform(0.55, 0.85), paper])
    elif refuse == "square cut by the frame":
        hold = np.vstack([rim, paper.mean(axis=0, keepdims=True)])
        fill = 0.97
    tilt = tilt_deg if tilt_deg is not None else min(abs(rng.normal(0, 15)), 35.0)
    camera = aim(
        hold,
        width_px=width,
        height_px=height,
        equivalent_mm=float(rng.uniform(22, 35)),
        tilt_deg=float(tilt),
        toward_deg=float(rng.uniform(0, 360)),
        roll_deg=scene.roll_of_chance(rng),
        fill=float(fill),
        nudge=(float(rng.uniform(-1, 1)), float(rng.uniform(-1, 1))),
        k1=float(np.clip(rng.normal(0, 0.03), -0.09, 0.09)),
        k2=float(rng.normal(0, 0.006)),
    )
    inside = _margin_px(camera, rim)
    black = np.zeros((0, 3))
    if square:
        black = (sheet if square.on_card else TABLE).to_world(square.corners_mm)
    seen = _margin_px(camera, black) if square else np.array([99.0])
    if refuse == "card cut by the frame":
        good = inside.min() < -0.02 * width and seen.min() > 5
    elif refuse == "square cut by the frame":
        good = inside.min() > 4 and -0.5 * height < seen.min() < -12 and seen.max() > 12
    else:
        good = inside.min() > 6 and seen.min() > 8
    # A card that takes less than a sixth of the frame is a photo from too far away.
    area = abs(float(cv2.contourArea(camera.project(rim).astype(np.float32)))) / (width * height)
    return camera if good and area > 0.17 else None


def _margin_px(camera: Camera, world: Points) -> Points:
    """How far each point is inside the picture; negative: outside. [px]"""
    px = camera.project(world)
    limits = np.array([camera.width_px - 1, camera.height_px - 1])
    return np.asarray(np.minimum(px, limits - px).min(axis=1))


def things_on_card(
    rng: np.random.Generator, tier: str, card: scene.CardSpec, square: scene.SquareSpec | None
) -> list[things.Thing]:
    if tier != "C" or rng.random() > 0.3:
        return []
    thing = things.ON_CARD[int(rng.integers(len(things.ON_CARD)))](rng)
    w, h = card.nominal_mm
    at = rng.uniform((18, 18), (w - 18, h - 18))
    if square and square.on_card and np.linalg.norm(at - square.centre_mm) < square.true_side_mm + 30:
        return []
    return [thing.moved(at, float(rng.uniform(0, 360)))]


def things_about(
    rng: np.random.Generator,
    tier: str,
    card: scene.CardSpec,
    square: scene.SquareSpec | None,
    sheet: Sheet,
    camera: Camera,
    marks: Pencilling,
) -> list[things.Thing]:
    """Things on the table, clear of the square and of every mark; and now and then two fingers."""
    found: list[things.Thing] = []
    w, h = card.nominal_mm
    card_px = camera.project(sheet.to_world(along(card.corners_mm))).astype(np.float32)
    keep = [card_px]
    if square and not square.on_card:
        keep.append(camera.project(TABLE.to_world(along(square.paper_mm))).astype(np.float32))
    count = int(rng.choice((0, 1, 2), p=(0.4, 0.35, 0.25))) if tier != "C" else int(rng.integers(1, 5))
    for _ in range(count):
        make = things.ON_TABLE[int(rng.integers(len(things.ON_TABLE)))]
        for _ in range(12):
            at = np.array([w / 2, h / 2]) + rng.uniform(-1, 1, 2) * (w / 2 + 75, h / 2 + 75)
            thing = make(rng).moved(at, float(rng.uniform(0, 360)))
            hulls = thing.silhouettes(camera)
            touches = any(_overlap(hull, other) for hull in hulls for other in keep)
            seen = any(_shows(camera, hull) for hull in hulls)
            if not touches and seen:
                found.append(thing)
                keep += [hull.astype(np.float32) for hull in hulls]
                break
    if rng.random() < 0.05:
        rim = along(card.corners_mm, 6)
        spot = rim[int(rng.integers(len(rim)))]
        outward = spot - card.corners_mm.mean(axis=0)
        turn = math.degrees(math.atan2(outward[1], outward[0]))
        fingers = things.fingertip(rng).moved(spot - outward / np.linalg.norm(outward) * 10, turn)
        clear = not square or not any(
            _overlap(
                hull,
                camera.project((sheet if square.on_card else TABLE).to_world(square.paper_mm)).astype(
                    np.float32
                ),
            )
            for hull in fingers.silhouettes(camera)
        )
        if clear and not covers(fingers, camera, sheet, marks, card, corners=True):
            found.append(fingers)
    return found


def _overlap(a: Points, b: Points) -> bool:
    """Whether two convex outlines meet, with some pixels to spare."""
    area, _ = cv2.intersectConvexConvex(
        cv2.convexHull(a.astype(np.float32)), cv2.convexHull(b.astype(np.float32))
    )
    return bool(area > 0)


def _shows(camera: Camera, px: Points) -> bool:
    return bool(
        np.any(
            (px[:, 0] > 10)
            & (px[:, 1] > 10)
            & (px[:, 0] < camera.width_px - 10)
            & (px[:, 1] < camera.height_px - 10)
        )
    )


def covers(
    thing: things.Thing, camera: Camera, sheet: Sheet, marks: Pencilling, card: scene.CardSpec, corners: bool
) -> bool:
    """Whether `thing` hides part of a dot or of the ring, or a corner of the card."""
    spots = [np.array([(d.x_mm, d.y_mm)]) + d.diameter_mm * 0.8 * RING for d in marks.dots]
    spots += [ring.path_mm[::4] for ring in marks.rings]
    if corners:
        spots.append(card.corners_mm)
    if not spots:
        return False
    px = camera.project(sheet.to_world(np.vstack(spots))).astype(np.float32)
    return any(
        cv2.pointPolygonTest(hull.astype(np.float32), (float(x), float(y)), True) > -4
        for hull in thing.silhouettes(camera)
        for x, y in px
    )
