"""Made-up designs for the archive's tests: real plans of drawn cards, tiny pictures, photos with EXIF."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

from PIL import Image

from circuit.layout import Card, Problem, Reading
from circuit.plan import Plan, Source
from circuit.plan_json import plan_to_dict
from cli.archive.archive_folder import LIST_NAME
from cli.archive.health import Health, look_over
from cli.archive.kept_design import Design, NewDesign, NewFile, facts_of
from cli.archive.store import Archive
from cli.plan_record import with_record
from tests.cli.cards import QUARTER, plan_along

FROZEN = Path(__file__).parent / "frozen"
PLACE, DEVICE = "52 deg 22 min north", "Campfire Phone 7"


def tiny_png(shade: int = 200) -> bytes:
    buffer = io.BytesIO()
    Image.new("L", (8, 10), shade).save(buffer, "PNG")
    return buffer.getvalue()


def tiny_jpeg(shade: int = 120) -> bytes:
    """A photo that tells where and with what it was taken."""
    exif = Image.Exif()
    exif[0x010F], exif[0x010E] = DEVICE, PLACE
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (52.0, 22.0, 12.5)
    buffer = io.BytesIO()
    Image.new("RGB", (16, 12), (shade, shade, 90)).save(buffer, "JPEG", exif=exif)
    return buffer.getvalue()


def made_up_plan(
    lights: int = 3,
    cell: str = "CR2032",
    card: Card = QUARTER,
    must_fix: int = 0,
    look_again: int = 0,
    photo: str = "harbour.jpg",
) -> Plan:
    midline = [(card.width_mm - 25, card.height_mm - 30), (card.width_mm - 25, 40.0), (15.0, 40.0)]
    room = card.height_mm - 70
    plan = plan_along(midline, [30 + room * i / max(lights, 1) for i in range(lights)], card, photo=photo)
    levels = ["must-fix"] * must_fix + ["look-again"] * look_again
    problems = tuple(
        Problem("lights-too-close", level, ("L1", "L2"), (30.0, 40.0), 6.1, 0.3, 7.0, "Move L2 1 mm right.")
        for level in levels
    )
    settings = {"light": "5050", "colour": "white", "cell": cell, "units": "mm"}
    return replace(
        plan,
        problems=problems,
        settings=settings,
        reading=Reading(photo, "coded", 40.0, 0.2, True),
        source=Source(photo),
    )


def plan_bytes(plan: Plan) -> bytes:
    return json.dumps(plan_to_dict(plan)).encode()


def made_up(
    title: str = "Harbour",
    *,
    shade: int = 120,
    tags: tuple[str, ...] = (),
    note: str = "",
    days_ago: float = 0,
    plan: Plan | None = None,
) -> NewDesign:
    """A design with a photo of its own (by `shade`), whose overlay all share."""
    plan = plan or made_up_plan()
    contents = [
        ("plan.json", "plan", plan_bytes(plan)),
        ("overlay.png", "overlay", tiny_png()),
        ("sheet.pdf", "other", b"%PDF-1.4 made up"),
        ("harbour.jpg", "photo", tiny_jpeg(shade)),
    ]
    kept = datetime(2026, 11, 25, 12, tzinfo=UTC) - timedelta(days=days_ago)
    files = tuple(NewFile(name, role, partial(io.BytesIO, data)) for name, role, data in contents)
    return NewDesign(title, facts_of(plan), files, tags, note, kept)


def plan_folder(folder: Path, plan: Plan | None = None, shade: int = 120) -> Path:
    """A folder as `pencilamp plan` leaves it, its photo beside it."""
    plan = plan or made_up_plan()
    made = folder / "harbour-plan"
    made.mkdir(parents=True, exist_ok=True)
    photo = tiny_jpeg(shade)
    plan = replace(plan, source=Source("harbour.jpg", hashlib.sha256(photo).hexdigest()))
    (made / "plan.json").write_bytes(with_record(plan_to_dict(plan), {"overlay.png": tiny_png()}))
    (made / "overlay.png").write_bytes(tiny_png())
    (folder / "harbour.jpg").write_bytes(photo)
    return made


def designs_in(folder: Path, **how: bool) -> list[Design]:
    """All that an archive holds, the bin too, by number."""
    with Archive(folder, **{"writing": False, **how}) as archive:
        return sorted(archive.every_design(), key=lambda design: design.number)


def looked_over(folder: Path) -> Health:
    with Archive(folder, writing=False) as archive:
        return look_over(archive)


def files_of(folder: Path) -> dict[Path, bytes]:
    """Every file's content, but for the list, which is a cache."""
    lying = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path: path.read_bytes() for path in lying if not path.name.startswith("archive.")}


def old_archive(folder: Path, form: int) -> Path:
    """An archive of an earlier form as it was written down; forms 2 and 3 added words to search in, doubts and tape."""
    shutil.copytree(FROZEN / "version-1-files", folder / "files")
    with closing(sqlite3.connect(folder / LIST_NAME, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.executescript((FROZEN / "version-1.sql").read_text(encoding="utf-8"))
        if form >= 2:
            connection.execute("CREATE VIRTUAL TABLE words USING fts5 (title, tags, note)")
        if form >= 3:
            connection.execute("ALTER TABLE designs ADD COLUMN doubts INTEGER")
            connection.execute("ALTER TABLE designs ADD COLUMN tape_mm REAL")
            connection.execute("UPDATE designs SET doubts = 1, tape_mm = 100.0")
        connection.execute(f"PRAGMA user_version = {form}")
    return folder
