"""One photo from seed and number: throw the dice, draw the card, photograph it, write down the truth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.photo_simulator import light as lamps
from tests.benchmarks.photo_simulator import scene, things
from tests.benchmarks.photo_simulator.camera import TABLE, Camera, Plane, Points, Sheet, aim
from tests.benchmarks.photo_simulator.graphite import PX_PER_MM, Face
from tests.benchmarks.photo_simulator.layout import Pencilling, pencil
from tests.benchmarks.photo_simulator.sensor import Picture, Sensor, expose
from tests.benchmarks.photo_simulator.tables import TILE_PX_PER_MM, table_tile
from tests.benchmarks.photo_simulator.truth import describe

Light = NDArray[np.float32]
SQUARE_PAPER_MM = 0.1
WHITE_PRINT = 0.83
DICE_AGAIN = 40  # chosen: how often a layout that came out wanting is drawn afresh


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the command line fixes; None leaves it to the dice."""

    tier: str | None = None
    refuse: str | None = None
    readable_only: bool = False
    refuse_share: float = 0.12
    curl_mm: float | None = None
    tilt_deg: float | None = None
    table: str | None = None
    square_on_card: bool | None = None
    large_share: float = scene.LARGE_SHARE


@dataclass(frozen=True, slots=True)
class Shot:
    picture: Picture
    sensor: Sensor
    truth: dict[str, Any]


def shoot(seed: int, number: int, wishes: Wishes | None = None) -> Shot:
    """Photo `number` of the series `seed`."""
    wishes = wishes or Wishes()
    rng = np.random.default_rng([seed, number])
    tier = wishes.tier or str(rng.choice(list(scene.TIERS), p=list(scene.TIERS.values())))
    refuse = wishes.refuse
    if refuse is None and not wishes.readable_only and rng.random() < wishes.refuse_share:
        refuse = str(rng.choice(scene.REFUSALS))
    for _ in range(DICE_AGAIN):
        shot = _try_once(rng, f"sim-{tier.lower()}-{seed}-{number:04d}", tier, refuse, wishes)
        if shot is not None:
            return shot
    raise RuntimeError(f"no photo came out of seed {seed}, number {number}")


def _try_once(
    rng: np.random.Generator, name: str, tier: str, refuse: str | None, wishes: Wishes
) -> Shot | None:
    card = scene.card_of_chance(rng, refuse)
    square = scene.square_of_chance(rng, card, refuse, wishes.square_on_card)
    sheet, curl = scene.sheet_of_chance(
        rng, card, 0.0 if refuse == "square and card disagree" else wishes.curl_mm
    )
    camera = _camera(rng, card, square, sheet, refuse, wishes)
    if camera is None:
        return None
    on_card = _things_on_card(rng, tier, card, square)
    keep_free = [square.paper_mm] if square and square.on_card else []
    keep_free += [t.footprint_mm() for t in on_card]
    marks = pencil(
        rng,
        *card.nominal_mm,
        tier,
        keep_free=keep_free,
        lights=0 if refuse == "no dots" else None,
        rings={"no battery circle": 0, "two battery circles": 2}.get(refuse or "", 1),
    )
    if len(marks.rings) != {"no battery circle": 0, "two battery circles": 2}.get(refuse or "", 1):
        return None
    if not marks.dots and refuse != "no dots":
        return None
    lighting = scene.lighting_of_chance(rng)
    table = wishes.table or scene.table_of_chance(rng)
    near = _things_about(rng, tier, card, square, sheet, camera, marks)
    on_card = [t.lifted(sheet.thickness_mm + curl * 0.5) for t in on_card]
    on_card = [t for t in on_card if not _covers(t, camera, sheet, marks, card, corners=True)]

    picture = _table(rng, table, camera)
    rim = sheet.to_world(_along(card.corners_mm))
    lamps.cast_shadow(picture, camera, [rim], lighting, [max(0.35, float(-rim[:, 2].mean()))])
    if square and not square.on_card:
        _lay_square(rng, picture, camera, square, TABLE)
    face = Face(float(card.corners_mm[:, 0].max()), float(card.corners_mm[:, 1].max()), card.tooth, rng)
    lights, rings = face.pencil(marks, card.darkest)
    _lay_card(rng, picture, camera, card, sheet, face)
    if square and square.on_card:
        _lay_square(rng, picture, camera, square, sheet)
    everything = near + on_card
    outlines = [p for t in everything for p in t.parts]
    edges = [np.column_stack([p.outline_mm, np.full(len(p.outline_mm), -p.top_mm)]) for p in outlines]
    lamps.cast_shadow(picture, camera, edges, lighting, [max(p.top_mm - p.foot_mm, 0.3) for p in outlines])
    for thing in everything:
        things.paint(picture, thing, camera, lighting.toward)

    middle = card.corners_mm.mean(axis=0)
    reach = max(card.nominal_mm) / 2
    picture *= lamps.enlarge(
        lamps.field(rng, lighting, camera, middle, reach), camera.width_px, camera.height_px
    )
    if lighting.glare:
        _glare(rng, picture, camera, sheet, card, lighting.glare)
    sensor = _sensor(rng, camera, picture, sheet, card, refuse)
    shown = expose(picture, sensor, rng)
    truth = describe(
        name,
        tier=tier,
        refuse=refuse,
        card=card,
        square=square,
        sheet=sheet,
        curl=curl,
        camera=camera,
        marks=marks,
        lights=lights,
        rings=rings,
        lighting=lighting,
        table=table,
        about=[f"{t.name} on the table" for t in near] + [f"{t.name} on the card" for t in on_card],
        sensor=sensor,
        shown=(shown.shape[1], shown.shape[0]),
    )
    return Shot(shown, sensor, truth)


def _along(corners: Points, pieces: int = 24) -> Points:
    """Points all along the sides of a polygon."""
    t = (np.arange(pieces) / pieces)[:, None]
    return np.vstack([a + (b - a) * t for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)])


def _camera(
    rng: np.random.Generator,
    card: scene.CardSpec,
    square: scene.SquareSpec | None,
    sheet: Sheet,
    refuse: str | None,
    wishes: Wishes,
) -> Camera | None:
    """A camera that sees all it should, or just not all where the photo is to be refused for it."""
    width, height = scene.resolution_of_chance(rng, wishes.large_share)
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
    tilt = wishes.tilt_deg if wishes.tilt_deg is not None else min(abs(rng.normal(0, 15)), 35.0)
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


def _things_on_card(
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


def _things_about(
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
    card_px = camera.project(sheet.to_world(_along(card.corners_mm))).astype(np.float32)
    keep = [card_px]
    if square and not square.on_card:
        keep.append(camera.project(TABLE.to_world(_along(square.paper_mm))).astype(np.float32))
    count = int(rng.choice((0, 1, 2), p=(0.4, 0.35, 0.25))) if tier != "C" else int(rng.integers(1, 5))
    for _ in range(count):
        make = things.ON_TABLE[int(rng.integers(len(things.ON_TABLE)))]
        for _ in range(12):
            at = np.array([w / 2, h / 2]) + rng.uniform(-1, 1, 2) * (w / 2 + 75, h / 2 + 75)
            thing = make(rng).moved(at, float(rng.uniform(0, 360)))
            hulls = thing.silhouettes(camera)
            touches = any(_overlap(hull, other) for hull in hulls for other in keep)
            seen = any(_margin_px_flat(camera, hull) for hull in hulls)
            if not touches and seen:
                found.append(thing)
                keep += [hull.astype(np.float32) for hull in hulls]
                break
    if rng.random() < 0.05:
        rim = _along(card.corners_mm, 6)
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
        if clear and not _covers(fingers, camera, sheet, marks, card, corners=True):
            found.append(fingers)
    return found


def _overlap(a: Points, b: Points) -> bool:
    """Whether two convex outlines meet, with some pixels to spare."""
    area, _ = cv2.intersectConvexConvex(
        cv2.convexHull(a.astype(np.float32)), cv2.convexHull(b.astype(np.float32))
    )
    return bool(area > 0)


def _margin_px_flat(camera: Camera, px: Points) -> bool:
    return bool(
        np.any(
            (px[:, 0] > 10)
            & (px[:, 1] > 10)
            & (px[:, 0] < camera.width_px - 10)
            & (px[:, 1] < camera.height_px - 10)
        )
    )


def _covers(
    thing: things.Thing, camera: Camera, sheet: Sheet, marks: Pencilling, card: scene.CardSpec, corners: bool
) -> bool:
    """Whether `thing` hides part of a dot or of the ring, or a corner of the card."""
    spots = [np.array([(d.x_mm, d.y_mm)]) + d.diameter_mm * 0.8 * _RING for d in marks.dots]
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


_RING = np.array([(math.cos(a), math.sin(a)) for a in np.linspace(0, 2 * math.pi, 8, endpoint=False)])


def _table(rng: np.random.Generator, kind: str, camera: Camera) -> Light:
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


def _box(camera: Camera, px: Points, spare: int = 4) -> tuple[int, int, int, int]:
    low, high = np.floor(px.min(axis=0)).astype(int) - spare, np.ceil(px.max(axis=0)).astype(int) + spare + 1
    limits = np.array([camera.width_px, camera.height_px])
    low, high = np.clip(low, 0, limits), np.clip(high, 0, limits)
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def _coverage(x: Plane, y: Plane, corners: Points, px_per_mm: float) -> Plane:
    """Share of each pixel that lies inside the convex outline (clockwise, y down)."""
    nearest = np.full(x.shape, np.inf, np.float32)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        np.minimum(
            nearest, (y - a[1]) * np.float32(along[0]) - (x - a[0]) * np.float32(along[1]), out=nearest
        )
    return np.asarray(np.clip(nearest * px_per_mm + 0.5, 0, 1), np.float32)


def _scale(camera: Camera, at: Points) -> float:
    """Pixels per millimetre about a place on the table, the mean of all directions."""
    around = np.column_stack([at + _RING * 2.0, np.zeros(8)])
    return math.sqrt(
        cv2.contourArea(camera.project(around).astype(np.float32))
        / cv2.contourArea((_RING * 2).astype(np.float32))
    )


def _lay_card(
    rng: np.random.Generator, picture: Light, camera: Camera, card: scene.CardSpec, sheet: Sheet, face: Face
) -> None:
    rim = _along(card.corners_mm)
    upper = camera.project(sheet.to_world(rim))
    lower = camera.project(sheet.to_world(rim, above_mm=-sheet.thickness_mm))
    colour = np.float32(scene.PAPERS[card.paper]) * np.float32(rng.uniform(0.96, 1.04))
    side = [float(c) * 0.72 for c in colour]
    for outline in (lower, upper):
        fixed = np.round(outline * 16).astype(np.int32)
        cv2.fillPoly(picture, [fixed], side, cv2.LINE_AA, 4)
    left, top, right, bottom = _box(camera, upper)
    x, y = camera.sampling_maps(sheet, (left, top, right, bottom))
    scale = _scale(camera, card.corners_mm.mean(axis=0))
    mottle = 0.10 if card.paper == "kraft" else 0.025
    surface = face.marks * (1 + mottle * (face.tooth - 0.5))
    # Finer than the photo: average over about one photo pixel before sampling.
    wide = 0.29 * math.sqrt(max((PX_PER_MM / scale) ** 2 - 1, 0.0)) + 0.3
    surface = cv2.GaussianBlur(surface, (0, 0), wide)
    shade = cv2.remap(
        surface,
        x * np.float32(PX_PER_MM) - np.float32(0.5),
        y * np.float32(PX_PER_MM) - np.float32(0.5),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    if len(sheet.along_mm) > 2:
        shade *= _bend_shade(sheet, x, y)
    cover = _coverage(x, y, card.corners_mm, scale)
    _blend(picture[top:bottom, left:right], shade[:, :, None] * colour, cover)


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


def _lay_square(
    rng: np.random.Generator, picture: Light, camera: Camera, square: scene.SquareSpec, lies: Sheet
) -> None:
    outline = _along(square.paper_mm, 6)
    above = SQUARE_PAPER_MM
    left, top, right, bottom = _box(camera, camera.project(lies.to_world(outline, above_mm=above)))
    if right <= left or bottom <= top:
        return
    x, y = camera.sampling_maps(lies, (left, top, right, bottom), above)
    paint, half_mm = _square_texture(rng, square)
    a = math.radians(square.turn_deg)
    dx, dy = x - np.float32(square.centre_mm[0]), y - np.float32(square.centre_mm[1])
    local_x = dx * np.float32(math.cos(a)) + dy * np.float32(math.sin(a))
    local_y = dy * np.float32(math.cos(a)) - dx * np.float32(math.sin(a))
    scale = _scale(camera, square.centre_mm)
    wide = 0.29 * math.sqrt(max((PX_PER_MM / scale) ** 2 - 1, 0.0)) + 0.3
    paint = cv2.GaussianBlur(paint, (0, 0), wide)
    seen = cv2.remap(
        paint,
        (local_x + np.float32(half_mm)) * np.float32(PX_PER_MM) - np.float32(0.5),
        (local_y + np.float32(half_mm)) * np.float32(PX_PER_MM) - np.float32(0.5),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    cover = _coverage(x, y, square.paper_mm, scale)
    _blend(picture[top:bottom, left:right], seen, cover)


def _square_texture(rng: np.random.Generator, square: scene.SquareSpec) -> tuple[Light, float]:
    """(N, N, 3) of the square's paper, and half its side in mm."""
    half = square.true_side_mm / 2 * square.border + 0.5
    count = math.ceil(2 * half * PX_PER_MM)
    at = (np.arange(count) + 0.5) / PX_PER_MM - half
    ink = np.float32(square.colour) * np.float32(rng.uniform(0.8, 1.3))
    mottled = 1 + 0.08 * rng.standard_normal((count, count)).astype(np.float32)
    if not square.coded:
        return np.asarray(mottled[:, :, None] * ink), half
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    bits = np.asarray(cv2.aruco.generateImageMarker(dictionary, round(square.side_mm), 6)) > 127
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


def _blend(spot: Light, colour: Light, cover: Plane) -> None:
    spot += cover[:, :, None] * (colour - spot)


def _glare(
    rng: np.random.Generator,
    picture: Light,
    camera: Camera,
    sheet: Sheet,
    card: scene.CardSpec,
    strength: float,
) -> None:
    w, h = card.nominal_mm
    at = camera.project(sheet.to_world(rng.uniform((0.1 * w, 0.1 * h), (0.9 * w, 0.9 * h))[None, :]))[0]
    size = rng.uniform(0.08, 0.22) * math.hypot(camera.width_px, camera.height_px)
    u = ((np.arange(0, camera.width_px, 8) - at[0]) / size)[None, :]
    v = ((np.arange(0, camera.height_px, 8) - at[1]) / (size * rng.uniform(0.5, 1.0)))[:, None]
    blob = (strength * np.exp(-0.5 * (u * u + v * v))).astype(np.float32)
    full = cv2.resize(blob, (camera.width_px, camera.height_px), interpolation=cv2.INTER_LINEAR)
    picture += full[:, :, None]


def _sensor(
    rng: np.random.Generator,
    camera: Camera,
    picture: Light,
    sheet: Sheet,
    card: scene.CardSpec,
    refuse: str | None,
) -> Sensor:
    middle = card.corners_mm.mean(axis=0)
    scale = _scale(camera, middle)
    # Phones look after the subject's brightness and keep most of the picture below white.
    left, top, right, bottom = _box(camera, camera.project(sheet.to_world(card.corners_mm)))
    subject = picture[top:bottom:16, left:right:16].max(axis=2)
    exposure = rng.uniform(0.45, 0.85) / max(float(np.percentile(subject, 75)), 1e-3)
    whole = float(np.percentile(picture[::16, ::16], 98))
    exposure = min(exposure, 1.05 / float(np.percentile(subject, 98)), 1.3 / whole)
    defocus = rng.uniform(0.05, 0.2) * scale if rng.random() < 0.25 else 0.0
    motion = rng.uniform(0.08, 0.32) * scale if rng.random() < 0.2 else 0.0
    shot, read = rng.uniform(0.006, 0.03), rng.uniform(0.0008, 0.004)
    if refuse == "too blurred":
        if rng.random() < 0.6:
            defocus = rng.uniform(1.3, 2.2) * scale
        else:
            defocus, motion = rng.uniform(0.5, 0.8) * scale, rng.uniform(4.0, 7.0) * scale
    if refuse == "too dark":
        exposure *= rng.uniform(0.006, 0.014)
        read *= 1.2
    big = max(camera.width_px, camera.height_px) / scene.SMALL_PX[0]
    shrink = scene.SHRINK_TO_PX if big == 1 and rng.random() < scene.SHRUNK_SHARE else None
    return Sensor(
        lens_px=float(rng.uniform(0.55, 1.0) * (1 + 0.5 * (big - 1))),
        defocus_px=float(defocus),
        motion_px=float(motion),
        motion_deg=float(rng.uniform(0, 180)),
        shot=float(shot),
        read=float(read),
        exposure=float(exposure),
        contrast=float(rng.uniform(0.0, 0.5)),
        sharpen=float(rng.uniform(0.0, 0.7)),
        shrink_to=shrink,
        jpeg_quality=int(rng.integers(60, 78)) if shrink else int(rng.integers(70, 96)),
        orientation=None
        if shrink or rng.random() < 0.3
        else int(rng.choice((1, 3, 6, 8), p=(0.4, 0.15, 0.3, 0.15))),
    )
