"""What pictures and pages cost: `python -m tests.benchmarks.drawing`.

Each as a ratio of processor time to writing the overlay as a PNG file in the same run, the best of a few runs; the
most memory that Python and its libraries ever held, over the finished picture's.
"""

from __future__ import annotations

import resource
import time
from dataclasses import replace

from circuit.orientation import positive_sides_deg
from circuit.settings import Settings
from cli.pages import build_pages, sheet_pages
from cli.png import png_bytes
from tests.cli import cards
from vision.drawing.on_screen import plan_svg
from vision.drawing.overlay import draw_overlay

CARDS = {"1": cards.one_light, "7": cards.seven_lights, "14": cards.fourteen_lights}


def best_of(repeats, work, *args):
    """The least processor seconds of several runs."""
    least = float("inf")
    for _ in range(repeats):
        start = time.process_time()
        work(*args)
        least = min(least, time.process_time() - start)
    return least


def main(counts=tuple(CARDS), repeats=5):
    """Print one row a card; returns the rows."""
    settings, rows = Settings(), []
    print("lights  overlay / PNG  sheet / PNG  build sheet / PNG  SVG / PNG  PNG kB")
    for count in counts:
        plan = CARDS[count]()
        plan = replace(plan, sides_deg=positive_sides_deg(plan.layout, plan.traces, settings))
        picture = draw_overlay(None, plan, settings)
        png = best_of(repeats, png_bytes, picture)
        works = (lambda p=plan: draw_overlay(None, p, settings), *(
            lambda p=plan, make=make: make(p, settings) for make in (sheet_pages, build_pages, plan_svg)
        ))  # fmt: skip
        row = [best_of(repeats, work) / png for work in works]
        rows.append(row)
        print(
            f"{count:>6}{row[0]:15.2f}{row[1]:13.2f}{row[2]:19.2f}{row[3]:11.2f}{len(png_bytes(picture)) / 1000:8.0f}"
        )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(f"most memory over the last picture's: {peak / (picture.width * picture.height * 3):.0f}")
    return rows


if __name__ == "__main__":
    main()
