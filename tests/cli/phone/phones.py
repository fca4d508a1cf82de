"""A phone without a browser: plain requests with a cookie, so that tests see every byte of an answer."""

from __future__ import annotations

import http.client
import json
import secrets
import time
from dataclasses import dataclass, field
from urllib.parse import urlencode, urlsplit

MOST_S = 300.0  # a photo takes 3 s; a machine that is busy with other tests can make it a hundred times that


@dataclass
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self):
        return self.body.decode("utf-8", "replace")

    @property
    def json(self):
        return json.loads(self.body)


@dataclass
class Phone:
    """One phone at a page; `scan` exchanges the address with its key for a cookie."""

    address: str
    cookies: dict[str, str] = field(default_factory=dict)

    @property
    def host(self):
        return urlsplit(self.address).netloc

    def scan(self):
        answer = self.get(urlsplit(self.address).path)
        assert answer.status == 200, answer.text
        return answer

    def get(self, path, **headers):
        return self.ask("GET", path, **headers)

    def post(self, path, fields=None, **headers):
        body = urlencode(fields or {}).encode()
        return self.ask(
            "POST", path, body, **{"content-type": "application/x-www-form-urlencoded", **headers}
        )

    def send(self, photo, name="card.jpg", fields=(), accept="application/json", field_name="photo"):
        """Upload a photo's bytes as the form does."""
        body, kind = multipart(photo, name, dict(fields), field_name)
        return self.ask("POST", "/cards", body, accept=accept, **{"content-type": kind})

    def read(self, photo, most_s=MOST_S, moves=True, **more):
        """Upload a photo and wait until it has been read, and moves have been looked for; the card's address."""
        answer = self.send(photo, **more)
        assert answer.status == 200, answer.text
        self.wait_for(answer.json["card"], most_s, moves=moves)
        return answer.json["card"]

    def wait_for(self, card, most_s=MOST_S, moves=True):
        ends = time.monotonic() + most_s
        while time.monotonic() < ends:
            state = self.get(f"{card}/state").json
            if state["state"] != "waiting" and not (moves and state["draft"]):
                return state["state"]
            time.sleep(0.2)
        raise AssertionError(f"{card} was not read within {most_s} s")

    def ask(self, method, path, body=None, **headers):
        own = {"origin": f"http://{self.host}"} if method == "POST" else {}
        if self.cookies:
            own["cookie"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        answer = ask(self.host, method, path, body, {**own, **headers})
        set_cookie = answer.headers.get("set-cookie")
        if set_cookie:
            name, _, value = set_cookie.split(";")[0].partition("=")
            self.cookies[name] = value.strip('"')
        return answer


def ask(host, method, path, body=None, headers=None):
    connection = http.client.HTTPConnection(host, timeout=60)
    try:
        connection.putrequest(method, path, skip_host="host" in (headers or {}))
        for name, value in (headers or {}).items():
            if value is not None:
                connection.putheader(name, value)
        if body is not None:
            connection.putheader("content-length", str(len(body)))
        connection.endheaders(body)
        answer = connection.getresponse()
        return Answer(
            answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read()
        )
    finally:
        connection.close()


def multipart(photo, name, fields, field_name="photo"):
    edge = secrets.token_hex(12)
    parts = [
        f'--{edge}\r\ncontent-disposition: form-data; name="{key}"\r\n\r\n{value}\r\n'.encode()
        for key, value in fields.items()
    ]
    parts.append(
        f'--{edge}\r\ncontent-disposition: form-data; name="{field_name}"; filename="{name}"\r\n'
        "content-type: image/jpeg\r\n\r\n".encode()
        + photo
        + b"\r\n"
    )
    return b"".join(parts) + f"--{edge}--\r\n".encode(), f"multipart/form-data; boundary={edge}"
