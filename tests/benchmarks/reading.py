"""python -m tests.benchmarks.reading FOLDER...: how well photos with truth beside them are read.

A folder holds NAME.jpg with NAME.json, as `tests.benchmarks.photo_simulator` writes them. Prints one
table (all photos, then by condition), then every bad photo by name and what went wrong with it;
--out FILE.json keeps it all, and such a file in place of a folder counts in without being read again.
Times are ratios to opening the same file with Pillow, upright, as an array, in the same run.
"""

from __future__ import annotations

import argparse
import json
import platform
import resource
import sys
import time
import traceback
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image, ImageOps

from circuit.asked import Asked
from circuit.errors import PencilampError
from tests.benchmarks.reading_score import Score, compare, start
from vision.errors import PhotoError


def score_photo(truth_file: Path) -> Score:
    """Read the photo beside one truth file and compare."""
    from vision.reading.photo import open_photo
    from vision.reading.read import read_photo

    cv2.setNumThreads(1)
    truth = json.loads(truth_file.read_text(encoding="utf-8"))
    score = start(truth)
    path = truth_file.with_name(truth["photo"])
    # Two clocks: a person waits by the wall's; only the processor's is fair on a busy machine.
    decoding = time.process_time()
    with Image.open(path) as opened:
        np.asarray(ImageOps.exif_transpose(opened).convert("RGB"))
    begun, decoded = time.perf_counter(), time.process_time()
    try:
        found = read_photo(open_photo(path), Asked())
        score.seconds, score.cpu_seconds = time.perf_counter() - begun, time.process_time() - decoded
        compare(score, truth, found.layout, found.reading)
    except PencilampError as error:
        score.seconds, score.cpu_seconds = time.perf_counter() - begun, time.process_time() - decoded
        score.outcome = "refused"
        score.cause = error.cause if isinstance(error, PhotoError) else type(error).__name__
        score.says = [str(error)]
    except Exception:  # a crash is a result to be listed, and the other photos still count
        score.seconds, score.cpu_seconds = time.perf_counter() - begun, time.process_time() - decoded
        score.outcome, score.says = "crash", [traceback.format_exc(limit=-3)]
    score.decode_seconds = decoded - decoding
    return score


def run(folder: Path, limit: int | None = None, jobs: int = 1, only: str | None = None) -> list[Score]:
    """Score the folder's photos, by name; `only` picks those whose names contain it."""
    files = [file for file in sorted(folder.glob("*.json")) if only is None or only in file.stem][:limit]
    if jobs <= 1:
        scores = []
        for k, file in enumerate(files, start=1):
            scores.append(score_photo(file))
            if sys.stderr.isatty():
                print(f"\r{k}/{len(files)}", end="", file=sys.stderr)
        return scores
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(score_photo, files, chunksize=4))


def kept(file: Path) -> list[Score]:
    """The scores that an earlier run kept."""
    return [Score(**values) for values in json.loads(file.read_text(encoding="utf-8"))]


def peak_memory_mb() -> float:
    """The most that this process or one of its workers has held so far (Linux: KiB; macOS: bytes)."""
    most = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return most / (1024 * 1024 if sys.platform == "darwin" else 1024)


def percent(part: int, whole: int) -> str:
    return f"{100 * part / whole:5.1f}" if whole else "    -"


def spread(values: Sequence[float]) -> str:
    """Median, 95 % and worst."""
    if not values:
        return "   -    -    - "
    return f"{np.median(values):.2f} {np.percentile(values, 95):.2f} {max(values):.2f}"


def covered(marks: Iterable[tuple[float, float, bool]]) -> str:
    marks = list(marks)
    return percent(sum(error <= bound for error, bound, _ in marks), len(marks))


HEAD = (
    f"{'':26}photos perfect  sure doubted refused silent missed extra"
    " | light mm 50 95 max | covered | ring mm 50 95 max"
)


def row(name: str, scores: list[Score]) -> str:
    """One line over readable photos."""
    count = len(scores)
    lights = [mark for s in scores for mark in s.lights]
    rings = [s.battery for s in scores if s.battery]
    return (
        f"{name[:26]:26}{count:6d} {percent(sum(s.perfect for s in scores), count):>7}"
        f" {percent(sum(s.outcome == 'read' for s in scores), count)}"
        f"   {percent(sum(s.outcome == 'doubt' for s in scores), count)}"
        f"   {percent(sum(s.outcome in ('refused', 'crash') for s in scores), count)}"
        f" {sum(s.silent_wrong for s in scores):6d} {sum(s.missed for s in scores):6d}"
        f" {sum(s.extra for s in scores):5d} |   {spread([m[0] for m in lights]):>15} |"
        f"   {covered(lights)} |  {spread([m[0] for m in rings]):>15}"
    )


def table(scores: list[Score]) -> str:
    """The whole report without the list of bad photos."""
    readable = [s for s in scores if s.expect == "read"]
    lines = [HEAD, row("all readable", readable)]
    lines += [row(f"tier {tier}", [s for s in readable if s.tier == tier]) for tier in ("A", "B", "C")]
    for condition in readable[0].conditions if readable else ():
        values = sorted({s.conditions[condition] for s in readable})
        lines.append(f"by {condition}")
        lines += [row(f"  {v}", [s for s in readable if s.conditions[condition] == v]) for v in values]
    lines += ["", *coverage_lines(readable), "", *outline_lines(readable), "", *refusal_lines(scores)]
    return "\n".join([*lines, "", cost_line(scores)])


def coverage_lines(readable: list[Score]) -> list[str]:
    """Do the stated 95 % bounds hold? Wanted: 90 to 99 % everywhere."""
    rings = [s.battery for s in readable if s.battery]
    diameters = [s.diameter for s in readable if s.diameter]
    inside = sum(abs(error) <= bound for error, bound in diameters)
    marks = [m for s in readable for m in s.lights] + rings
    lines = [
        "stated 95 % bounds that hold, per cent",
        f"  battery centre {covered(rings)}   diameter {percent(inside, len(diameters))}"
        f"   diameter error 50 95 max {spread([abs(d[0]) for d in diameters])}",
        f"  marks nearer the square {covered(m for m in marks if m[2])}"
        f"   farther {covered(m for m in marks if not m[2])}   bounds 50 95 max {spread([m[1] for m in marks])}",
        "  by tier: " + ", ".join(_by(readable, lambda s: s.tier)),
    ]
    told = {
        c: _by(readable, lambda s, c=c: s.conditions[c]) for c in ("tilt", "curl", "bow", "square", "blur")
    }
    return lines + [f"  by {condition}: " + ", ".join(groups) for condition, groups in told.items()]


def _by(scores: list[Score], key: Callable[[Score], str]) -> list[str]:
    groups: dict[str, list[tuple[float, float, bool]]] = defaultdict(list)
    for s in scores:
        groups[key(s)] += s.lights + ([s.battery] if s.battery else [])
    return [f"{name} {covered(marks).strip()}" for name, marks in sorted(groups.items())]


def outline_lines(readable: list[Score]) -> list[str]:
    """Windows and drawn circuit lines."""
    read = [s for s in readable if s.outcome in ("read", "doubt")]
    ious = [s.window_iou for s in read if s.window_iou is not None]
    windows = {w: sum(s.window == w for s in read) for w in ("right", "poor", "missed", "invented")}
    drawn = {
        w: sum(s.lines == w for s in read) for w in ("right", "wrong polarity", "poor", "missed", "invented")
    }
    middle = f"{np.median(ious):.3f}" if ious else "-"
    return [
        f"windows (IoU 0.95 or more is right; median {middle}): {windows}",
        f"drawn circuit lines: {drawn}",
    ]


def refusal_lines(scores: list[Score]) -> list[str]:
    """For each reason to refuse: what happened instead."""
    groups: dict[str, list[Score]] = defaultdict(list)
    for s in scores:
        if s.expect == "refuse":
            groups[s.reason or "?"].append(s)
    every = [s for group in groups.values() for s in group]
    refused, rightly = sum(s.refused_rightly for s in every), sum(s.cause_right for s in every)
    lines = [
        f"photos to refuse: {len(every)}, refused or doubted {percent(refused, len(every))} %, for the right"
        f" cause {percent(rightly, len(every))} %, read as sure {sum(s.outcome == 'read' for s in every)}"
    ]
    for reason, group in sorted(groups.items()):
        what: dict[str, int] = defaultdict(int)
        for s in group:
            what[s.cause or s.outcome] += 1
        told = ", ".join(f"{word} {n}" for word, n in sorted(what.items(), key=lambda item: -item[1]))
        lines.append(f"  {reason:26} {len(group):4d}: {told}")
    wrongly: dict[str, int] = defaultdict(int)
    for s in scores:
        if s.expect == "read" and s.outcome == "refused":
            wrongly[s.cause or "?"] += 1
    lines.append(f"readable photos refused as: {dict(sorted(wrongly.items(), key=lambda item: -item[1]))}")
    return lines


def cost_line(scores: list[Score]) -> str:
    parts = []
    for size in ("3 MP", "12 MP", "1600 px"):
        some = [s for s in scores if s.conditions["picture"] == size and s.decode_seconds > 0]
        if some:
            ratio = np.median([s.cpu_seconds / s.decode_seconds for s in some])
            took = [s.seconds for s in some]
            parts.append(f"{size}: {ratio:.1f} x the work of decoding (seconds 50 95 max {spread(took)})")
    return "opening and reading, " + "; ".join(parts) + f"; peak memory {peak_memory_mb():.0f} MB"


def bad_photos(scores: list[Score]) -> list[str]:
    """One line a bad photo, the worst kind first."""
    found: list[tuple[int, str]] = []
    for s in scores:
        told = "; ".join(s.detail)
        said = s.says[0].splitlines()[-1] if s.says else ""
        if s.outcome == "crash":
            found.append((0, f"CRASH          {s.photo}: {said}"))
        elif s.silent_wrong:
            found.append((1, f"SILENT WRONG   {s.photo}: {told or f'to be refused: {s.reason}'}"))
        elif s.expect == "read" and s.outcome == "doubt" and not s.perfect:
            found.append((2, f"wrong, doubted {s.photo}: {told} [{said}]"))
        elif s.expect == "read" and s.outcome == "refused":
            found.append((3, f"refused        {s.photo}: {s.cause} [{said}]"))
        elif s.expect == "read" and s.outcome == "doubt":
            found.append((4, f"right, doubted {s.photo}: [{'; '.join(s.says)}]"))
        elif s.expect == "refuse" and not s.cause_right and s.outcome == "refused":
            found.append((5, f"other cause    {s.photo}: {s.reason}, refused as {s.cause}"))
    return [line for _, line in sorted(found)]


def environment() -> str:
    return f"{platform.machine()}, Python {platform.python_version()}, OpenCV {cv2.__version__}, numpy {np.__version__}"


def main(arguments: list[str] | None = None) -> list[Score]:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("sources", type=Path, nargs="+", help="folders of photos, or scores kept by --out")
    parser.add_argument("--limit", type=int, help="no more photos than this")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--only", help="photos whose names contain this")
    parser.add_argument("--out", type=Path, help="keep every score as JSON")
    parser.add_argument("--brief", action="store_true", help="without the list of bad photos")
    options = parser.parse_args(arguments)
    scores: list[Score] = []
    for source in options.sources:
        scores += run(source, options.limit, options.jobs, options.only) if source.is_dir() else kept(source)
    names = ", ".join(source.name for source in options.sources)
    print(f"{len(scores)} photos of {names}; {environment()}")
    print(table(scores))
    if not options.brief:
        print("\n" + "\n".join(bad_photos(scores)))
    if options.out:
        plain: list[dict[str, Any]] = [asdict(s) for s in scores]
        options.out.write_text(json.dumps(plain, indent=1) + "\n", encoding="utf-8")
    return scores


if __name__ == "__main__":
    main()
