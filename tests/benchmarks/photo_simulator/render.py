"""One photo from seed and number: throw the dice, draw the card, photograph it, write down the truth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.photo_simulator import light as lamps
from tests.benchmarks.photo_simulator import scene, things
from tests.benchmarks.photo_simulator.edges import unclean, wander_of_chance
from tests.benchmarks.photo_simulator.framing import camera_of_chance, covers, things_about, things_on_card
from tests.benchmarks.photo_simulator.graphite import Face
from tests.benchmarks.photo_simulator.layers import (
    add_glare,
    box_of,
    lay_card,
    lay_square,
    lay_table,
    px_per_mm,
)
from tests.benchmarks.photo_simulator.layout import pencil
from tests.benchmarks.photo_simulator.litter import strew
from tests.benchmarks.photo_simulator.rare import glare_at, rare_card, rare_lighting, spoil
from tests.benchmarks.photo_simulator.sensor import Picture, Sensor, expose
from tests.benchmarks.photo_simulator.truth import describe, shown_at
from tests.card_kit.camera import TABLE, Camera, Points, Sheet
from tests.card_kit.outlines import rectangle

Light = NDArray[np.float32]
PAPER = 1  # chosen: the number of the dice for what paper does, thrown apart from all others
# chosen: the numbers of the dice for rare kinds, for litter and for coloured leads, likewise
RARE, LITTER, LEAD = 2, 3, 4
COLOURED_SHARE = 0.15  # chosen: of the cards with rare kinds, those not drawn in grey
DICE_AGAIN = 40  # chosen: how often a layout that came out wanting is drawn afresh


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the command line fixes; None leaves it to the dice."""

    tier: str | None = None
    refuse: str | None = None
    readable_only: bool = False
    refuse_share: float = 0.12
    curl_mm: float | None = None
    bend: str | None = None  # of those of `Sheet.bent`
    tilt_deg: float | None = None
    table: str | None = None
    square_on_card: bool | None = None
    large_share: float = scene.LARGE_SHARE
    clean: bool = False  # edges like a ruler's and sheets like a plane, as no paper has
    exact: bool = False  # cards cut and squares made to their very size, as no hand does
    rare: bool = False  # thin, half filled, glared dots and the like on every card
    littered: bool = False  # crumbs, holes, stickers and the like on every card
    coloured: bool = False  # every card drawn with a coloured pencil or pen; of rare cards some are anyway


@dataclass(frozen=True, slots=True)
class Shot:
    """A photo with its truth, and what the truth was worked out from."""

    picture: Picture
    sensor: Sensor
    truth: dict[str, Any]
    camera: Camera
    sheet: Sheet

    def to_px(self, paper_mm: Points) -> Points:
        """(N, 2) places in the picture of points on the card's paper."""
        return shown_at(self.camera, self.sheet, paper_mm, (self.picture.shape[1], self.picture.shape[0]))


def shoot(seed: int, number: int, wishes: Wishes | None = None) -> Shot:
    """Photo `number` of the series `seed`."""
    wishes = wishes or Wishes()
    rng, of_paper = np.random.default_rng([seed, number]), np.random.default_rng([seed, number, PAPER])
    of_rare = np.random.default_rng([seed, number, RARE]) if wishes.rare else None
    of_litter = np.random.default_rng([seed, number, LITTER]) if wishes.littered else None
    tier = wishes.tier or str(rng.choice(list(scene.TIERS), p=list(scene.TIERS.values())))
    refuse = wishes.refuse
    if refuse is None and not wishes.readable_only and rng.random() < wishes.refuse_share:
        refuse = str(rng.choice(scene.REFUSALS))
    of_lead = np.random.default_rng([seed, number, LEAD])
    coloured = wishes.coloured or (wishes.rare and of_lead.random() < COLOURED_SHARE)
    lead = scene.coloured_lead(of_lead) if coloured else scene.GREY_LEAD
    name = f"sim-{tier.lower()}-{seed}-{number:04d}"
    for _ in range(DICE_AGAIN):
        shot = _try_once(rng, of_paper, of_rare, of_litter, lead, name, tier, refuse, wishes)
        if shot is not None:
            return shot
    raise RuntimeError(f"no photo came out of seed {seed}, number {number}")


def _try_once(
    rng: np.random.Generator,
    of_paper: np.random.Generator,
    of_rare: np.random.Generator | None,
    of_litter: np.random.Generator | None,
    lead: scene.Rgb,
    name: str,
    tier: str,
    refuse: str | None,
    wishes: Wishes,
) -> Shot | None:
    card = replace(scene.card_of_chance(rng, refuse), lead=lead)
    square = scene.square_of_chance(rng, card, refuse, wishes.square_on_card)
    sheet, curl = scene.sheet_of_chance(
        rng, card, 0.0 if refuse == "square and card disagree" else wishes.curl_mm, wishes.bend
    )
    if wishes.exact:
        card = replace(card, corners_mm=rectangle(*card.nominal_mm))
        square = square and replace(square, true_side_mm=square.side_mm)
    if not wishes.clean:
        card = replace(card, wander_mm=wander_of_chance(of_paper, card.by_hand))
        sheet = unclean(of_paper, sheet, card.corners_mm, curl)
    if of_rare is not None:
        card = rare_card(of_rare, card)
    camera = camera_of_chance(rng, card, square, sheet, refuse, wishes.tilt_deg, wishes.large_share)
    if camera is None:
        return None
    on_card = things_on_card(rng, tier, card, square)
    keep_free = [square.paper_mm] if square and square.on_card else []
    keep_free += [t.footprint_mm() for t in on_card]
    marks = pencil(
        rng,
        *card.nominal_mm,
        tier,
        keep_free=keep_free,
        lights=0 if refuse == "no dots" else None,
        rings={"no battery circle": 0, "two battery circles": 2}.get(refuse or "", 1),
        tight=of_rare is not None and of_rare.random() < 0.4,
    )
    if of_rare is not None:
        spoil(of_rare, marks, *card.nominal_mm)
    if len(marks.rings) != {"no battery circle": 0, "two battery circles": 2}.get(refuse or "", 1):
        return None
    if not marks.dots and refuse != "no dots":
        return None
    lighting = scene.lighting_of_chance(rng)
    if of_rare is not None:
        lighting = rare_lighting(of_rare, lighting)
    table = wishes.table or scene.table_of_chance(rng)
    if square and not square.coded and not square.on_card and table in scene.TOO_DARK_FOR_PLAIN:
        return None  # nobody could see it
    near = things_about(rng, tier, card, square, sheet, camera, marks)
    on_card = [t.lifted(sheet.thickness_mm + curl * 0.5) for t in on_card]
    on_card = [t for t in on_card if not covers(t, camera, sheet, marks, card, corners=True)]

    picture = lay_table(rng, table, camera)
    rim = sheet.to_world(card.rim_mm())
    lamps.cast_shadow(picture, camera, [rim], lighting, [max(0.35, float(-rim[:, 2].mean()))])
    if square and not square.on_card:
        lay_square(rng, picture, camera, square, TABLE)
    face = Face(float(card.corners_mm[:, 0].max()), float(card.corners_mm[:, 1].max()), card.tooth, rng)
    lights, rings = face.pencil(marks, card.darkest)
    litter = of_litter and strew(
        of_litter, face.shape, marks, card.nominal_mm, lighting.toward * lighting.slope
    )
    lay_card(rng, picture, camera, card, sheet, face, litter)
    if square and square.on_card:
        lay_square(rng, picture, camera, square, sheet)
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
        glared = None if of_rare is None else glare_at(of_rare, marks)
        add_glare(rng, picture, camera, sheet, card, lighting.glare, glared)
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
        about=[f"{t.name} on the table" for t in near]
        + [f"{t.name} on the card" for t in on_card]
        + (sorted(set(litter.kinds)) if litter else []),
        sensor=sensor,
        shown=(shown.shape[1], shown.shape[0]),
    )
    return Shot(shown, sensor, truth, camera, sheet)


def _sensor(
    rng: np.random.Generator,
    camera: Camera,
    picture: Light,
    sheet: Sheet,
    card: scene.CardSpec,
    refuse: str | None,
) -> Sensor:
    middle = card.corners_mm.mean(axis=0)
    scale = px_per_mm(camera, middle)
    # Phones look after the subject's brightness and keep most of the picture below white.
    left, top, right, bottom = box_of(camera, camera.project(sheet.to_world(card.corners_mm)))
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
