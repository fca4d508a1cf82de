"""One hostile request after the other: keys, hosts, paths, sizes, kinds, slow senders, nonsense.

`attack` gives a line for every answer that tells a stranger anything, or that is a mishap of the server's.
"""

from __future__ import annotations

import contextlib
import random
import secrets
import socket
import time

from cli.phone.gate import NOT_IN
from tests.cli.phone.phones import ask, multipart

_PATHS = (
    "/",
    "/cards",
    "/kept",
    "/class",
    "/settings",
    "/static/0123456789ab/page.css",
    "/../../etc/passwd",
    "/cards/%2e%2e/%2e%2e/secret",
    "/.git/config",
    "/in/",
    "/cards/" + "0" * 16,
    "/" + "a" * 5000,
    "/%00",
    "//evil.example/",
    "/in/../cards",
    "/?" + "q" * 3000,
)
_METHODS = ("GET", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND")
_SECRETS = ("Traceback", "Error", "/cli/", "python", "uvicorn", "starlette", "pencilamp/", "drawer")
_NOTHING = {NOT_IN, "Invalid HTTP request received.", "Nothing here.\n", ""}


def attack(page, phone, card, job):
    """One bad request, chosen by `job`'s number and luck."""
    luck, number = job
    dice = random.Random(f"{luck}-{number}")
    kinds = (
        _stranger,
        _wrong_key,
        _wrong_host,
        _forged_cookie,
        _wrong_site,
        _nonsense,
        _slow,
        _bad_upload,
        _bad_form,
        _inside,
    )
    kind = kinds[number % len(kinds)]
    try:
        return [f"{kind.__name__}: {line}" for line in kind(page, phone, card, dice)]
    except (ConnectionError, TimeoutError, OSError):
        return []  # hung up on: nothing was told


def _told(answer, allowed=(400, 403, 404, 405, 408, 413, 414, 421)):
    """A stranger's answer must be a refusal of always the same words."""
    if answer.status not in allowed:
        yield f"status {answer.status}"
    if answer.text not in _NOTHING:
        yield f"{answer.status} {answer.text[:80]!r}"
    if "set-cookie" in answer.headers or "server" in answer.headers or "location" in answer.headers:
        yield f"headers {answer.headers}"


def _stranger(page, phone, card, dice):
    path = dice.choice((*_PATHS, card, f"{card}/card.jpg", f"{card}/sheet.pdf"))
    return _told(ask(phone.host, dice.choice(_METHODS), path, b"", {"origin": page.site}))


def _wrong_key(page, phone, card, dice):
    real = page.address.rsplit("/", 1)[1]
    key = dice.choice(
        (secrets.token_urlsafe(16), real[:-1], real + "x", real.swapcase(), real + "%00", "'" + real)
    )
    return _told(ask(phone.host, "GET", f"/in/{key}"))


def _wrong_host(page, phone, card, dice):
    path = dice.choice((page.address.removeprefix(page.site), "/", card))
    host = dice.choice(
        ("evil.example", "127.0.0.1", "", "localhost:99999", phone.host + ".evil.example", "[::1]")
    )
    return _told(phone.ask(dice.choice(("GET", "POST")), path, b"", host=host))


def _forged_cookie(page, phone, card, dice):
    name, value = next(iter(phone.cookies.items()))
    parts = value.split(".")
    parts[dice.randrange(4)] = dice.choice(("teacher", "0" * 32, "9999999999", "0" * 64, "é", ""))
    forged = dice.choice((".".join(parts), value[:-2] + "00", value * 50, "a" * 8000))
    return _told(
        ask(phone.host, "GET", card, None, {"cookie": f"{name}={forged}".encode().decode("latin-1")})
    )


def _wrong_site(page, phone, card, dice):
    where = dice.choice((f"{card}/change", f"{card}/away", "/settings", "/cards"))
    bad = dice.choice(({"origin": "http://evil.example"}, {"origin": "null"}, {"origin": page.site + "0"}))
    return _told(phone.post(where, {"kind": "take-moves"}, **bad))


def _nonsense(page, phone, card, dice):
    """Bytes that are no HTTP."""
    line = dice.choice(
        (
            b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + secrets.token_bytes(200),
            b"GET / HTTP/9.9\r\n\r\n",
            b"GET " + b"/" * 70_000 + b" HTTP/1.1\r\n\r\n",
            b"GET / HTTP/1.1\r\n" + b"x: y\r\n" * 20_000,
            b"POST / HTTP/1.1\r\nhost: a\r\ncontent-length: -5\r\n\r\n",
            b"POST / HTTP/1.1\r\nhost: a\r\ncontent-length: 5\r\ntransfer-encoding: chunked\r\n\r\n0\r\n\r\nGET",
            secrets.token_bytes(500),
        )
    )
    got = _sent(phone, line)
    body = got.partition(b"\r\n\r\n")[2].decode("utf-8", "replace")
    if body and body not in _NOTHING and body.strip() not in {text.strip() for text in _NOTHING}:
        yield f"{body[:80]!r}"


def _slow(page, phone, card, dice):
    """A head that never ends: the line must be closed on it before half a minute is over."""
    if dice.random() < 0.7:
        return
    with socket.create_connection(phone.host.split(":"), timeout=30) as line:
        line.sendall(b"GET / HTTP/1.1\r\n")
        ends = time.monotonic() + 30
        try:
            while time.monotonic() < ends:
                line.sendall(b"x: y\r\n")
                time.sleep(1.0)
        except OSError:
            return
    yield "a slow sender was let go on for half a minute"


def _bad_upload(page, phone, card, dice):
    """From inside: what is no photo, or far too much of one."""
    body = dice.choice(
        (b"", b"\xff\xd8\xff" + secrets.token_bytes(300), secrets.token_bytes(2000), b"GIF89a" + b"\0" * 900)
    )
    data, kind = multipart(body, dice.choice(("a.jpg", "../../x", "a" * 3000, "\x7f.heic")), {})
    if dice.random() < 0.5:
        kind, data = (
            dice.choice(("text/html", "multipart/form-data; boundary=" + "b" * 300)),
            secrets.token_bytes(800),
        )
    return _mishap(phone.ask("POST", "/cards", data, accept="application/json", **{"content-type": kind}))


def _bad_form(page, phone, card, dice):
    fields = {
        "kind": dice.choice(("move", "add", "drop", "yes", "no", "take-moves", "", "\0", "x" * 900)),
        "about": dice.choice(("L1", "battery", "../L1", "L999999", "<b>", "")),
        "across": dice.choice(("1e999", "-5", "nan", "0x10", "5 parsecs", "9" * 300, "1/0")),
        "down": dice.choice(("12mm", "", "[]")),
        "question": dice.choice(("", "light-L1", "maybe-0-0")),
    }
    where = dice.choice(("change", "parts", "back", "keep", "again" if dice.random() < 0.1 else "back"))
    if where == "keep":
        fields = {"title": dice.choice(("", " ", "\0"))}
        where = "back"
    return _mishap(phone.post(f"{card}/{where}", fields))


def _inside(page, phone, card, dice):
    return _mishap(phone.get(dice.choice(_PATHS[6:])))


def _mishap(answer):
    """Somebody who may come in gets a sentence, never a glimpse of the inside."""
    if answer.status >= 500:
        yield f"status {answer.status}"
    for word in _SECRETS:
        if word in answer.text:
            yield f"{word!r} in {answer.text[:200]!r}"


def _sent(phone, data):
    with socket.create_connection(phone.host.split(":"), timeout=20) as line:
        with contextlib.suppress(OSError):
            line.sendall(data)
        got = b""
        with contextlib.suppress(OSError):
            while piece := line.recv(4096):
                got += piece
    return got
