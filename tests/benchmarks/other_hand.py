"""Crops of a card as other hands, pencils and cameras would give them: what makes few cards teach much.

In:    what the network sees of a card and its maps (see `mark_cards`), and dice.
Out:   a crop of `CROP` pixels a side, (CROP, CROP, 3), and its maps, (CROP / STRIDE, CROP / STRIDE).
Fails: never; a card smaller than a crop is filled up.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.mark_cards import LINE_MM, MAP_PX_PER_MM
from vision.reading.marks.likeness import CHANNELS, GREY, PX_PER_MM, STRIDE, TONE

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float32]

CROP = 448  # input pixels a side
# What is drawn beside the card's own marks, and how often.
DRAWN = {
    "disc": 0.09,
    "lane": 0.14,
    "pointer": 0.05,
    "crossed": 0.1,
    "word": 0.15,
    "cross": 0.04,
    "ring": 0.06,
    "wedge": 0.07,
    "scribble": 0.05,
    "speck": 0.05,
    "smudge": 0.05,
    "washer": 0.07,
    "battery": 0.08,
}
RADII_MM = {"washer": (5.0, 13.0), "battery": (6.2, 12.8)}  # the others are as large as dots
LABELS = {"disc": "light", "lane": "light", "crossed": "crossed", "battery": "battery"}


def vary(seen: Bytes, bits: Bytes, rng: np.random.Generator) -> tuple[Bytes, Bytes]:
    """A crop, turned, mirrored, with paler or darker pencil, other noise, and marks of another hand."""
    size = CROP // STRIDE
    height, width = bits.shape
    padded = ((0, max(0, size - height)), (0, max(0, size - width)))
    bits = np.pad(bits, padded)
    seen = np.pad(seen, [(STRIDE * a, STRIDE * b) for a, b in padded] + [(0, 0)], mode="edge")
    seen = seen[: STRIDE * bits.shape[0], : STRIDE * bits.shape[1]]
    short = (STRIDE * bits.shape[0] - seen.shape[0], STRIDE * bits.shape[1] - seen.shape[1])
    seen = np.pad(seen, ((0, short[0]), (0, short[1]), (0, 0)), mode="edge")
    top = int(rng.integers(0, bits.shape[0] - size + 1))
    left = int(rng.integers(0, bits.shape[1] - size + 1))
    bits = bits[top : top + size, left : left + size].copy()
    seen = seen[STRIDE * top : STRIDE * top + CROP, STRIDE * left : STRIDE * left + CROP].copy()
    if rng.random() < 0.6:
        other_hand(seen, bits, rng)
    if rng.random() < 0.5:
        seen, bits = _askew(seen, bits, rng)
    turns = int(rng.integers(4))
    seen, bits = np.rot90(seen, turns), np.rot90(bits, turns)
    if rng.random() < 0.5:
        seen, bits = seen[:, ::-1], bits[:, ::-1]
    out = np.ascontiguousarray(seen).astype(np.float32)
    if rng.random() < 0.6:  # paler or darker pencil
        ink = TONE - out[..., 0]
        out[..., 0] = TONE - np.sign(ink) * TONE * (np.abs(ink) / TONE) ** rng.uniform(
            0.8, 1.25
        ) * rng.uniform(0.65, 1.3)
    if rng.random() < 0.2:  # few pixels
        size = round(CROP * float(rng.uniform(0.55, 0.9)))
        few = cv2.resize(out, (size, size), interpolation=cv2.INTER_AREA)
        out = cv2.resize(few, (CROP, CROP), interpolation=cv2.INTER_LINEAR)
    if rng.random() < 0.2:
        quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(30, 85))]
        coded = cv2.imencode(".jpg", np.clip(out[..., 0], 0, 255).astype(np.uint8), quality)[1]
        out[..., 0] = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    if rng.random() < 0.3:
        out[..., 0] = cv2.GaussianBlur(out[..., 0], (0, 0), float(rng.uniform(0.4, 1.3)))
    if rng.random() < 0.5:
        grain = cv2.GaussianBlur(
            rng.normal(0, 1, out.shape[:2]).astype(np.float32), (0, 0), float(rng.uniform(0.3, 1.2))
        )
        out[..., 0] += grain / grain.std() * rng.uniform(0, 5.0)
    if rng.random() < 0.5:
        out[..., 1:] = (out[..., 1:] - GREY) * rng.uniform(0.0, 1.4, 2) + GREY + rng.normal(0, 3, 2)
    return np.clip(out, 0, 255).astype(np.uint8), np.ascontiguousarray(bits)


def _askew(seen: Bytes, bits: Bytes, rng: np.random.Generator) -> tuple[Bytes, Bytes]:
    """Turned by some degrees, larger or smaller, a little out of square."""
    turn, size = rng.normal(0, 0.15), float(np.exp(rng.normal(0, 0.12)))
    linear = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) * size
    linear = linear @ (np.eye(2) + rng.normal(0, 0.03, (2, 2)))

    def moved(image: Bytes, way: int, fill: Any) -> Bytes:
        middle = (np.array(image.shape[1::-1]) - 1) / 2
        affine = np.column_stack([linear, middle - linear @ middle])
        side = image.shape[1::-1]
        return np.asarray(cv2.warpAffine(image, affine, side, flags=way, borderValue=fill), dtype=np.uint8)

    return moved(seen, cv2.INTER_LINEAR, (TONE, GREY, GREY)), moved(bits, cv2.INTER_NEAREST, 0)


def other_hand(seen: Bytes, bits: Bytes, rng: np.random.Generator) -> None:
    """Marks and things drawn by plain means on bare paper, as no simulated hand draws them."""
    ink = np.zeros((CROP, CROP), np.float32)
    taken = np.abs(seen[..., 0].astype(np.float32) - TONE) > 24
    taken |= cv2.resize(bits & 0b111, (CROP, CROP), interpolation=cv2.INTER_NEAREST) > 0
    free = cv2.distanceTransform((~taken).astype(np.uint8), cv2.DIST_L2, 5)
    level = float(rng.uniform(0.25, 0.8))
    for _ in range(int(rng.integers(1, 9))):
        kind = str(rng.choice(tuple(DRAWN), p=tuple(DRAWN.values())))
        low, high = RADII_MM.get(kind, (1.0, 2.4))
        radius = float(rng.uniform(low, high)) * PX_PER_MM
        # a battery circle may touch what is drawn round about
        room = 0.85 * radius if kind == "battery" else radius + 5
        spots = rng.integers(8, CROP - 8, (12, 2))
        roomy = [(int(x), int(y)) for x, y in spots if free[y, x] > room]
        if not roomy:
            continue
        x, y = roomy[0]
        cv2.circle(free, (x, y), round(radius + 10), 0, -1)
        if kind == "washer":
            _washer(seen, x, y, radius, rng)
            continue
        mark = _plain_mark(kind, x, y, radius, rng)
        if kind == "lane":
            mark = np.maximum(mark, _lane(bits, x, y, radius, rng))
        speckle = 1 - rng.uniform(0, 0.5) * rng.random((CROP, CROP)).astype(np.float32)
        ink = np.maximum(ink, cv2.GaussianBlur(mark * speckle, (0, 0), float(rng.uniform(0.5, 0.9))))
        if kind in LABELS:
            plane = np.zeros(bits.shape, np.uint8)
            cv2.circle(plane, (round(x / STRIDE), round(y / STRIDE)), round(radius / STRIDE), 1, -1)
            bits |= plane << CHANNELS.index(LABELS[kind])
    darker = np.minimum(np.minimum(ink, 1.4) * level, 0.9)
    seen[..., 0] = np.clip(seen[..., 0] * (1 - darker), 0, 255).astype(np.uint8)


def _plain_mark(kind: str, x: int, y: int, radius: float, rng: np.random.Generator) -> Floats:
    """(CROP, CROP) how much pencil lies where."""
    mark = np.zeros((CROP, CROP), np.float32)
    thick = int(rng.integers(1, 3))

    def stroke(start: Any, stop: Any, much: float = 1.0) -> None:
        a, b = (np.round(np.array(end)).astype(int).tolist() for end in (start, stop))
        cv2.line(mark, a, b, much, thick, cv2.LINE_AA)

    if kind in ("disc", "crossed", "lane"):
        _hand_disc(mark, x, y, radius, rng)
    if kind in ("cross", "crossed"):
        arm = radius * rng.uniform(1.5, 2.6) if kind == "crossed" else radius
        turn = rng.uniform(0.5, 1.1)
        for way in (turn, turn + rng.uniform(1.2, 1.9)):
            gone = np.array([np.cos(way), np.sin(way)]) * arm
            stroke(np.array([x, y]) - gone, np.array([x, y]) + gone, 1.3)
    if kind == "word":
        letters = np.zeros((CROP, CROP), np.uint8)  # OpenCV 5 sets text in bytes only
        text = "".join(rng.choice(list("aaeeeostnRBLEDclgbdpqw3806969&%@"), int(rng.integers(1, 9))))
        small = rng.random() < 0.45  # so small for the pencil that the loops fill up
        scale = float(rng.uniform(0.36, 0.6) if small else rng.uniform(0.35, 1.3))
        heavy = 2 if small else thick + (scale > 0.8)
        cv2.putText(letters, text, (x, y), int(rng.integers(0, 8)), scale, 255, heavy, cv2.LINE_AA)
        mark = letters.astype(np.float32) / 255
        if rng.random() < 0.5:
            mark = np.ascontiguousarray(np.rot90(mark, int(rng.integers(4))))
    if kind == "pointer":  # an arrow out of a word: its tail touches a letter, its head is a wedge
        way, half = rng.uniform(0, 2 * np.pi), rng.uniform(0.3, 0.6)
        tail = np.array([x, y], dtype=float)
        tip = tail + np.array([np.cos(way), np.sin(way)]) * radius * rng.uniform(5, 12)
        stroke(tail, tip)
        for side in (way + np.pi - half, way + np.pi + half):
            stroke(tip, tip + np.array([np.cos(side), np.sin(side)]) * radius * 1.4)
        cv2.ellipse(
            mark, (x, y), (round(radius), round(0.7 * radius)), rng.uniform(0, 180), 0, 300, 1.0, thick
        )
    if kind == "battery":
        turns = np.linspace(0, 2 * np.pi * rng.uniform(0.95, 1.1), 90)
        reach = radius * (1 + 0.02 * np.sin(rng.uniform(1, 4) * turns + rng.uniform(0, 6)))
        path = np.column_stack([x + reach * np.cos(turns), y + reach * np.sin(turns)])
        cv2.polylines(mark, [np.round(path).astype(np.int32)], False, 1.0, thick, cv2.LINE_AA)
    if kind == "ring":
        cv2.circle(mark, (x, y), round(radius), 1.0, thick, cv2.LINE_AA)
    if kind == "wedge":  # two lines that meet, an arrow's head or an outline's corner
        way, half = rng.uniform(0, 2 * np.pi), rng.uniform(0.06, 0.5)
        for side in (way - half, way + half):
            stroke((x, y), np.array([x, y]) + np.array([np.cos(side), np.sin(side)]) * radius * 6)
    if kind == "scribble":
        path = np.cumsum(rng.normal(0, radius * 0.7, (7, 2)), axis=0) + np.array([x, y])
        cv2.polylines(mark, [np.round(path).astype(np.int32)], False, 1.0, thick, cv2.LINE_AA)
    if kind == "speck":
        cv2.circle(mark, (x, y), int(rng.integers(1, 3)), 1.0, -1, cv2.LINE_AA)
    if kind == "smudge":
        size = (round(radius * 2), round(radius))
        cv2.ellipse(mark, (x, y), size, float(rng.uniform(0, 180)), 0, 360, 1.0, -1)
        mark = cv2.GaussianBlur(mark, (0, 0), radius / 2) * 0.3
    return mark


def _lane(bits: Bytes, x: int, y: int, radius: float, rng: np.random.Generator) -> Floats:
    """Two circuit lines that come along, graze the dot and end a little past it, where they look like the
    arms of an X; (CROP, CROP), and their labels into `bits`."""
    mark = np.zeros((CROP, CROP), np.float32)
    label = np.zeros(bits.shape, np.uint8)
    way = rng.uniform(0, 2 * np.pi)
    along, across = np.array([np.cos(way), np.sin(way)]), np.array([-np.sin(way), np.cos(way)])
    gap = radius * rng.uniform(0.7, 1.3)
    bend = rng.choice((0.0, rng.uniform(-0.9, 0.9)))  # the far leg may turn at the dot
    back = -(along * np.cos(bend) + across * np.sin(bend))
    far, thick = rng.uniform(4, 16) * radius, int(rng.integers(1, 3))
    for side in (-gap, gap):
        middle = np.array([x, y]) + across * side * rng.uniform(0.8, 1.2)
        past = middle + along * rng.uniform(0.5, 3.2) * radius + across * rng.normal(0, 0.25) * radius
        start = middle + back * far + rng.normal(0, 1.0, 2)
        path = np.round([start, middle + rng.normal(0, 0.7, 2), past]).astype(np.int32)
        cv2.polylines(mark, [path], False, float(rng.uniform(0.6, 1.0)), thick, cv2.LINE_AA)
        cv2.polylines(label, [path // STRIDE], False, 1, round(LINE_MM * MAP_PX_PER_MM))
    bits |= label << CHANNELS.index("line")
    return mark


def _washer(seen: Bytes, x: int, y: int, radius: float, rng: np.random.Generator) -> None:
    """A coin, button or cell that lies there: a body of its own tone and tint, rims, perhaps a hole."""
    body = np.array([rng.uniform(60, 240), *(GREY + rng.normal(0, 14, 2))])
    layer = seen.astype(np.float32)
    shade = np.zeros(seen.shape[:2], np.float32)
    off = rng.uniform(-3, 3, 2)
    cv2.circle(shade, (round(x + off[0]), round(y + off[1])), round(radius + 2), 1.0, -1)
    layer[..., 0] *= 1 - 0.4 * cv2.GaussianBlur(shade, (0, 0), 3.0)
    cover = np.zeros(seen.shape[:2], np.float32)
    cv2.circle(cover, (x, y), round(radius), 1.0, -1, cv2.LINE_AA)
    tilt = np.linspace(-1, 1, CROP, dtype=np.float32)[None, :] * rng.uniform(-30, 30)
    face = np.ones_like(layer) * body.astype(np.float32)
    face[..., 0] += tilt
    for share in rng.uniform(0.2, 1.0, int(rng.integers(1, 4))):
        rim = float(np.clip(body[0] + rng.choice((-1, 1)) * rng.uniform(15, 120), 10, 250))
        cv2.circle(face, (x, y), round(radius * share), (rim, body[1], body[2]), int(rng.integers(1, 4)))
    layer = layer * (1 - cover[..., None]) + cv2.GaussianBlur(face, (0, 0), 0.6) * cover[..., None]
    seen[...] = np.clip(layer, 0, 255).astype(np.uint8)


def _hand_disc(mark: Floats, x: int, y: int, radius: float, rng: np.random.Generator) -> None:
    """A filled dot: a solid blot, an outline hatched to and fro, or a firm rim about a paler middle."""
    turns = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    reach = radius * (1 + rng.normal(0, 0.06, 24))
    rim = np.column_stack([x + reach * np.cos(turns), y + reach * np.sin(turns) * rng.uniform(0.85, 1.1)])
    outline = [np.round(rim).astype(np.int32)]
    if rng.random() < 0.5:
        cv2.fillPoly(mark, outline, 1.0, cv2.LINE_AA)
        return
    if rng.random() < 0.25:
        cv2.fillPoly(mark, outline, float(rng.uniform(0.45, 0.8)), cv2.LINE_AA)
        cv2.polylines(mark, outline, True, 1.0, int(rng.integers(2, 4)), cv2.LINE_AA)
        return
    inside = np.zeros_like(mark)
    cv2.fillPoly(inside, outline, 1.0, cv2.LINE_AA)
    way = rng.uniform(0, np.pi)
    along, across = np.array([np.cos(way), np.sin(way)]), np.array([-np.sin(way), np.cos(way)])
    step = rng.uniform(1.4, 2.6)
    for offset in np.arange(-radius, radius, step):
        middle = np.array([x, y]) + across * offset
        a, b = np.round([middle - along * radius * 1.2, middle + along * radius * 1.2]).astype(int)
        cv2.line(mark, a.tolist(), b.tolist(), 1.0, int(rng.integers(1, 3)), cv2.LINE_AA)
    mark *= inside
    cv2.polylines(mark, outline, True, 1.0, 1, cv2.LINE_AA)
