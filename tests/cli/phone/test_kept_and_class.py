"""Keeping, finding and comparing designs; a class with its pupils and its teacher."""

import io
import re
from urllib.parse import urlsplit

import pytest

from tests.cli.phone.phones import Phone
from tests.cli.phone.running import running


def test_a_card_is_kept_found_shown_and_compared(phone, lighthouse):
    card = phone.read(lighthouse, name="lighthouse.jpg")
    assert phone.post(f"{card}/keep", {"title": "Lighthouse for Ada"}).status == 303
    number = re.search(r"Kept as number (\d+)", phone.get(f"{card}/build?said").text).group(1)
    assert "Lighthouse for Ada" in phone.get("/kept?words=ada").text
    assert "Lighthouse for Ada" not in phone.get("/kept?words=harbour").text
    shown = phone.get(f"/kept/{number}").text
    assert "L3 and L5 are 5.8 mm apart" in shown and f"/?again={number}" in shown
    assert phone.get(f"/kept/{number}/overlay.png").body.startswith(b"\x89PNG")
    phone.post(f"{card}/change", {"kind": "take-moves"})
    compared = phone.get(f"/kept/{number}/compare?card={card.removeprefix('/cards/')}").text
    assert "L5" in compared and "Nothing differs" not in compared
    assert phone.get(f"/kept/{number}/compared.png?card={card[7:]}").body.startswith(b"\x89PNG")
    again = phone.read(lighthouse, fields={"again": number})
    assert f"/kept/{number}/compare?card=" in phone.get(again).text


@pytest.mark.parametrize(
    "path", ["/kept/999999", "/kept/1e3", "/kept/-1", "/kept/1/compare?with=x", "/kept/%00"]
)
def test_a_design_that_is_not_there_is_told_so(phone, path):
    answer = phone.get(path)
    assert answer.status in (400, 404) and "Traceback" not in answer.text
    assert "archive" not in answer.text  # neither where it lies nor commands for who sits at the computer


@pytest.fixture(scope="module")
def school(tmp_path_factory, lighthouse):
    """A page for a class; two pupils have each sent a card."""
    with running(tmp_path_factory.mktemp("school"), "--class") as page:
        pupils = [Phone(page.addresses[0]) for _ in range(2)]
        teacher = Phone(page.addresses[1])
        for phone in (*pupils, teacher):
            phone.scan()
        cards = [
            pupil.read(lighthouse, fields={"name": name})
            for pupil, name in zip(pupils, ("Ada", "Grace & Co."))
        ]
        yield pupils, teacher, cards, page


def test_a_pupil_sees_only_their_own_cards(school):
    pupils, _, cards, _ = school
    for me in (0, 1):
        own, other = cards[me], cards[1 - me]
        text = pupils[me].get("/").text
        assert own in text and other not in text
        for path in (other, f"{other}/mend", f"{other}/state", f"{other}/card.jpg", f"{other}/sheet.pdf"):
            assert pupils[me].get(path).status == 404
        assert pupils[me].post(f"{other}/change", {"kind": "take-moves"}).status == 404
        assert pupils[me].post(f"{other}/away").status == 404


def test_a_pupil_finds_neither_the_class_nor_the_kept_designs(school):
    pupils, _, cards, page = school
    for path in ("/class", "/class/sheets.pdf", "/kept", "/kept/1", "/kept/1/overlay.png"):
        assert pupils[0].get(path).status == 404
    assert pupils[0].post("/class/keep").status == 404
    assert pupils[0].post(f"{cards[0]}/keep", {"title": "x"}).status == 404
    home = pupils[0].get("/").text
    assert "/class" not in home and "/kept" not in home
    assert page.addresses[1].rsplit("/", 1)[1] not in home


def test_the_teacher_sees_all_prints_all_and_keeps_all_with_names(school):
    import pypdfium2

    _, teacher, cards, page = school
    text = teacher.get("/class").text
    assert all(card in text for card in cards) and "Ada" in text and "Grace &amp; Co." in text
    assert page.addresses[0] in text  # the pupils' code, to be shown to them
    pdf = teacher.get("/class/sheets.pdf").body
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    words = [document[k].get_textpage().get_text_range() for k in range(len(document))]
    assert len(words) == 2 and "Ada" in words[0] and "Grace & Co." in words[1]
    assert teacher.post("/class/keep").headers["location"] == "/class?kept=2"
    assert teacher.post("/class/keep").headers["location"] == "/class?kept=0"
    found = teacher.get("/kept").text
    assert "Ada" in found and "Grace &amp; Co." in found
    assert teacher.get(urlsplit(cards[0]).path).status == 200
