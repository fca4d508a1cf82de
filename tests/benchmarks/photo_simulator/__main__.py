"""python -m tests.benchmarks.photo_simulator OUT --count N --seed S

Writes NAME.jpg and NAME.json for each photo; photos that are there already are left alone, so a
series can be made longer later. For a contact sheet of them add --sheet FILE.png.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from tests.benchmarks.photo_simulator.render import Wishes, shoot
from tests.benchmarks.photo_simulator.scene import REFUSALS
from tests.benchmarks.photo_simulator.sensor import save
from tests.benchmarks.photo_simulator.table_tops import TABLES


def main(arguments: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("out", type=Path)
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--first", type=int, default=0, help="number of the first photo")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tier", choices=("A", "B", "C"))
    parser.add_argument("--refuse", choices=REFUSALS, help="only photos to be refused for this")
    parser.add_argument("--refuse-share", type=float, default=0.12)
    parser.add_argument("--curl", type=float, help="lift in mm; 0 is flat")
    parser.add_argument(
        "--bend",
        choices=("end", "ends", "arch", "s", "corners"),
        help="what rises; the dice know an end and an arch",
    )
    parser.add_argument("--tilt", type=float, help="degrees from straight above")
    parser.add_argument("--clean", action="store_true", help="edges like a ruler's, sheets like a plane")
    parser.add_argument("--exact", action="store_true", help="cards and squares of exactly their size")
    parser.add_argument(
        "--rare", action="store_true", help="thin, half filled, glared dots and the like on every card"
    )
    parser.add_argument("--littered", action="store_true", help="crumbs, holes, stickers on every card")
    parser.add_argument("--coloured", action="store_true", help="every card drawn in one colour, not grey")
    parser.add_argument("--table", choices=tuple(TABLES))
    parser.add_argument("--sheet", type=Path, help="write a contact sheet of these photos")
    options = parser.parse_args(arguments)
    cv2.setNumThreads(1)
    options.out.mkdir(parents=True, exist_ok=True)
    wishes = Wishes(
        tier=options.tier,
        refuse=options.refuse,
        refuse_share=options.refuse_share,
        curl_mm=options.curl,
        bend=options.bend,
        tilt_deg=options.tilt,
        table=options.table,
        clean=options.clean,
        exact=options.exact,
        rare=options.rare,
        littered=options.littered,
        coloured=options.coloured,
    )
    begun, made = time.perf_counter(), 0
    names = []
    for number in range(options.first, options.first + options.count):
        known = sorted(options.out.glob(f"sim-*-{options.seed}-{number:04d}.json"))
        if known:
            names.append(known[0].stem)
            continue
        shot = shoot(options.seed, number, wishes)
        name = Path(shot.truth["photo"]).stem
        save(shot.picture, shot.sensor, options.out / f"{name}.jpg")
        text = json.dumps(shot.truth, indent=1)
        (options.out / f"{name}.json").write_text(text + "\n", encoding="utf-8")
        names.append(name)
        made += 1
    if made:
        print(f"{made} photos in {options.out}, {(time.perf_counter() - begun) / made:.2f} s each")
    if options.sheet:
        contact_sheet([options.out / f"{name}.jpg" for name in names], options.sheet)


def contact_sheet(photos: list[Path], sheet: Path, columns: int = 5, cell: int = 320) -> None:
    """Small copies of `photos` side by side, as a viewer shows them."""
    from PIL import ImageOps

    rows = -(-len(photos) // columns)
    canvas = np.full((rows * cell, columns * cell, 3), 255, np.uint8)
    for k, path in enumerate(photos):
        with Image.open(path) as opened:
            small = ImageOps.exif_transpose(opened).convert("RGB")
            small.thumbnail((cell - 6, cell - 6))
        top, left = (k // columns) * cell, (k % columns) * cell
        canvas[top : top + small.height, left : left + small.width] = np.asarray(small)
    Image.fromarray(canvas).save(sheet)


if __name__ == "__main__":
    main()
