"""The drawer: every card of the phone page in a folder of its own, whole or not at all.

drawer/
  read-me.txt            what this folder is
  lock                   held by the program that serves it
  secret                 what the cookies are signed with, for this user's eyes only
  arriving/              photos on their way in; emptied at every start
  cards/0123456789abcdef/
    photo.jpg            as the phone sent it
    straight.jpg         the card from above
    refusal.png          what was seen of a card that could not be read
    card.json            all else; renamed into place last, so that a card is there with it or not at all

In:    a folder.
Out:   cards by their id; nothing is ever looked up by a name that came from outside.
Fails: `FileTroubleError` for the disk's troubles. A damaged card is left alone and not shown.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import shutil
import threading
import time
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import BinaryIO

from circuit.errors import PencilampError
from cli.alone import alone
from cli.file_trouble import FileTroubleError
from cli.files import json_bytes, write_files, write_whole
from cli.phone.card import CardLine, PhoneCard, card_from_dict, card_to_dict, is_id, line_of, moment, new_id

VARIABLE = "PENCILAMP_DRAWER"
KEPT_DAYS = 14  # the design's: a card that nobody kept is tidied away after so many days
MOST_CARDS = 1000  # chosen: thirty phones with thirty cards each, some 4 GB
# Chosen: what the computer itself needs, and what the cards in the drawer grow by.
LEAST_FREE_BYTES = 300_000_000
_LEAP_S = 86_400.0  # chosen: a clock that is set by more than a day was wrong before, or is now
STRAIGHT_NAME = "straight.jpg"
SMALL_NAME = "small.jpg"
REFUSAL_NAME = "refusal.png"
_CARD_NAME = "card.json"
_SECRET_BYTES = 32  # as many as the SHA-256 that signs with it
_OWNERS_FOLDER, _OWNERS_FILE = 0o700, 0o600  # nobody else on this computer looks in
_COPIED_AT_ONCE = 1 << 20  # chosen: bytes; a photo never lies in memory whole
_CUT_OFF_S = 3600.0  # chosen: no file takes an hour to write; one that old was cut off
_READ_ME = (
    "This folder is the drawer of Pencilamp's phone page: the cards that phones sent.\n"
    f"A card that was not kept goes away by itself {KEPT_DAYS} days after it was last changed.\n"
    "The whole folder may be deleted while no Pencilamp is running.\n"
)
_ENDINGS = frozenset((".jpg", ".jpeg", ".png", ".heic", ".heif", ".webp", ".tif", ".tiff", ".avif"))


def _set_ahead_s() -> float:
    """How far the clock is before the time that has passed; it changes only when somebody sets the clock. [s]"""
    asleep_too = getattr(
        time, "CLOCK_BOOTTIME", None
    )  # where the system has it; else a long sleep looks like a set clock
    return time.time() - (time.monotonic() if asleep_too is None else time.clock_gettime(asleep_too))


class DrawerFullError(FileTroubleError):
    """No more cards fit in."""


def drawer_folder(named: Path | None) -> Path:
    """The drawer's folder, which need not be there yet."""
    if named is not None:
        return named.expanduser().absolute()
    told = os.environ.get(VARIABLE, "").strip()
    if told:
        return Path(told).expanduser().absolute()
    from platformdirs import user_data_path

    return user_data_path("pencilamp", appauthor=False) / "phone"


@contextlib.contextmanager
def open_drawer(folder: Path) -> Iterator[Drawer]:
    """The drawer, held alone: two programs in one would clear away what the other is just taking in.

    Raises FileTroubleError when another one has it, or the disk won't.
    """

    def taken() -> FileTroubleError:
        return FileTroubleError(
            f"{folder}: the page runs already with this drawer. Use it where it runs, stop it there with Ctrl-C, or "
            "name another folder with --drawer."
        )

    with contextlib.ExitStack() as held:
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=_OWNERS_FOLDER)
            held.enter_context(alone(folder / "lock", 0.0, taken))
        except OSError as error:
            raise _unusable(folder, error) from error
        yield Drawer(folder)


def _unusable(folder: Path, error: OSError) -> FileTroubleError:
    return FileTroubleError(
        f"{folder}: the cards can't be put there ({error.strerror}); name another folder with --drawer."
    )


class Drawer:
    """An open drawer. Safe to use from several threads, by one process at a time: `open_drawer` sees to that."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.Lock()
        self._make_folders()
        self._set_ahead_s = _set_ahead_s()
        self.secret = self._kept_secret()
        self._lines: dict[str, CardLine] = {}
        for card_id in self._ids_on_disk():
            card = self._read(card_id)
            if card is not None:
                self._lines[card.id] = line_of(card)

    def _make_folders(self) -> None:
        try:
            shutil.rmtree(self.folder / "arriving", ignore_errors=True)
            for part in (self.folder, self.folder / "arriving", self.folder / "cards"):
                part.mkdir(parents=True, exist_ok=True, mode=_OWNERS_FOLDER)
        except OSError as error:
            raise _unusable(self.folder, error) from error
        if not (self.folder / "read-me.txt").exists():
            write_whole(self.folder / "read-me.txt", _READ_ME.encode())

    def _kept_secret(self) -> bytes:
        path = self.folder / "secret"
        with contextlib.suppress(OSError):
            kept = path.read_bytes()
            if len(kept) == _SECRET_BYTES:
                return kept
        fresh = secrets.token_bytes(_SECRET_BYTES)
        write_whole(path, fresh)
        with contextlib.suppress(OSError):
            path.chmod(_OWNERS_FILE)
        return fresh

    def forget_phones(self) -> None:
        """Let no phone in any more that was let in before."""
        (self.folder / "secret").unlink(missing_ok=True)
        self.secret = self._kept_secret()

    def _ids_on_disk(self) -> list[str]:
        return [path.name for path in (self.folder / "cards").iterdir() if is_id(path.name)]

    def place(self, card_id: str) -> Path:
        """A card's folder. ValueError for what is no id, so that no path can come from outside."""
        if not is_id(card_id):
            raise ValueError(f"{card_id!r} is no card's id")
        return self.folder / "cards" / card_id

    def lines(self) -> list[CardLine]:
        """All cards, the newest first."""
        with self._lock:
            return sorted(self._lines.values(), key=lambda line: (line.taken, line.id), reverse=True)

    def get(self, card_id: str) -> PhoneCard | None:
        """The card; None when there is none of that id."""
        with self._lock:
            return self._read(card_id) if card_id in self._lines else None

    def _read(self, card_id: str) -> PhoneCard | None:
        try:
            return card_from_dict(json.loads((self.place(card_id) / _CARD_NAME).read_bytes()))
        except (OSError, ValueError, RecursionError, PencilampError):
            return None

    def take_in(
        self, photo: BinaryIO, photo_name: str, owner: str, name: str, wishes: Mapping[str, object]
    ) -> PhoneCard:
        """A new card with its photo, waiting to be read. Raises DrawerFullError, or FileTroubleError for the disk."""
        if len(self._lines) >= MOST_CARDS:
            raise DrawerFullError(
                f"The drawer holds {MOST_CARDS} cards, as many as it can; take some out under 'Cards so far'."
            )
        if shutil.disk_usage(self.folder).free < LEAST_FREE_BYTES:
            raise DrawerFullError(
                "The computer's disk is nearly full. Make room on it, then send the photo again."
            )
        ending = Path(photo_name).suffix.lower()
        card = PhoneCard(
            id=new_id(),
            owner=owner,
            taken=moment(),
            changed=moment(),
            photo="photo" + (ending if ending in _ENDINGS else ".jpg"),
            photo_name=photo_name,
            name=name,
            wishes=wishes,
        )
        arriving = self.folder / "arriving" / card.id
        try:
            arriving.mkdir(mode=_OWNERS_FOLDER)
            with (arriving / card.photo).open("wb") as file:
                shutil.copyfileobj(photo, file, _COPIED_AT_ONCE)
                file.flush()
                os.fsync(file.fileno())
            (arriving / _CARD_NAME).write_bytes(json_bytes(card_to_dict(card)))
            with self._lock:
                arriving.rename(self.place(card.id))
                self._lines[card.id] = line_of(card)
        except OSError as error:
            shutil.rmtree(arriving, ignore_errors=True)
            raise FileTroubleError(
                f"The card can't be put into the drawer ({error.strerror}). Make room on the computer's disk, then "
                "send the photo again."
            ) from error
        return card

    def put(self, card: PhoneCard, files: Mapping[str, bytes] | None = None) -> PhoneCard:
        """Replace a card as it stands now, whole or not at all; it comes back with the moment of its change.

        Nothing happens to a card that was taken out in the meantime.
        """
        card = replace(card, changed=moment())
        with self._lock:
            if card.id not in self._lines:
                return card
            self._write(card, files or {})
        return card

    def _write(self, card: PhoneCard, files: Mapping[str, bytes]) -> None:
        folder = self.place(card.id)
        names = {**files, _CARD_NAME: json_bytes(card_to_dict(card))}
        write_files({folder / name: data for name, data in names.items()})
        self._lines[card.id] = line_of(card)

    def take_out(self, card_id: str) -> None:
        """Do away with a card."""
        with self._lock:
            if self._lines.pop(card_id, None) is None:
                return
            # Without its card.json it is no card any more, whatever becomes of the rest.
            with contextlib.suppress(OSError):
                (self.place(card_id) / _CARD_NAME).unlink()
            shutil.rmtree(self.place(card_id), ignore_errors=True)

    def tidy(self, now: datetime | None = None) -> int:
        """Take out what was not kept and not changed for `KEPT_DAYS`, and what a stopped program left; how many.

        When the clock was set in the meantime, ages mean nothing: all cards count as changed now.
        """
        if abs(_set_ahead_s() - self._set_ahead_s) > _LEAP_S:
            self._set_ahead_s = _set_ahead_s()
            self._count_as_changed_now()
            return 0
        oldest = (now or datetime.now(UTC)) - timedelta(days=KEPT_DAYS)
        old = [
            line.id
            for line in self.lines()
            if line.kept is None and datetime.fromisoformat(line.changed) < oldest
        ]
        for card_id in old:
            self.take_out(card_id)
        self._clear_leftovers(oldest)
        return len(old)

    def _count_as_changed_now(self) -> None:
        with self._lock:
            for card_id in list(self._lines):
                card = self._read(card_id)
                if card is not None and card.kept is None:
                    self._write(replace(card, changed=moment()), {})

    def _clear_leftovers(self, oldest: datetime) -> None:
        """Folders without a card, once they are old: a damaged card may still be looked at by a person."""
        for card_id in self._ids_on_disk():
            folder = self.place(card_id)
            with contextlib.suppress(OSError):
                if card_id not in self._lines and folder.stat().st_mtime < oldest.timestamp():
                    shutil.rmtree(folder, ignore_errors=True)
        for path in (self.folder / "cards").glob("*/.pencilamp-*"):
            with contextlib.suppress(OSError):
                if path.stat().st_mtime < time.time() - _CUT_OFF_S:
                    path.unlink()
