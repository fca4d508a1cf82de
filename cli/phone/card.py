"""One card in the drawer: its photo, how it was read, what was changed since, what the plan says now.

In:    the values of a `card.json`.
Out:   a frozen `PhoneCard`, and back.
Fails: `CardFileError` for a file that holds no card of ours.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from datetime import UTC, datetime
from typing import Any, Literal

from circuit.errors import PencilampError

CARD_SCHEMA = "pencilamp/phone-card/1"
State = Literal["waiting", "ready", "refused"]
_STATES: tuple[State, ...] = ("waiting", "ready", "refused")
_ID = re.compile(r"[0-9a-f]{16}")
_STATE_DIGITS = 12
MOST_UNDONE = 12  # chosen: so many changes can be taken back


class CardFileError(PencilampError):
    """A card.json that can't be understood."""


@dataclass(frozen=True, slots=True)
class PhoneCard:
    """A card as the drawer holds it. All values are plain JSON values.

    owner : the phone that sent it. name : what a person wrote beside it, "" for nothing.
    taken, changed : moments, ISO 8601 in UTC. kept : its number in the archive, None while it is not there.
    photo : the photo's file name in the card's folder; photo_name : what the phone called it.
    wishes : what the maker builds with, as `cli.phone.wishes` reads it.
    refusal : why the photo could not be read, with what to do; "" otherwise.
    read : the plan of the marks as they are on the paper. plan : the plan as it stands now, with all changes.
    before : the plans' layouts before each change, the newest last. extra : what the pages show besides.
    """

    id: str
    owner: str
    taken: str
    changed: str
    photo: str
    photo_name: str
    name: str = ""
    state: State = "waiting"
    kept: int | None = None
    wishes: Mapping[str, Any] = field(default_factory=dict)
    refusal: str = ""
    read: Mapping[str, Any] | None = None
    plan: Mapping[str, Any] | None = None
    before: tuple[Mapping[str, Any], ...] = ()
    extra: Mapping[str, Any] = field(default_factory=dict)

    @property
    def state_now(self) -> str:
        """What tells whether marks or parts have changed since somebody saw them; moves that are found don't count."""
        marks = {key: (self.plan or {}).get(key) for key in ("lights", "battery")}
        said = json.dumps([marks, dict(self.wishes), len(self.before)], sort_keys=True)
        return hashlib.sha256(said.encode()).hexdigest()[:_STATE_DIGITS]


@dataclass(frozen=True, slots=True)
class CardLine:
    """What a list shows of a card."""

    id: str
    owner: str
    taken: str
    changed: str
    name: str
    photo_name: str
    state: State
    kept: int | None
    verdict: str
    must_fix: int
    look_again: int
    doubts: int
    draft: bool


def new_id() -> str:
    """A card's name that nobody guesses."""
    return secrets.token_hex(8)


def is_id(text: str) -> bool:
    """Whether a text has the form of such a name; what has not leads nowhere."""
    return _ID.fullmatch(text) is not None


def moment() -> str:
    """Now, as it is written in a card: UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def line_of(card: PhoneCard) -> CardLine:
    """What the list of cards shows of one."""
    problems = (card.plan or {}).get("problems", [])
    fixes = sum(problem.get("level") == "must-fix" for problem in problems)
    return CardLine(
        id=card.id,
        owner=card.owner,
        taken=card.taken,
        changed=card.changed,
        name=card.name,
        photo_name=card.photo_name,
        state=card.state,
        kept=card.kept,
        verdict=str(card.extra.get("verdict", "")),
        must_fix=fixes,
        look_again=len(problems) - fixes,
        doubts=len(card.extra.get("questions", [])),
        draft=bool(card.extra.get("draft")),
    )


def card_to_dict(card: PhoneCard) -> dict[str, Any]:
    """As it goes into the drawer's JSON; `card_from_dict` reads it."""
    return {"schema": CARD_SCHEMA, **asdict(card)}


def card_from_dict(value: object) -> PhoneCard:
    """The card that a file holds. Raises CardFileError."""
    if not isinstance(value, Mapping) or value.get("schema") != CARD_SCHEMA:
        raise CardFileError("This is not a card of the phone page.")
    known = {item.name for item in fields(PhoneCard)}
    said = {key: item for key, item in value.items() if key in known}
    said["before"] = tuple(said.get("before", ()))
    try:
        card = PhoneCard(**said)
    except TypeError as error:
        raise CardFileError(f"This card's file lacks something: {error}.") from error
    if not is_id(str(card.id)) or card.state not in _STATES:
        raise CardFileError("This card's file is damaged.")
    return card
