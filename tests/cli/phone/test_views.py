"""What each view answers, without a browser."""

import io
import json
import re
from urllib.parse import quote

import pytest
from PIL import Image

from cli.phone.wishes import wishes_of_cookie
from tests.cli.phone.running import ROOT


def fresh(phone, photo, name="lighthouse.jpg"):
    return phone.read(photo, name=name)


def heading(page):
    return re.search(r"<h1>(.*?)</h1>", page.text).group(1)


def test_the_look_says_the_verdict_first_and_every_problem_in_words(phone, card):
    page = phone.get(card)
    assert heading(page) == "1 thing to fix first"
    assert "L3 and L5 are 5.8 mm apart" in page.text
    assert "Take over the moves" in page.text
    for k in range(1, 10):
        assert f'aria-label="L{k}"' in page.text
    assert 'aria-label="Battery"' in page.text


def test_the_moves_are_taken_over_with_one_press_and_taken_back(phone, lighthouse):
    card = fresh(phone, lighthouse)
    moved = re.findall(r"<li>Move (L\d+) ", phone.get(card).text)
    answer = phone.post(f"{card}/change", {"kind": "take-moves", "view": "mend"})
    assert (answer.status, answer.headers["location"]) == (303, f"{card}/mend?said")
    assert moved and f"{' and '.join(moved)} moved." in phone.get(f"{card}/mend?said").text
    assert "to fix" not in heading(phone.get(card))
    paper = phone.get(f"{card}/paper").text
    for label in moved:
        assert f"Rub out {label}, " in paper and f"Pencil {label} again, " in paper
    assert phone.post(f"{card}/back", {"view": "mend"}).status == 303
    assert heading(phone.get(card)) == "1 thing to fix first"


def test_a_mark_goes_where_it_is_dragged_and_the_photo_is_not_read_again(phone, lighthouse):
    card = fresh(phone, lighthouse)
    before = phone.get(f"{card}/card.jpg").body
    phone.post(f"{card}/change", {"kind": "move", "about": "L1", "across": "30.5mm", "down": "1 in"})
    page = phone.get(f"{card}/mend").text
    assert re.search(r'data-about="L1" data-x="30.5" data-y="25.4"', page)
    assert phone.get(f"{card}/card.jpg").body == before


def test_what_is_wrong_is_told_at_once_and_the_moves_that_mend_it_soon_after(phone, lighthouse):
    card = fresh(phone, lighthouse)
    phone.post(f"{card}/change", {"kind": "take-moves"})
    phone.post(f"{card}/change", {"kind": "move", "about": "L9", "across": "32mm", "down": "114mm"})
    assert "to fix first" in heading(phone.get(card))
    phone.wait_for(card)
    page = phone.get(card).text
    assert "Take over the moves" in page and "Looking for what would mend it" not in page


def test_a_photo_shows_its_plan_first_and_the_moves_that_mend_it_soon_after(phone, lighthouse):
    card = phone.read(lighthouse, moves=False)
    first = phone.get(card).text
    assert heading(phone.get(card)) == "1 thing to fix first"
    assert ("Looking for what would mend it" in first) != ("Take over the moves" in first)
    phone.wait_for(card)
    assert "Take over the moves" in phone.get(card).text


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"kind": "move", "about": "L99", "across": "1mm", "down": "1mm"}, "There is no light L99"),
        ({"kind": "move", "about": "L1"}, "That is no place"),
        ({"kind": "move", "about": "L1", "across": "nan", "down": "1"}, "is not a length"),
        ({"kind": "move", "about": "L1", "across": "9" * 400, "down": "1"}, "too long to be a length"),
        ({"kind": "add"}, "That is no place"),
        ({"kind": "drop", "about": "battery"}, "There is no light battery"),
        ({"kind": "yes", "question": "x"}, "answered already"),
        ({"kind": "explode"}, "not one that can be made"),
        ({}, "not one that can be made"),
    ],
)
def test_a_change_that_makes_no_sense_is_refused_and_changes_nothing(phone, card, change, words):
    before = phone.get(card).text
    answer = phone.post(f"{card}/change", change)
    assert answer.status == 400 and words in answer.text
    assert without_nonce(phone.get(card).text) == without_nonce(before)


def without_nonce(text):
    return re.sub(r'nonce="[^"]+"', "", text)


def test_lights_are_added_and_dropped(phone, lighthouse):
    card = fresh(phone, lighthouse)
    phone.post(f"{card}/change", {"kind": "add", "across": "80mm", "down": "75mm"})
    phone.post(f"{card}/change", {"kind": "drop", "about": "L3"})
    page = phone.get(f"{card}/paper").text
    assert "Rub out L3" in page and "Pencil L10, a filled dot, 2" in page


def test_other_parts_are_planned_without_a_new_photo(phone, lighthouse):
    card = fresh(phone, lighthouse)
    phone.post(f"{card}/parts", {"cell": "CR2016", "light": "3528", "view": "mend"})
    assert "CR2016" in phone.get(card).text
    answer = phone.post(f"{card}/parts", {"cell": "CR9999"})
    assert answer.status == 400 and "no cell called" in answer.text


def test_a_card_that_lies_on_its_side_is_turned_and_stays_so(phone, lighthouse):
    card = fresh(phone, lighthouse)
    upright = mark(phone.get(card), "L1")
    assert phone.post(f"{card}/turn", {"way": "right"}).headers["location"] == f"{card}/waiting"
    phone.wait_for(card)
    # a quarter to the right: what was x from the left is x from the top, y from the top is y from the right; the
    # labels go along the lane, from its other end perhaps
    turned = (139.7 - upright[1], upright[0])
    marks = [mark(phone.get(card), f"L{k}") for k in range(1, 10)]
    assert any(place == pytest.approx(turned, abs=0.5) for place in marks)
    phone.post(f"{card}/parts", {"cell": "CR2025", "turn": "180"})
    # a plan's places are rounded to a hundredth each time it is written
    assert mark(phone.get(card), "L1") == pytest.approx(marks[0], abs=0.02)
    phone.post(f"{card}/turn", {"way": "left"})
    phone.wait_for(card)
    assert mark(phone.get(card), "L1") == pytest.approx(upright, abs=0.5)
    assert phone.post(f"{card}/turn", {"way": "over"}).status == 400


def mark(page, name):
    found = re.search(rf'data-x="([\d.]+)" data-y="([\d.]+)" aria-label="{name}"', page.text)
    return float(found.group(1)), float(found.group(2))


def test_no_phone_remembers_how_one_card_was_turned(phone):
    phone.post("/settings", {"units": "in", "turn": "90"})
    assert "turn" not in phone.cookies["pencilamp-builds-with"]
    phone.cookies["pencilamp-builds-with"] = "turn=90"
    assert wishes_of_cookie(phone.cookies["pencilamp-builds-with"]).turn == ""


def test_the_pages_to_print_are_pdfs(phone, card):
    for page in ("sheet", "build"):
        answer = phone.get(f"{card}/{page}.pdf")
        assert answer.headers["content-type"] == "application/pdf" and answer.body.startswith(b"%PDF-")
    assert phone.get(f"{card}/other.pdf").status == 404


def test_a_light_that_stays_dark_is_told_with_what_to_try_and_the_answer_tells_on(phone, card):
    asked = phone.get(f"{card}/dark").text
    assert asked.count('name="dark"') == 9 and "Try this first" not in asked
    first = phone.get(f"{card}/dark?dark=L2&dark=L77&dim=L2").text
    assert "Never solder to a coin cell" in first and "away from your fingers" in first
    assert "Try this first" in first and "What it could be" in first and "L77" not in first
    answers = re.findall(rf'href="({card}/dark[?]dark=L2&amp;tried=[^"]+)"', first)
    assert len(answers) >= 2
    assert "What it could be" in phone.get(answers[0].replace("&amp;", "&")).text
    assert phone.get(f"{card}/dark?dark=L2&tried=nonsense").status == 400


def test_a_circle_of_another_cell_is_mended_by_one_tap(phone):
    card = phone.read((ROOT / "sample_images" / "fireflies.jpg").read_bytes())
    text = phone.get(card).text
    assert "too small for a CR2032" in text
    cells = re.findall(r'name="cell" value="([^"]+)">Plan with a', text)
    assert cells
    assert phone.post(f"{card}/parts", {"cell": cells[0], "view": "look"}).status == 303
    text = phone.get(card).text
    assert f"· {cells[0]} ·" in text and "too small for a" not in text and "Plan with a " not in text


def test_many_dark_lights_and_words_of_any_script_fit_into_an_address(phone, card):
    many = "&".join(f"dark=L{k}" for k in range(1, 61))
    assert "What it could be" in phone.get(f"{card}/dark?{many}").text
    assert phone.get("/kept?words=" + quote("灯台" * 100)).status == 200


def test_pictures_that_no_camera_writes_are_refused_unread(phone):
    page = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 100 100\n%%EndComments\nshowpage\n"
    said = phone.get(fresh(phone, page, "card.jpg")).text
    assert "no photo as a phone takes it" in said


def test_a_photo_without_a_square_is_refused_in_the_command_lines_words(phone):
    card = fresh(phone, (ROOT / "sample_images" / "no-square.jpg").read_bytes(), "no-square.jpg")
    page = phone.get(card)
    assert heading(page) == "I can't read this photo"
    assert "square" in page.text and "drawer" not in re.search('class="say">(.*?)</p>', page.text).group(1)
    assert phone.get(f"{card}/seen.png").body.startswith(b"\x89PNG")


def test_what_is_no_photo_is_told_so_without_a_path(phone):
    card = fresh(phone, b"hello" * 500, "holiday.jpg")
    said = re.search('class="say">(.*?)</p>', phone.get(card).text).group(1)
    assert "not a picture" in said and "/" not in said
    assert said[0].isupper()  # a sentence by itself, without the file's name before it


def test_a_photo_that_came_empty_is_told_from_none_at_all(phone):
    assert "came empty" in phone.send(b"").json["sorry"]
    assert "No photo came along" in phone.send(b"", name="").json["sorry"]


def test_too_many_pixels_are_refused_before_they_are_decoded(phone):
    from cli.phone.planning import MOST_PIXELS

    side = int(MOST_PIXELS**0.5) + 10
    data = io.BytesIO()
    Image.new("1", (side, side)).save(data, "PNG")
    card = fresh(phone, data.getvalue(), "huge.png")
    assert "megapixels" in phone.get(card).text


def test_settings_are_remembered_by_each_phone(page, phone):
    from tests.cli.phone.phones import Phone

    assert phone.post("/settings", {"units": "in", "cell": "CR2025"}).status == 303
    assert 'value="in" checked' in phone.get("/settings").text
    other = Phone(page.address)
    other.scan()
    assert 'value="mm" checked' in other.get("/settings").text
    wrong = phone.post("/settings", {"tape": "a lot"})
    assert wrong.status == 400 and "not a length" in wrong.text


@pytest.mark.parametrize("cookie", ["units=xx", "%ff%fe", "tape=-1", "a=b&" * 200, "cell=<script>", "=;=;"])
def test_a_settings_cookie_that_was_tampered_with_counts_for_nothing(phone, cookie):
    phone.cookies["pencilamp-builds-with"] = cookie
    page = phone.get("/settings")
    assert page.status == 200 and "<script>" not in page.text.replace('<script src="/static', "")


def test_names_from_outside_are_shown_as_text(phone, lighthouse):
    fresh(phone, lighthouse, "<img src=x onerror=alert(1)>.jpg")
    assert "<img src=x" not in phone.get("/").text


def test_a_card_that_is_taken_out_is_gone(phone):
    card = fresh(phone, b"no photo at all", "gone.jpg")
    assert phone.post(f"{card}/away").status == 303
    assert phone.get(card).status == 404 and phone.get(f"{card}/state").status == 404


def test_without_scripts_a_photo_leads_from_page_to_page(phone, lighthouse):
    answer = phone.send(lighthouse, accept="text/html")
    assert answer.status == 303
    waiting = answer.headers["location"]
    page = phone.get(waiting)
    assert page.status == 303 or page.headers["refresh"] == "2"
    phone.wait_for(waiting.removesuffix("/waiting"))
    assert phone.get(waiting).headers["location"] == waiting.removesuffix("/waiting")


def test_plain_values_of_a_card_are_valid_json(page, phone, card):
    # the drag reads them from the page
    text = phone.get(f"{card}/mend").text
    values = json.loads(re.search("data-mending='([^']*)'", text).group(1))
    assert values["limits"]["lights"] == 7.0 and values["card"] == [107.95, 139.7]


def test_looks_and_scripts_are_kept_by_phones_under_a_name_of_what_they_hold(phone):
    addresses = re.findall(r'(?:href|src)="(/static/[^"]+)"', phone.get("/").text)
    assert len(addresses) == 4
    for address in addresses:
        answer = phone.get(address)
        assert answer.status == 200 and "immutable" in answer.headers["cache-control"]
    # An earlier version's name brings nothing, not today's file under it.
    folder, _, name = addresses[1].rpartition("/")
    assert phone.get(f"{folder[:-4]}0000/{name}").status == 404
    assert phone.get(f"/static/{name}").status == 404
