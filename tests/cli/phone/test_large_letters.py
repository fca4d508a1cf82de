"""Letters twice as large, a page enlarged twice, a phone held across: nothing runs out or gets too small."""

import pytest

from tests.cli.phone.browser import MARKS, a_phone

pytestmark = MARKS
# Common practice, no source: the narrowest phone in use; smaller letters are too small to be read on one.
NARROW, LEAST_LETTER_PX = (360, 640), 14
PAGES = ("/", "{card}", "{card}/mend", "{card}/paper", "{card}/build", "{card}/dark", "/settings", "/kept")

# What runs out of the page on the right, or is set in smaller letters, a line each.
TOO_WIDE = """(wide) => [...document.querySelectorAll('header *, main *, .lane *')]
    .filter((one) => !one.closest('.stage, .skip') && one.checkVisibility())
    .filter((one) => one.getBoundingClientRect().right > wide + 1)
    .map((one) => one.outerHTML.slice(0, 90))"""
TOO_SMALL = """(least) => [...document.querySelectorAll('body *')]
    .filter((one) => [...one.childNodes].some((part) => part.nodeType === Node.TEXT_NODE && part.textContent.trim()))
    .filter((one) => one.checkVisibility() && parseFloat(getComputedStyle(one).fontSize) < least)
    .map((one) => one.outerHTML.slice(0, 90))"""


def each_page(tab, page, card, letters="100%"):
    tab.goto(page.address)
    for address in PAGES:
        tab.goto(page.site + address.format(card=card))
        tab.wait_for_selector("html[data-ready]")
        tab.evaluate("(size) => (document.documentElement.style.fontSize = size)", letters)
        yield address


@pytest.mark.parametrize(
    ("size", "letters"),
    [(NARROW, "100%"), (NARROW, "200%"), ((180, 320), "100%"), ((640, 360), "100%"), ((844, 390), "200%")],
    ids=["as it is", "letters", "enlarged", "across", "across, letters"],
)
def test_nothing_runs_out_of_the_page(chromium, page, card, size, letters):
    with a_phone(chromium, size) as tab:
        found = {
            address: (tab.evaluate(TOO_WIDE, size[0]), tab.evaluate("document.documentElement.scrollWidth"))
            for address in each_page(tab, page, card, letters)
        }
    assert {address: told for address, told in found.items() if told != ([], size[0])} == {}


@pytest.mark.parametrize("size", [NARROW, (640, 360)], ids=["upright", "across"])
def test_no_letters_are_too_small_to_be_read(chromium, page, card, size):
    with a_phone(chromium, size) as tab:
        found = {address: tab.evaluate(TOO_SMALL, LEAST_LETTER_PX) for address in each_page(tab, page, card)}
    assert {address: told for address, told in found.items() if told} == {}


def test_a_phone_held_across_shows_the_picture_beside_the_first_problem(chromium, page, card):
    with a_phone(chromium, (640, 360)) as tab:
        tab.goto(page.address)
        tab.goto(page.site + card)
        tab.wait_for_selector("html[data-ready]")
        ends = tab.locator(".lane").bounding_box()["y"]
        picture, problem = (tab.locator(name).bounding_box() for name in (".stage", "#problem-1"))
        assert picture["x"] + picture["width"] <= problem["x"]
        # More than half of the picture is seen before anything is scrolled.
        assert picture["y"] + picture["height"] / 2 < ends and problem["y"] < ends / 2
        # Nor do the picture's own buttons lie below the screen while the words beside it are read.
        for view in ("", "/mend"):
            tab.goto(page.site + card + view)
            tab.wait_for_selector("html[data-ready]")
            tab.evaluate("scrollTo(0, 250)")
            button = tab.get_by_role("button", name="Larger").bounding_box()
            assert button["y"] > 0 and button["y"] + button["height"] <= ends
