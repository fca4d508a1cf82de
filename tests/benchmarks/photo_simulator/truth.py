"""The truth file of one photo.

The card's frame: origin at the card's own top-left corner, x along its top edge, y down, millimetres,
with the card upright as its maker drew it. The card is the one that was cut: `width_mm` and
`height_mm` are the means of its opposite sides, `corners_mm` its very corners, `nominal_mm` the size
its maker aimed at. Every `_px` is in the picture as a viewer shows it, (0, 0) the centre of its
top-left pixel, after any shrinking. `tilt_deg`, `k1`, `k2` and the rest of `camera` describe the
picture as taken.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tests.benchmarks.photo_simulator.layout import Pencilling
from tests.benchmarks.photo_simulator.light import Lighting
from tests.benchmarks.photo_simulator.scene import CardSpec, SquareSpec
from tests.benchmarks.photo_simulator.sensor import Sensor
from tests.card_kit.camera import TABLE, Camera, Points, Sheet


def describe(
    name: str,
    *,
    tier: str,
    refuse: str | None,
    card: CardSpec,
    square: SquareSpec | None,
    sheet: Sheet,
    curl: float,
    camera: Camera,
    marks: Pencilling,
    lights: list[dict[str, float]],
    rings: list[dict[str, float]],
    lighting: Lighting,
    table: str,
    about: list[str],
    sensor: Sensor,
    shown: tuple[int, int],
) -> dict[str, Any]:
    """Everything that is known of the photo, as plain JSON values."""

    def to_px(paper_mm: Points, lies: Sheet = sheet, above: float = 0.0) -> Points:
        return shown_at(camera, lies, paper_mm, shown, above)

    def mark(values: dict[str, float]) -> dict[str, float]:
        x_px, y_px = to_px(np.array([[values["x_mm"], values["y_mm"]]]))[0]
        rounded = {key: round(value, 3) for key, value in values.items()}
        return rounded | {"x_px": round(float(x_px), 2), "y_px": round(float(y_px), 2)}

    corners = card.corners_mm
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    area_px = _area(to_px(corners)) / (shown[0] * shown[1])
    batteries = [mark(ring) for ring in rings]
    blur = "defocus" if sensor.defocus_px > 0.4 else "motion" if sensor.motion_px > 0.6 else "none"
    return {
        "photo": f"{name}.jpg",
        "tier": tier,
        "expect": "refuse" if refuse else "read",
        "reason": refuse,
        "card": {
            "width_mm": round(float(sides[0] + sides[2]) / 2, 3),
            "height_mm": round(float(sides[1] + sides[3]) / 2, 3),
            "nominal_mm": list(card.nominal_mm),
            "colour": card.paper,
            "corners_mm": _rounded(corners, 3),
            "corners_px": _rounded(to_px(corners), 2),
            "edge_bow_mm": [round(float(np.abs(off).max()), 2) for off in card.wander_mm],
        },
        "square": square
        and {
            "kind": "coded" if square.coded else "plain",
            "side_mm": square.side_mm,
            "true_side_mm": round(square.true_side_mm, 3),
            "id": round(square.side_mm) if square.coded else None,
            "corners_px": _rounded(to_px(square.corners_mm, sheet if square.on_card else TABLE, 0.1), 2),
        },
        "lights": [mark(light) for light in lights],
        "battery": batteries[0] if batteries else None,
        "extra_batteries": batteries[1:],
        "crossed_out": [mark(dict(zip(("x_mm", "y_mm", "diameter_mm"), c))) for c in marks.crossed],
        "window": None if marks.window is None else _rounded(marks.window, 2),
        "lines": None if marks.lines is None else {k: _rounded(v, 2) for k, v in marks.lines.items()},
        "clutter": marks.kinds + about,
        "camera": {
            "equivalent_mm": round(camera.equivalent_mm, 2),
            "tilt_deg": round(camera.tilt_deg, 2),
            "roll_deg": round(camera.roll_deg, 2),
            "k1": round(camera.k1, 5),
            "k2": round(camera.k2, 5),
            "distance_mm": round(float(np.linalg.norm(camera.eye - np.append(corners.mean(axis=0), 0))), 1),
        },
        "image": {
            "width": shown[0],
            "height": shown[1],
            "exif_orientation": sensor.orientation,
            "jpeg_quality": sensor.jpeg_quality,
        },
        "curl_mm": round(curl, 2),
        "scene": {
            "table": table,
            "light": lighting.kind,
            "shadow": lighting.shadow,
            "glare": lighting.glare > 0,
            "square_on_card": square.on_card if square else None,
            "resized_by_message": sensor.shrink_to is not None,
            "card_share": round(area_px, 3),
            "blur": blur,
            "blur_px": round(max(sensor.defocus_px, sensor.motion_px / 2), 2),
            "noise": round(sensor.shot, 4),
            "tooth": card.tooth,
            "lead": list(card.lead),
        },
    }


def shown_at(
    camera: Camera, lies: Sheet, paper_mm: Points, shown: tuple[int, int], above: float = 0.0
) -> Points:
    """(N, 2) places in the picture as shown, (width, height), of points on a sheet's own paper."""
    px = camera.project(lies.to_world(np.asarray(paper_mm, dtype=np.float64).reshape(-1, 2), above))
    return np.asarray((px + 0.5) * shown[0] / camera.width_px - 0.5)


def _rounded(points: Points, digits: int) -> list[list[float]]:
    return [[round(float(x), digits), round(float(y), digits)] for x, y in points]


def _area(polygon: Points) -> float:
    x, y = polygon.T
    return abs(float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))
