"""One photo read: marks in card millimetres with their uncertainty, or the reason why not.

In:    a `Photo` and what the person said of card and square.
Out:   a `PhotoReading`: layout, how it was read, the straightened card.
Fails: a `PhotoError` when there is no reading at all. What could be two things is a doubt, and then
       ``reading.sure`` is False: never a silent guess.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from circuit.asked import Asked
from circuit.card_sizes import named_size
from circuit.errors import UsageError
from circuit.layout import (
    BatteryMark,
    Doubt,
    DrawnLine,
    Layout,
    LightMark,
    Point,
    Reading,
    Remark,
    Saying,
)
from vision.arrays import Floats
from vision.errors import NoBatteryError, NoDotsError, PhotoError, TwoBatteriesError
from vision.reading.fit.uncertainty import LEAST_BOUND_MM, SIGMAS_OF_ONE_FIGURE, SURE_MM, bound_mm
from vision.reading.fit.view import ENOUGH_PX_PER_MM, LEAST_PX_PER_MM, View, straighten
from vision.reading.marks import MarksSeen, SeenCircle, SeenLight, SeenLine, find_marks
from vision.reading.photo import Photo, open_finer
from vision.reading.placing.find_view import FoundView, find_view
from vision.straight_card import StraightCard

SAME_ROW_MM = 4.0  # lights whose heights differ by less are read from left to right


@dataclass(frozen=True, slots=True)
class PhotoReading:
    """layout and reading as the plan keeps them; straight : the card from above, for the overlay;
    crossed_out : dots that are struck out, not lights; notes : what is worth knowing but no doubt;
    maybe : places of what was left out yet could be a mark, each with its own among the doubts."""

    layout: Layout
    reading: Reading
    straight: StraightCard
    view: View
    crossed_out: tuple[Point, ...] = ()
    notes: tuple[Remark, ...] = ()
    maybe: tuple[Point, ...] = ()


def read_photo(
    photo: Photo, asked: Asked | None = None, progress: Callable[[str], None] | None = None
) -> PhotoReading:
    """Read one photo. Raises a PhotoError, or UsageError for a card size that has no such name.

    A large photo is read at half its size or less; where that shows no card, or too few pixels of it for its marks,
    the finer pixels are read too.
    """
    asked = _with_sides(asked or Asked())
    say = progress or (lambda _: None)
    straight = None
    try:
        seen, straight = _straightened(photo, asked, say)
        found = _read(photo, seen, straight, say)
    except PhotoError:
        enough = straight is not None and straight.px_per_mm >= ENOUGH_PX_PER_MM
        again = None if enough else _read_finer(photo, asked, say)
        if again is None:
            raise
        return again
    sparse = straight.px_per_mm <= LEAST_PX_PER_MM
    return (_read_finer(photo, asked, say) if sparse else None) or found


def _read_finer(photo: Photo, asked: Asked, say: Callable[[str], None]) -> PhotoReading | None:
    """The reading of the same photo in more pixels; None when it has no more, or they give none either."""
    finer = open_finer(photo)
    if finer is None:
        return None
    try:
        return _read(finer, *_straightened(finer, asked, say), say)
    except PhotoError:
        return None


def _straightened(photo: Photo, asked: Asked, say: Callable[[str], None]) -> tuple[FoundView, StraightCard]:
    say("finding the card and the square")
    seen = find_view(photo.pixels, asked, photo.focal_35mm)
    return seen, straighten(photo.pixels, seen.view)


def _read(photo: Photo, seen: FoundView, straight: StraightCard, say: Callable[[str], None]) -> PhotoReading:
    say("finding the pencil marks")
    view, marks = seen.view, find_marks(straight)
    battery = _the_battery(marks, view)
    if not marks.lights:
        raise NoDotsError(
            "There is not one pencilled dot on the card; fill in a dot of 2 to 5 mm for each light and take the "
            "photo again."
        )
    ordered = _reading_order(marks.lights)
    bounds = _bounds(ordered, battery, marks, view)
    layout = Layout(
        card=replace(view.card, uncertainty_mm=view.edge_bound_mm),
        lights=_lights(ordered, bounds.lights),
        battery=_battery_mark(battery, bounds.battery, view),
        window=None if marks.window is None else marks.window.outline,
        drawn_lines=_drawn_lines(marks.drawn_lines, bounds.lines),
        window_uncertainty_mm=bounds.window,
    )
    doubts = [*seen.doubts, *_labelled(marks.doubts, layout)]
    sure = not seen.doubts and marks.sure
    uncertainty = max(
        [light.uncertainty_mm for light in layout.lights] + [layout.battery.uncertainty_mm]  # type: ignore[union-attr]
    )
    if uncertainty > SURE_MM:
        sure = False
        doubts.append(Doubt("card", None, Saying("places-uncertain")))
    reading = Reading(
        photo=photo.name,
        square_kind=view.square_kind,
        square_side_mm=view.square_side_mm,
        uncertainty_mm=uncertainty,
        sure=sure,
        doubts=tuple(doubts),
        turn_deg=view.turn_deg,
    )
    notes = (*seen.notes, *marks.notes)
    return PhotoReading(layout, reading, straight, view, marks.crossed_out, notes, marks.maybe)


def _labelled(doubts: Sequence[Doubt], layout: Layout) -> list[Doubt]:
    """The doubts about lights with the labels of those that lie there, none for marks that were left out."""
    labels = {light.centre: light.label for light in layout.lights}
    return [
        replace(doubt, about=labels.get(doubt.where_mm, ""))
        if doubt.about == "light" and doubt.where_mm
        else doubt
        for doubt in doubts
    ]


def _with_sides(asked: Asked) -> Asked:
    """The same with the sides of a card that was given by its name."""
    if asked.card_name is None or asked.card_mm is not None:
        return asked
    size = named_size(asked.card_name)
    if size is None:
        raise UsageError(
            f"{asked.card_name!r} is no card size that is known here; give its width and height instead."
        )
    return replace(asked, card_mm=(size.short_mm, size.long_mm), card_name=size.name)


def _the_battery(marks: MarksSeen, view: View) -> SeenCircle:
    if not marks.circles:
        raise NoBatteryError(
            "There is no battery circle on the card; trace round the coin cell in one closed line and take the "
            "photo again."
        )
    sure = [circle for circle in marks.circles if circle.sure]
    if len(sure) > 1:
        places = view.to_photo(np.array([circle.centre for circle in sure]))
        raise TwoBatteriesError(
            "There are two battery circles on the card; rub one of them out and take the photo again.",
            [(float(x), float(y)) for x, y in places],
        )
    return sure[0] if sure else marks.circles[0]


@dataclass(frozen=True, slots=True)
class _Bounds:
    """95 % bounds of the marks' places, in the marks' order; a line's and the window's is its worst corner's, 0
    for no window. [mm]"""

    lights: tuple[float, ...]
    battery: float
    lines: tuple[float, ...]
    window: float


def _bounds(lights: Sequence[SeenLight], battery: SeenCircle, marks: MarksSeen, view: View) -> _Bounds:
    """The view's covariance at each place and the mark's own, added up; all places are asked for at once."""
    places = [light.centre for light in lights] + [battery.centre]
    sigmas = [light.sigma_mm for light in lights] + [battery.sigma_mm]
    lines = [(line.points, line.sigma_mm) for line in marks.drawn_lines]
    if marks.window is not None:
        lines.append((marks.window.outline, marks.window.sigma_mm))
    for points, sigma_mm in lines:
        places += points
        sigmas += [sigma_mm] * len(points)
    covariances = view.position_covariance(np.array(places, dtype=np.float64))
    bounds = [
        bound_mm(covariance + sigma**2 * np.eye(2))
        for covariance, sigma in zip(covariances, sigmas, strict=True)
    ]
    ends = len(lights) + 1 + np.cumsum([0] + [len(points) for points, _ in lines])
    worst = tuple(max(bounds[start:stop]) for start, stop in pairwise(ends.tolist()))
    drawn = len(marks.drawn_lines)
    return _Bounds(
        tuple(bounds[: len(lights)]), bounds[len(lights)], worst[:drawn], max(worst[drawn:], default=0.0)
    )


def _reading_order(lights: tuple[SeenLight, ...]) -> list[SeenLight]:
    """Top to bottom, and left to right among lights that lie about level."""
    rows: list[list[SeenLight]] = []
    for light in sorted(lights, key=lambda light: (light.y_mm, light.x_mm)):
        if rows and light.y_mm - rows[-1][0].y_mm < SAME_ROW_MM:
            rows[-1].append(light)
        else:
            rows.append([light])
    return [light for row in rows for light in sorted(row, key=lambda light: light.x_mm)]


def _lights(ordered: Sequence[SeenLight], bounds: Sequence[float]) -> tuple[LightMark, ...]:
    return tuple(
        LightMark(f"L{k}", light.x_mm, light.y_mm, light.diameter_mm, bound, light.sure)
        for k, (light, bound) in enumerate(zip(ordered, bounds, strict=True), start=1)
    )


def _battery_mark(circle: SeenCircle, bound: float, view: View) -> BatteryMark:
    scale = _scale_sigma(circle, view)
    diameter = SIGMAS_OF_ONE_FIGURE * float(np.hypot(circle.diameter_sigma_mm, scale))
    return BatteryMark(
        circle.x_mm, circle.y_mm, circle.diameter_mm, bound, max(diameter, LEAST_BOUND_MM), circle.sure
    )


def _scale_sigma(circle: SeenCircle, view: View) -> float:
    """Standard deviation that the view adds to the diameter: of the width and of the height, averaged."""
    reach = circle.diameter_mm / 2
    ends: Floats = np.array(
        [
            [circle.x_mm - reach, circle.y_mm],
            [circle.x_mm + reach, circle.y_mm],
            [circle.x_mm, circle.y_mm - reach],
            [circle.x_mm, circle.y_mm + reach],
        ]
    )
    # How the mean of width and height grows with x and y of each end.
    across = np.array([[-0.5, 0.0], [0.5, 0.0], [0.0, -0.5], [0.0, 0.5]]).ravel()
    variance = float(across @ view.joint_covariance(ends) @ across)
    return math.sqrt(max(variance, 0.0))


def _drawn_lines(lines: Sequence[SeenLine], bounds: Sequence[float]) -> tuple[DrawnLine, ...]:
    return tuple(
        DrawnLine(line.points, line.polarity, bound) for line, bound in zip(lines, bounds, strict=True)
    )
