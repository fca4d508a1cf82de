"""Who gets in: random keys in the scanned addresses, and the cookies that they are exchanged for.

In:    a key from an address, or a cookie's value.
Out:   a `Pass`: as whom a phone may come in; or None.
Fails: never; what is not right is None.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from dataclasses import dataclass
from typing import Literal

Role = Literal["maker", "pupil", "teacher"]
ROLES: tuple[Role, ...] = ("maker", "pupil", "teacher")
KEY_BYTES = 16  # 128 bits: nobody guesses it
COOKIE_DAYS = 14  # chosen: as long as a card stays in the drawer
_DAY_S = 86_400
_PHONE_DIGITS = 32
_LONGEST_COOKIE = 200  # chosen: ours have some 130 characters


@dataclass(frozen=True, slots=True)
class Pass:
    """One phone's way in. `phone` is a random name that the phone got at its first visit, 32 hexadecimal digits."""

    role: Role
    phone: str


def new_phone() -> str:
    """A phone's name that nobody guesses."""
    return secrets.token_hex(_PHONE_DIGITS // 2)


@dataclass(frozen=True, slots=True)
class Keys:
    """The keys of one evening or lesson. `secret` signs the cookies; it outlives a restart, the keys don't.

    by_role : the roles that this page knows, each with the key in its address.
    """

    secret: bytes
    by_role: dict[Role, str]

    @classmethod
    def fresh(cls, secret: bytes, roles: tuple[Role, ...]) -> Keys:
        return cls(secret, {role: secrets.token_urlsafe(KEY_BYTES) for role in roles})

    def role_of(self, key: str) -> Role | None:
        """Whose key that is. Takes as long for a wrong one as for a right one."""
        found: Role | None = None
        for role, own in self.by_role.items():
            if hmac.compare_digest(own.encode(), key.encode("utf-8", "replace")):
                found = role
        return found

    def cookie_of(self, holder: Pass, now_s: float | None = None) -> str:
        ends = int((time.time() if now_s is None else now_s) + COOKIE_DAYS * _DAY_S)
        said = f"{holder.role}.{holder.phone}.{ends}"
        return f"{said}.{self._signature(said)}"

    def pass_of(self, cookie: str | None, now_s: float | None = None) -> Pass | None:
        """What a cookie stands for; None for a forged, damaged or old one, or a role that this page has not."""
        if not cookie or len(cookie) > _LONGEST_COOKIE or not cookie.isascii():
            return None
        said, _, signature = cookie.rpartition(".")
        if not hmac.compare_digest(self._signature(said), signature):
            return None
        # signed by us, so its parts are as we wrote them
        role, phone, ends = said.split(".")
        if float(ends) < (time.time() if now_s is None else now_s):
            return None
        return next((Pass(known, phone) for known in self._admitted() if known == role), None)

    def _admitted(self) -> tuple[Role, ...]:
        # At home a pupil of this morning's lesson still sees their own cards, and the teacher all. In class a
        # phone that was let in at home may be a pupil's, and must scan again.
        return ROLES if "maker" in self.by_role else tuple(self.by_role)

    def _signature(self, said: str) -> str:
        return hmac.new(self.secret, said.encode(), hashlib.sha256).hexdigest()
