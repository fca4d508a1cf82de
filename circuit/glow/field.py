"""The light on the window's translucent sheet, and how even it is.

In:    a layout, its solved circuit, the height of the foam.
Out:   a `GlowField` of numbers on a grid in card millimetres.
Fails: ValueError for a foam height below 0 or without an end; None where nothing is lit.

What is left out: shadows of the flap and the foam, copper's glint, lettering on the front.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.electrics.card import CardElectrics
from circuit.enclosed import enclosed
from circuit.glow.profile import Profile, profile
from circuit.glow.window import GlowSettings
from circuit.layout import Card, Layout, Point, Polyline
from circuit.part_kinds import LightPart

LEAST_HEIGHT_MM = 0.2  # a lamp that touches the sheet is taken as this far from it
HULL_MARGIN_MM = 5.0  # round the lights, where no window is drawn. Chosen
_ACROSS = 80  # points along the longer side of the grid for the figures. Chosen
_QUARTER_PIECES = 32  # that a quarter of a round margin is made of: chosen
_REGIONS = 8  # that are kept at hand: a card asks for one thousands of times
_LEAST_SIDE_MM = 0.1  # of the grid, for a window that lies off the card: chosen


@dataclass(frozen=True, slots=True)
class GlowField:
    """Illuminance of the sheet from behind. [lux]

    x_mm (W,), y_mm (H,) : the grid, in the card frame; over the window, or over the card where none is drawn.
    layers : for each colour of light, its CIE 1931 x, y and its lux (H, W).
    spot_mm : width of the bright spot that the widest-shining of the lights makes on its own.
    inside (H, W) : the window, or the surroundings of the lights where none is drawn.
    """

    card: Card
    outline: Polyline
    x_mm: Floats
    y_mm: Floats
    layers: tuple[tuple[tuple[float, float], Floats], ...]
    inside: NDArray[np.bool_]
    foam_mm: float
    spot_mm: float
    has_window: bool

    @property
    def lux(self) -> Floats:
        """(H, W), all colours together."""
        total: Floats = np.sum([lux for _, lux in self.layers], axis=0)
        return total

    @property
    def average_lux(self) -> float:
        """Over the inside."""
        return float(self.lux[self.inside].mean())

    @property
    def evenness(self) -> float:
        """Darkest over average inside, 0..1: the uniformity U0 of EN 12464-1 (term of EN 12665)."""
        return evenness(self.lux[self.inside])

    @property
    def hottest(self) -> Point:
        """Where inside it is brightest. [mm]"""
        return self._where(np.where(self.inside, self.lux, -np.inf).argmax())

    @property
    def darkest(self) -> Point:
        """Where inside it is darkest. [mm]"""
        return self._where(np.where(self.inside, self.lux, np.inf).argmin())

    def _where(self, flat: np.intp) -> Point:
        row, column = divmod(int(flat), len(self.x_mm))
        return (float(self.x_mm[column]), float(self.y_mm[row]))


def evenness(lux: Floats) -> float:
    """E_min / E_avg of light of any shape."""
    return float(lux.min() / lux.mean())


def glow_field(
    layout: Layout,
    solved: CardElectrics,
    foam_mm: float,
    settings: GlowSettings | None = None,
    step_mm: float | None = None,
) -> GlowField | None:
    """Light on the sheet, `foam_mm` above the back card. None where there are no lights, no
    foam (0), or no window on the card.

    `step_mm`: the grid's pitch; without it 80 points along the longer side.

    Raises ValueError for a height below 0 or without an end.
    """
    if not 0 <= foam_mm < math.inf:
        raise ValueError(f"foam_mm must be 0 or above and finite, got {foam_mm}")
    if not solved.lights or foam_mm == 0:
        return None
    outline, margin_mm = region_of(layout)
    x_mm, y_mm = _grid(layout, step_mm)
    inside = inside_region(outline, margin_mm, x_mm[None, :], y_mm[:, None])
    if not inside.any():
        return None
    layers: dict[tuple[float, float], Floats] = {}
    profiles = profiles_of(solved, foam_mm, settings or GlowSettings())
    for light in solved.lights:
        mark = layout.light(light.label)
        away = np.hypot(x_mm[None, :] - mark.x_mm, y_mm[:, None] - mark.y_mm)
        lux = profiles[light.part].lux(light.candela, away)
        colour = light.part.chromaticity
        layers[colour] = layers[colour] + lux if colour in layers else lux
    spot_mm = max(one.spot_mm for one in profiles.values())
    return GlowField(
        card=layout.card,
        outline=outline,
        x_mm=x_mm,
        y_mm=y_mm,
        layers=tuple(layers.items()),
        inside=inside,
        foam_mm=foam_mm,
        spot_mm=spot_mm,
        has_window=layout.window is not None,
    )


def profiles_of(solved: CardElectrics, foam_mm: float, settings: GlowSettings) -> dict[LightPart, Profile]:
    """One profile for each kind of light on the card."""
    return {
        part: profile(
            radius_mm=part.emitting_mm / math.sqrt(math.pi),
            height_mm=max(foam_mm - part.height_mm, LEAST_HEIGHT_MM),
            gap_mm=foam_mm,
            spread_mm=settings.spread_mm,
            bounce=settings.bounce,
        )
        for part in {light.part for light in solved.lights}
    }


def region_of(layout: Layout) -> tuple[Polyline, float]:
    """The outline that is looked at and a margin round it: the window and 0, or the hull of the
    lights (a point or a line, where they are few) and 5 mm."""
    if layout.window is not None:
        return layout.window, 0.0
    hull = shapely.MultiPoint([light.centre for light in layout.lights]).convex_hull
    corners = hull.exterior.coords[:-1] if hull.geom_type == "Polygon" else hull.coords
    return tuple((float(x), float(y)) for x, y in corners), HULL_MARGIN_MM


def inside_region(
    outline: Polyline, margin_mm: float, x_mm: Floats | float, y_mm: Floats | float
) -> NDArray[np.bool_]:
    """Which points lie inside the closed outline, or within the margin of it: x and y of any shapes that
    broadcast.

    An outline that crosses itself encloses what any of its loops encloses, as the checker takes it.
    """
    inside: NDArray[np.bool_] = shapely.contains_xy(_region(outline, margin_mm), x_mm, y_mm)
    return inside


@lru_cache(maxsize=_REGIONS)
def _region(outline: Polyline, margin_mm: float) -> Any:
    """The outline as a shape that is quickly asked for many points; margins run round corners to 2 um."""
    if len(outline) < 3:
        shape = shapely.Point(outline[0]) if len(outline) == 1 else shapely.LineString(outline)
    else:
        shape = enclosed(outline).area
    shape = shape.buffer(margin_mm, quad_segs=_QUARTER_PIECES) if margin_mm > 0 else shape
    shapely.prepare(shape)
    return shape


def _grid(layout: Layout, step_mm: float | None) -> tuple[Floats, Floats]:
    """Pitch-centred grid over the window as far as it lies on the card; over the card where there is none."""
    card = layout.card
    corners = layout.window or ((0.0, 0.0), (card.width_mm, card.height_mm))
    xs, ys = (
        np.clip([corner[axis] for corner in corners], 0.0, side)
        for axis, side in ((0, card.width_mm), (1, card.height_mm))
    )
    low_x, low_y = float(xs.min()), float(ys.min())
    # A window off the card leaves nothing: keep a grid that has a size.
    width, height = max(float(xs.max()) - low_x, _LEAST_SIDE_MM), max(float(ys.max()) - low_y, _LEAST_SIDE_MM)
    pitch = step_mm or max(width, height) / _ACROSS
    columns, rows = (max(round(side / pitch), 2) for side in (width, height))
    x_mm = low_x + np.linspace(width / columns / 2, width - width / columns / 2, columns)
    y_mm = low_y + np.linspace(height / rows / 2, height - height / rows / 2, rows)
    return x_mm, y_mm
