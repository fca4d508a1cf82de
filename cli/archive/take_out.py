"""Take designs out: a plain zip with a folder for each, or one design's files laid into a folder.

In:    an open archive and its designs.
Out:   the zip or folder, whole or not at all, and ready sentences about what was left out.
Fails: `FileTroubleError`.

Photos go without what the camera wrote about place, time and itself, unless they are asked for whole; a
photo for which that can't be done stays behind.
"""

from __future__ import annotations

import contextlib
import os
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath

from cli.archive.archive_folder import require_outside
from cli.archive.design_json import DESIGN_NAME, label_to_dict
from cli.archive.kept_design import Design, folded, folder_name
from cli.archive.store import Archive
from cli.archive.trouble import told
from cli.file_sets import sha256_of
from cli.file_trouble import FileTroubleError
from cli.files import beside, flush_folder, json_bytes, require_writable, tidy_leftovers, write_files

_OLDEST_IN_A_ZIP = (1980, 1, 1, 0, 0, 0)  # the format knows no earlier time
_SQUEEZED = (".json", ".pdf")  # pictures are squeezed already
_ENDINGS = {".jpg": (".jpg", ".jpeg", ".jpe"), ".png": (".png",)}


@dataclass(slots=True)
class TakenOut:
    """How many designs and photos went out, photos without the camera's words; what was left behind and
    why. `damaged` when something was left behind that should not have been."""

    designs: int = 0
    photos: int = 0
    left_behind: list[str] = field(default_factory=list)
    damaged: bool = False


def take_out(
    archive: Archive, designs: Iterable[Design], target: Path, *, whole_photos: bool, replace_it: bool
) -> TakenOut:
    """Write the zip. One file at a time is in memory."""
    require_outside(archive.folder, target)
    require_writable(target, replace_it)
    part, taken, names = beside(target, "part"), TakenOut(), set[str]()
    with told(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            with part.open("xb") as file:
                with zipfile.ZipFile(file, "w") as out:
                    for design in designs:
                        folder = folder_name(design, names)
                        for name, data in _outgoing(archive, design, taken, whole_photos):
                            _write(out, design, f"{folder}/{name}", data)
                file.flush()
                os.fsync(file.fileno())
            if not taken.designs:
                raise FileTroubleError(" ".join(["Nothing was taken out.", *taken.left_behind]))
            part.replace(target)
        except BaseException:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            raise
        flush_folder(target.parent)
        tidy_leftovers(target.parent)
    return taken


def lay_out(
    archive: Archive, design: Design, folder: Path, *, whole_photos: bool, replace_it: bool
) -> TakenOut:
    """Write one design's files into a folder, where they can be looked at and printed."""
    require_outside(archive.folder, folder)
    taken = TakenOut()
    files = {folder / name: data for name, data in _outgoing(archive, design, taken, whole_photos)}
    if not files:
        raise FileTroubleError(" ".join(taken.left_behind))
    write_files(files, replace=replace_it)
    return taken


def _outgoing(
    archive: Archive, design: Design, taken: TakenOut, whole_photos: bool
) -> Iterator[tuple[str, bytes]]:
    """A design's files as they go out, one at a time, its label last; what stays behind is said in `taken`."""
    whose, plan = f"{design.title} (number {design.number})", design.file("plan")
    if plan is None or archive.shelf.state(plan.sha256, plan.size) != "sound":
        taken.left_behind.append(f"{whose} is left behind, since its plan is missing or damaged.")
        taken.damaged = True
        return
    names, kept = {folded(file.name) for file in design.files}, []
    for file in design.files:
        try:
            data = archive.read_file(design, file)
        except FileTroubleError:
            taken.left_behind.append(
                f"The {file.name} of {whose} is left behind, since it is missing or damaged."
            )
            taken.damaged = True
            continue
        name = file.name
        if file.role == "photo":
            if not whole_photos:
                from cli.archive.privacy import CantStripError, strip_photo

                try:
                    stripped = strip_photo(data)
                except CantStripError as error:
                    taken.left_behind.append(
                        f"The {file.name} of {whose} is left behind: what the camera wrote in it can't be left out, "
                        f"because {error}; say --whole-photos to take it out as it is."
                    )
                    continue
                data, name = stripped.data, _named(file.name, stripped.ending, names)
            taken.photos += 1
        kept.append(replace(file, name=name, sha256=sha256_of(data), size=len(data)))
        yield name, data
    yield DESIGN_NAME, json_bytes(label_to_dict(replace(design, files=tuple(kept))))
    taken.designs += 1


def _named(name: str, ending: str, taken: set[str]) -> str:
    """The name of a photo that is of another kind now, unlike all others of its design."""
    path = PurePosixPath(name)
    if path.suffix.lower() in _ENDINGS[ending]:
        return name
    new, number = f"{path.stem}{ending}", 2
    while folded(new) in taken:
        new, number = f"{path.stem}-{number}{ending}", number + 1
    taken.add(folded(new))
    return new


_ORDINARY_FILE = 0o100644  # POSIX's mode word


def _write(out: zipfile.ZipFile, design: Design, name: str, data: bytes) -> None:
    entry = zipfile.ZipInfo(name, max(design.kept.timetuple()[:6], _OLDEST_IN_A_ZIP))
    entry.external_attr = _ORDINARY_FILE << 16  # an ordinary file that its owner may change
    entry.compress_type = zipfile.ZIP_DEFLATED if name.endswith(_SQUEEZED) else zipfile.ZIP_STORED
    out.writestr(entry, data)
