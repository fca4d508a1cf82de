"""Spoil photos, plans, parts files and zips by the hundred, and look that each is taken or refused in one sentence.

`layouts` are not spoilt but hard: crowds, rings, lines and spirals of up to 30 lights, on tiny and huge cards.

    python -m tests.attacks.mutated photos --count 500
    python -m tests.attacks.mutated plans --count 500
    python -m tests.attacks.mutated layouts --count 50
    python -m tests.attacks.mutated zips --count 300
    python -m tests.attacks.mutated parts --count 300

Each case is a command in this very process: no error but the program's own may come out, its sentence is one
line without control characters, the exit code is 0 to 4, and nothing is on disk that was not there, but for
what a success writes. The slowest case is told, in processor time, and the most memory that all of them took.
"""

from __future__ import annotations

import argparse
import io
import json
import math
import random
import shutil
import tempfile
import time
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import click
import pillow_heif
from click.testing import CliRunner
from PIL import Image

from circuit.errors import PencilampError
from circuit.plan_json import plan_to_dict
from circuit.visible import LONGEST_SENTENCE
from cli.archive.health import look_over
from cli.archive.store import Archive
from cli.archive.take_out import take_out
from cli.main import main as pencilamp
from cli.plan_file import LARGEST_PLAN_BYTES
from tests.attacks.peak_memory import forget_peak, peak_memory_mb
from tests.attacks.strange_parts import options_for, strange_parts
from tests.cli.archive.made_up import made_up, made_up_plan

pillow_heif.register_heif_opener()
MOST_S, MOST_MB = 30.0, 1000.0  # of processor time and of memory, for any input
SAMPLE = Path(__file__).parents[2] / "sample_images" / "lighthouse.jpg"
KINDS = ("JPEG", "PNG", "WEBP", "HEIF", "AVIF", "TIFF", "BMP")


class Broken(Exception):
    """A case that did not hold."""


def spoilt(data: bytes, chance: random.Random) -> bytes:
    """Bytes changed, cut, doubled, put in, taken out."""
    out = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 5, 20))):
        at = chance.randrange(len(out))
        match chance.randrange(6):
            case 0:
                out[at] ^= 1 << chance.randrange(8)
            case 1:
                del out[at:]
            case 2:
                out[at:at] = chance.randbytes(chance.randrange(1, 40))
            case 3:
                del out[at : at + chance.randrange(1, 400)]
            case 4:
                out[at : at + 4] = chance.choice((b"\xff\xff\xff\xff", b"\0\0\0\0", b"\x7f\xff\xff\xff"))
            case _:
                out += out[at : at + 2000]
        if not out:
            return b"\0"
    return bytes(out)


STRANGE: tuple[Any, ...] = (
    None, True, -1, 0, 1e308, -1e-308, 10**30, "", "x" * 5000, "\x1b[31m\ud800", [], {}, [[]], [1, 2], {"a": [None]},
)  # fmt: skip


def strange_json(value: Any, chance: random.Random) -> Any:
    """A JSON value with one of its parts left out, or made something else."""
    places: list[tuple[Any, Any]] = []

    def walk(one: Any) -> None:
        items = one.items() if isinstance(one, Mapping) else enumerate(one) if isinstance(one, list) else ()
        for key, item in list(items):
            places.append((one, key))
            walk(item)

    value = json.loads(json.dumps(value))
    walk(value)
    for _ in range(chance.choice((1, 1, 2, 4))):
        holder, key = chance.choice(places)
        try:
            match chance.randrange(4):
                case 0:
                    del holder[key]
                case 1:
                    many = chance.choice((2, 70, 3000))
                    # Once more than a file may be large, and no more: the memory that is measured is this process's.
                    if len(json.dumps(holder[key])) * many < 2 * LARGEST_PLAN_BYTES:
                        holder[key] = [holder[key]] * many
                case _:
                    holder[key] = chance.choice(STRANGE)
        except (KeyError, IndexError):
            continue
    return value


def held(arguments: tuple[str, ...], place: Path, may_write: bool) -> tuple[int, float]:
    """The exit code and the processor time of a command that must hold."""
    before = {path for path in place.rglob("*") if "archive" not in path.parts}
    begun = time.process_time()
    result = CliRunner().invoke(pencilamp, list(arguments), standalone_mode=False)
    took = time.process_time() - begun
    code, said = result.return_value if isinstance(result.return_value, int) else 0, ""
    if isinstance(result.exception, PencilampError):
        code, said = result.exception.exit_code, str(result.exception)
    elif isinstance(result.exception, click.UsageError):
        code, said = result.exception.exit_code, result.exception.format_message()
    elif result.exception is not None and not isinstance(result.exception, SystemExit):
        raise Broken(f"{arguments}: {result.exception!r}") from result.exception
    said += result.stderr
    if "inside Pencilamp" in said + result.stdout or "Traceback" in said:
        raise Broken(f"{arguments}: {said}{result.stdout}")
    lines = [line for line in said.splitlines() if line and not line.endswith(" ...")]
    if code in (3, 4) and (len(lines) != 1 or not all(ch.isprintable() for ch in lines[0])):
        raise Broken(f"{arguments}: not one sentence: {lines}")
    if code in (2, 3, 4) and any(len(line) > LONGEST_SENTENCE for line in said.splitlines()):
        raise Broken(f"{arguments}: a sentence that nobody reads to its end: {said[:200]}")
    if code not in range(5) or took > MOST_S:
        raise Broken(f"{arguments}: ended with {code} after {took:.1f} s")
    new = {path for path in place.rglob("*") if "archive" not in path.parts} - before
    left = [path for path in new if path.name.startswith(".pencilamp") or (code > 1 and not may_write)]
    if left and any(path.name != "refusal.png" and path.is_file() for path in left):
        raise Broken(f"{arguments}: left {left}")
    return code, took


def photo_cases(count: int, chance: random.Random, place: Path) -> Callable[[], tuple[int, float]]:
    with Image.open(SAMPLE) as opened:
        small = opened.convert("RGB").resize((800, 600))
    whole = {}
    for kind in KINDS:
        buffer = io.BytesIO()
        small.save(buffer, kind)
        whole[kind] = buffer.getvalue()

    def case() -> tuple[int, float]:
        kind = chance.choice(KINDS)
        path = place / f"photo.{kind.lower()}"
        path.write_bytes(spoilt(whole[kind], chance))
        out = place / "out"
        shutil.rmtree(out, ignore_errors=True)
        return held(("plan", str(path), "--out", str(out), "--no-pages"), place, False)

    return case


def plan_cases(count: int, chance: random.Random, place: Path) -> Callable[[], tuple[int, float]]:
    plan = plan_to_dict(made_up_plan(4, must_fix=1))
    layout = {key: plan[key] for key in ("card", "battery", "lights", "window")}
    layout |= {"schema": "pencilamp/layout/1", "window": [[20.0, 15.0], [60.0, 15.0], [60.0, 50.0]]}

    def case() -> tuple[int, float]:
        value = strange_json(chance.choice((plan, layout)), chance)
        path = place / "card.json"
        text = json.dumps(value).encode("utf-8", "backslashreplace")
        path.write_bytes(spoilt(text, chance) if chance.random() < 0.2 else text)
        out = place / "out"
        shutil.rmtree(out, ignore_errors=True)
        command = chance.choice((("plan", "--no-pages"), ("sheet",), ("archive", "keep", "--twice")))
        options = () if command[0] == "archive" else ("--out", str(out))
        try:
            return held((*command, str(path), *options), place, False)
        finally:
            if (place / "archive").is_dir() and chance.random() < 0.1:
                held(("archive", "list"), place, False)

    return case


def zip_cases(count: int, chance: random.Random, place: Path) -> Callable[[], tuple[int, float]]:
    with Archive(place / "from", writing=True) as archive:
        kept = archive.keep_all([made_up("Harbour", shade=1), made_up("Moor", shade=2)])
        take_out(archive, kept, place / "good.zip", whole_photos=True, replace_it=False)
    shutil.rmtree(place / "from")
    good = (place / "good.zip").read_bytes()
    with zipfile.ZipFile(place / "good.zip") as source:
        inside = {name: source.read(name) for name in source.namelist()}

    def case() -> tuple[int, float]:
        if chance.random() < 0.4:
            data = spoilt(good, chance)
        else:
            contents = dict(inside)
            name = chance.choice([name for name in contents if name.endswith(".json")])
            contents[name] = json.dumps(strange_json(json.loads(contents[name]), chance)).encode(
                "utf-8", "backslashreplace"
            )
            buffer = io.BytesIO()
            with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as out:
                for one, content in contents.items():
                    out.writestr(one, content)
            data = buffer.getvalue()
        (place / "case.zip").write_bytes(data)
        outcome = held(("archive", "bring-in", str(place / "case.zip")), place, False)
        for arguments in (("archive", "list"), ("archive", "find", "har")):
            if held(arguments, place, False)[0]:
                raise Broken(f"{arguments} after a strange zip")
        return outcome

    return case


def hard_lights(chance: random.Random, width: float, height: float) -> list[tuple[float, float]]:
    """Places of up to 30 lights that are hard to lay a lane through."""
    many, step = chance.choice((2, 5, 8, 12, 16, 20, 30)), chance.choice((6.0, 7.5, 9.0, 14.0, 40.0))
    turn, inset = chance.uniform(0, math.tau), chance.choice((5.0, 8.0, 15.0))
    places = {
        "grid": lambda i: (inset + step * (i % 6), inset + step * (i // 6)),
        "line": lambda i: (inset + step * i * math.cos(turn), inset + step * i * abs(math.sin(turn))),
        "ring": lambda i: (
            width / 2 + (width / 2 - inset) * math.cos(math.tau * i / many),
            height / 2 + (height / 2 - inset) * math.sin(math.tau * i / many),
        ),
        "spiral": lambda i: (width / 2 + step * i / 4 * math.cos(i), height / 2 + step * i / 4 * math.sin(i)),
        "crowd": lambda i: (chance.uniform(inset, width), chance.uniform(inset, height)),
        "one place": lambda i: (width / 3, height / 3),
    }
    place = places[chance.choice(sorted(places))]
    return [(min(x, width), min(y, height)) for x, y in map(place, range(many))]


def layout_cases(count: int, chance: random.Random, place: Path) -> Callable[[], tuple[int, float]]:
    def case() -> tuple[int, float]:
        width, height = chance.choice(
            ((40.0, 40.0), (105.0, 148.0), (210.0, 297.0), (2000.0, 30.0), (700.0, 600.0), (2000.0, 2000.0))
        )
        around = (chance.uniform(0.1, 0.5) for _ in iter(int, 1))
        points, turns = chance.choice((0, 0, 4, 300, 2000)), chance.choice((1, 1, 3, 700))
        layout = {
            "schema": "pencilamp/layout/1",
            "card": {"width_mm": width, "height_mm": height},
            "battery": {
                "x_mm": chance.uniform(0, width),
                "y_mm": chance.uniform(0, height),
                "diameter_mm": 20.0,
            },
            "lights": [{"x_mm": x, "y_mm": y} for x, y in hard_lights(chance, width, height)],
            "window": [
                [width * (0.5 + reach * math.cos(angle)), height * (0.5 + reach * math.sin(angle))]
                for angle, reach in ((math.tau * turns * i / points, next(around)) for i in range(points))
            ]
            or None,
        }
        path, out = place / "card.json", place / "out"
        path.write_text(json.dumps(layout))
        shutil.rmtree(out, ignore_errors=True)
        every = ("--effort", "10", "--glow", "--spacing", "--find-battery-place")
        ways = ((), (), every[:2], every[2:4], every[4:], every)
        options = chance.choice(ways)
        return held(("plan", str(path), "--out", str(out), "--no-pages", *options), place, False)

    return case


def parts_cases(count: int, chance: random.Random, place: Path) -> Callable[[], tuple[int, float]]:
    layout, parts, out = place / "card.json", place / "parts.toml", place / "out"
    lights = [{"x_mm": 40.0, "y_mm": 40.0}, {"x_mm": 70.0, "y_mm": 60.0}]
    card = {"card": {"width_mm": 105.0, "height_mm": 148.0}, "lights": lights}
    battery = {"battery": {"x_mm": 30.0, "y_mm": 110.0, "diameter_mm": 20.0}}
    layout.write_text(json.dumps({"schema": "pencilamp/layout/1", **card, **battery}))

    def case() -> tuple[int, float]:
        data = strange_parts(chance, spoilt)
        parts.write_bytes(data)
        shutil.rmtree(out, ignore_errors=True)
        told = held(("parts", "--parts", str(parts)), place, False)
        if told[0] != 0:
            return told
        asked = ("--parts", str(parts), *options_for(data, chance))  # what the list takes is planned with
        return held(("plan", str(layout), *asked, "--out", str(out), "--no-pages"), place, False)

    return case


CASES = {
    "layouts": layout_cases, "parts": parts_cases, "photos": photo_cases, "plans": plan_cases, "zips": zip_cases,
}  # fmt: skip


def main(what: str, count: int, seed: int = 1) -> dict[int, int]:
    """How often each exit code came. Raises Broken, with the case's number, for one that did not hold."""
    import os

    forget_peak()  # of whatever ran before in this process
    chance = random.Random(seed)
    codes: dict[int, int] = {}
    slowest = (0.0, 0)
    with tempfile.TemporaryDirectory() as temporary:
        place = Path(temporary)
        os.environ["PENCILAMP_ARCHIVE"] = str(place / "archive")
        case = CASES[what](count, chance, place)
        for number in range(count):
            try:
                code, took = case()
            except Broken as error:
                raise Broken(f"seed {seed}, case {number}: {error}") from error
            codes[code] = codes.get(code, 0) + 1
            slowest = max(slowest, (took, number))
        if (place / "archive").is_dir():
            with Archive(place / "archive", writing=False) as archive:
                if look_over(archive).bad:
                    raise Broken("a kept file is missing or damaged")
    said = ", ".join(f"{many} ended with {code}" for code, many in sorted(codes.items()))
    cost = (
        f"slowest {slowest[0]:.1f} s of processor time (case {slowest[1]}), {peak_memory_mb():.0f} MB at most"
    )
    print(f"{count} {what}: all held; {said}; {cost}")
    if peak_memory_mb() > MOST_MB:
        raise Broken(f"{peak_memory_mb():.0f} MB")
    return codes


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("what", choices=sorted(CASES))
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    main(given.what, given.count, given.seed)
