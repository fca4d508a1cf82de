"""What `pencilamp plan` costs from start to end on an easy photo: `python -m tests.benchmarks.whole_plan [RUNS]`.

As a ratio to starting Python with numpy and OpenCV alone, which any program of the kind pays: each in a process of its
own, by turns, wall seconds and processor seconds. Compiled modules are kept, as they are for an installed program.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from PIL import Image

from tests.vision.draw import Dot, Drawing, Ring, draw

# A flat card, three lights in a row, no window.
EASY = Drawing(dots=(Dot(30.2, 60.1), Dot(48.7, 60.4), Dot(66.9, 60.2)), ring=Ring(80.3, 110.2))
_ROOT = Path(__file__).parents[2]
_BARE = ("-c", "import numpy, cv2")


def cost(arguments, environment):
    """Wall and processor seconds of one Python process, which must end well."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run([sys.executable, *arguments], env=environment, check=True, capture_output=True)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main(runs=9):
    """Print one row; returns the median ratios, wall and processor."""
    with tempfile.TemporaryDirectory() as folder:
        photo = Path(folder, "easy.jpg")
        Image.fromarray(draw(EASY, seed=4).pixels).save(photo, quality=92)
        own = {"PYTHONPATH": str(_ROOT), "PYTHONPYCACHEPREFIX": str(Path(folder, "compiled"))}
        environment = {
            key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"
        } | own
        plan = ("-m", "cli.start", "plan", str(photo), "--out", str(Path(folder, "plan")))
        cost(plan, environment)  # compiles
        cost(_BARE, environment)
        pairs = [(cost(plan, environment), cost(_BARE, environment)) for _ in range(runs)]
    wall, processor = (
        statistics.median(whole[which] / bare[which] for whole, bare in pairs) for which in range(2)
    )
    print("whole plan / Python with numpy and OpenCV: wall, processor")
    print(f"{wall:.1f}  {processor:.1f}")
    return wall, processor


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
