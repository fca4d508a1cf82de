"""Nobody else gets in, and what they are told is nothing."""

import re
import socket
from urllib.parse import urlsplit

import pytest

from cli.phone.gate import LARGEST_FORM_BYTES, NOT_IN
from cli.phone.keys import Keys, Pass, new_phone
from tests.cli.phone.phones import Phone, ask, multipart


def keys(*roles):
    return Keys.fresh(b"s" * 32, roles or ("maker",))


def test_a_key_has_128_bits_and_is_another_each_time():
    first, second = keys().by_role["maker"], keys().by_role["maker"]
    assert first != second
    assert len(first) == 22  # 16 bytes in base64 without its padding (RFC 4648)


def test_a_cookie_comes_back_as_who_it_was_given_to():
    holder = Pass("maker", new_phone())
    assert keys().pass_of(keys().cookie_of(holder)) == holder


def test_a_cookie_that_was_changed_or_is_old_or_of_another_drawer_is_none():
    own = keys()
    cookie = own.cookie_of(Pass("maker", new_phone()))
    role, phone, ends, signature = cookie.split(".")
    for wrong in (
        f"teacher.{phone}.{ends}.{signature}",
        f"{role}.{new_phone()}.{ends}.{signature}",
        f"{role}.{phone}.{int(ends) + 1}.{signature}",
        cookie[:-1],
        cookie + "0",
        "",
        ".",
        "....",
        "é" * 50,
        "x" * 5000,
    ):
        assert own.pass_of(wrong) is None
    assert own.pass_of(cookie, now_s=float(ends) + 1) is None
    assert Keys.fresh(b"t" * 32, ("maker",)).pass_of(cookie) is None


def test_in_class_a_phone_that_was_let_in_at_home_must_scan_again():
    home, school = keys("maker"), keys("pupil", "teacher")
    assert school.pass_of(home.cookie_of(Pass("maker", new_phone()))) is None
    assert home.pass_of(school.cookie_of(Pass("pupil", new_phone()))).role == "pupil"


def test_the_key_is_exchanged_for_a_strict_cookie_and_the_first_view(page):
    answer = Phone(page.address).scan()
    said = answer.headers["set-cookie"]
    assert "HttpOnly" in said and "SameSite=Strict" in said and "Path=/" in said
    assert page.address.rsplit("/", 1)[1] not in said
    assert "Photo of the card" in answer.text


def test_every_page_forbids_what_is_from_elsewhere(phone, card):
    for path in ("/", card, f"{card}/mend", "/settings"):
        answer = phone.get(path)
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert not re.findall(r'(?:src|href|action)="(?:https?:)?//', answer.text)
        assert (
            re.findall(r"nonce-([\w-]+)", policy)[0] not in phone.get(path).headers["content-security-policy"]
        )


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/cards",
        "/cards/0123456789abcdef",
        "/static/page.css",
        "/settings",
        "/in/",
        "/in/wrong",
        "/kept",
        "/x",
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST", "PUT", "OPTIONS", "TRACE"])
def test_without_a_cookie_every_answer_is_the_same_refusal(page, method, path):
    host = page.site.removeprefix("http://")
    answer = ask(host, method, path, b"" if method == "POST" else None, {"origin": page.site})
    assert answer.status in (403, 405)
    assert answer.text == NOT_IN
    assert "set-cookie" not in answer.headers and "server" not in answer.headers


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:80", "127.0.0.1", "", "localhost:1", "[::1]:80"]
)
def test_another_host_name_is_refused_even_with_key_and_cookie(page, phone, host):
    path = page.address.removeprefix(page.site)
    for where in (path, "/"):
        answer = phone.ask("GET", where, host=host)
        assert (answer.status, answer.text) == (421, NOT_IN)


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1"},
        {"origin": None, "sec-fetch-site": "cross-site"},
        {"origin": None, "sec-fetch-site": "same-site"},
    ],
)
def test_a_form_from_another_site_is_refused(phone, headers):
    answer = phone.post("/settings", {"units": "in"}, **headers)
    assert (answer.status, answer.text) == (403, NOT_IN)


def test_what_is_too_large_is_told_so_and_goes_nowhere(phone):
    answer = phone.post("/settings", {"units": "x" * (LARGEST_FORM_BYTES + 1)})
    assert answer.status == 413 and "MB" in answer.text


def test_more_than_was_announced_is_cut_off(page, phone):
    """A body in pieces without a length, longer than a form may be."""
    cookie = "; ".join(f"{name}={value}" for name, value in phone.cookies.items())
    head = (
        f"POST /settings HTTP/1.1\r\nhost: {phone.host}\r\norigin: {page.site}\r\ncookie: {cookie}\r\n"
        "content-type: application/x-www-form-urlencoded\r\ntransfer-encoding: chunked\r\n\r\n"
    )
    piece = b"10000\r\n" + b"a" * 0x10000 + b"\r\n"
    with socket.create_connection(phone.host.split(":"), timeout=20) as line:
        line.sendall(head.encode())
        try:
            for _ in range(4):
                line.sendall(piece)
            got = line.recv(1000)
        except (BrokenPipeError, ConnectionResetError):
            got = b""
    assert got == b"" or got.startswith((b"HTTP/1.1 413", b"HTTP/1.1 400"))


def test_a_name_never_becomes_a_path(phone, lighthouse, page):
    answer = phone.send(lighthouse, name="../../../../tmp/evil.sh")
    card = answer.json["card"]
    phone.wait_for(card)
    assert "evil.sh" in phone.get("/").text
    for path in (
        f"{card}/../../secret",
        "/cards/..%2f..%2fsecret",
        "/static/../gate.py",
        "/static/%2e%2e/gate.py",
        "/static/",
        f"{card}/card.json",
        f"{card}/photo.jpg",
        f"{card}/..%2fcard.json.pdf",
        "/cards/../drawer",
    ):
        assert phone.get(path).status == 404


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"x" * 1000,
        multipart(b"", "a.jpg", {})[0],
        multipart(b"x", "a.jpg", {f"f{i}": "1" for i in range(99)})[0],
    ],
)
def test_an_upload_that_is_none_is_refused_in_a_sentence(phone, body):
    for kind in ("multipart/form-data; boundary=x", "multipart/form-data", "text/plain"):
        answer = phone.ask("POST", "/cards", body, accept="application/json", **{"content-type": kind})
        assert answer.status == 400
        assert "Traceback" not in answer.text


def test_a_browser_gets_the_sentence_as_a_page_of_its_width(page):
    """A phone shows bare text as if it were a newspaper's page wide: too small to be read."""
    answer = ask(
        urlsplit(page.address).netloc, "GET", "/in/no-key", headers={"accept": "text/html,*/*;q=0.8"}
    )
    assert answer.status == 403 and answer.headers["content-type"].startswith("text/html")
    assert "width=device-width" in answer.text and answer.text.count(NOT_IN.strip()) == 2  # title and heading
    # Its few lines of style are allowed by the policy that comes with it, and by no other.
    nonce = re.search(r'<style nonce="([^"]{16,})">', answer.text)[1]
    assert f"'nonce-{nonce}'" in answer.headers["content-security-policy"]
