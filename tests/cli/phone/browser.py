"""A phone's browser for the tests: Debian's Chromium at a phone's size, with touch, driven by playwright.

Whatever a page asks of any machine but this one is written down and refused.
"""

from __future__ import annotations

import re
import shutil
from contextlib import contextmanager
from itertools import combinations
from urllib.parse import urlsplit

import pytest

from tests.cli.phone.phones import MOST_S

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
MISSING = "needs Debian's chromium (apt-get install chromium)"
MARKS = [
    pytest.mark.skipif(CHROMIUM is None, reason=MISSING),
    pytest.mark.slow,
    # Playwright's own loop leaves its socket to the collector when it is stopped.
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]
A_CARD = re.compile("/cards/[0-9a-f]{16}$")  # a card's own address, once it has been read
PHONE, SMALL_PHONE, DESK = (390, 844), (320, 640), (1280, 800)
LEAST_TARGET_PX = 44  # WCAG 2.2, 2.5.5
_FLAGS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
)


@contextmanager
def a_browser():
    """A browser; `a_phone` opens what is a phone of its own in it, with its own cookies."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=_FLAGS.split())
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def a_phone(browser, size=PHONE, theme="light", scripts=True):
    """One tab of a phone; `tab.elsewhere` lists what was asked of other machines, `tab.said` what went wrong in it."""
    width, height = size
    context = browser.new_context(
        viewport={"width": width, "height": height},
        device_scale_factor=2,
        is_mobile=size != DESK,
        has_touch=size != DESK,
        color_scheme=theme,
        reduced_motion="reduce",
        java_script_enabled=scripts,
    )
    elsewhere, said = [], []

    def onward(route):
        if urlsplit(route.request.url).hostname == "127.0.0.1":
            route.continue_()
        else:
            elsewhere.append(route.request.url)
            route.abort()

    context.route("**/*", onward)
    tab = context.new_page()
    tab.set_default_timeout(30_000)
    tab.on("console", lambda line: said.append(line.text) if line.type in ("error", "warning") else None)
    tab.on("pageerror", lambda error: said.append(str(error)))
    tab.elsewhere, tab.said = elsewhere, said
    try:
        yield tab
    finally:
        context.close()


def findings(tab):
    """What axe-core has against the page, one line each; size of targets included."""
    from axe_playwright_python.sync_playwright import Axe

    options = {
        "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
        "rules": {"target-size": {"enabled": True}},
    }
    found = Axe().run(tab, options=options).response["violations"]
    return [f"{rule['id']}: {node['html'][:160]}" for rule in found for node in rule["nodes"]]


def lying_over(tab):
    """Names and numbers on the picture that lie over one another, pair by pair."""
    boxes = [(one.inner_text(), one.bounding_box()) for one in tab.locator(".mark span, .spot").all()]

    def over(a, b):
        return all(
            abs(a[at] + a[size] / 2 - b[at] - b[size] / 2) < (a[size] + b[size]) / 2 - 0.5  # half a pixel
            for at, size in (("x", "width"), ("y", "height"))
        )

    return [(one, other) for (one, a), (other, b) in combinations(boxes, 2) if over(a, b)]


def small_targets(tab):
    """What one must hit with a thumb and is smaller than 44 pixels, but for the marks on the picture, which lie as
    near each other as on the card and stand in a list besides, and links inside a sentence."""
    return tab.evaluate(
        """(least) => {
        const inSentence = (one) => one.matches('p > a:not(.button)')
            && one.parentElement.innerText.trim().length > one.innerText.trim().length;
        return [...document.querySelectorAll('a, button, input, select, summary')]
            .map((one) => (['radio', 'checkbox'].includes(one.type) ? one.closest('label') : one))
            .filter((one) => one.checkVisibility() && !one.closest('.sheet, .skip') && !inSentence(one))
            .map((one) => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
            .filter(([, box]) => box.width && (box.width < least || box.height < least))
            .map(([html, box]) => `${html} ${box.width}x${box.height}`)}""",
        LEAST_TARGET_PX,
    )


def photograph(tab, photo):
    """Choose a photo and wait for the look."""
    tab.get_by_label("Photo of the card").set_input_files(photo)
    tab.wait_for_url(A_CARD, timeout=1000 * MOST_S)


def heading(tab):
    return tab.get_by_role("heading", level=1).inner_text()


def view(tab, name):
    tab.get_by_role("navigation", name="Steps").get_by_role("link", name=name).click()
    tab.wait_for_selector("html[data-ready]")


def drag(tab, mark, by_px):
    """Drag a mark with one finger, in steps, as Chromium gets touches from a screen."""
    mark.scroll_into_view_if_needed()
    box = mark.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    finger = tab.context.new_cdp_session(tab)

    def touch(kind, *points):
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    touch("touchStart", {"x": x, "y": y})
    for step in range(1, 9):
        touch("touchMove", {"x": x + by_px[0] * step / 8, "y": y + by_px[1] * step / 8})
    words = tab.locator(".reading-out").inner_text()
    touch("touchEnd")
    return words


def place_of(tab, name):
    mark = tab.get_by_role("button", name=name, exact=True)
    return float(mark.get_attribute("data-x")), float(mark.get_attribute("data-y"))


def found_moves(tab):
    """Until the moves that would mend the card have been found, which comes after its plan."""
    tab.get_by_role("button", name="Take over the moves").wait_for(timeout=1000 * MOST_S)


def settled(tab):
    """Until a change has been planned."""
    tab.wait_for_function("() => !document.querySelector('main[aria-busy]')", timeout=60_000)


def begin_watching(tab):
    """Note when something is tapped or chosen, and when words to the person next change on the screen; kept where
    the next page still finds it."""
    tab.evaluate(
        """() => {
        let begun = 0;
        delete sessionStorage.seenAfter;
        for (const kind of ['pointerdown', 'keydown', 'change', 'click'])
            document.addEventListener(kind, (event) => (begun ||= event.timeStamp), {capture: true});
        const told = document.getElementById('told');
        new MutationObserver(() => {
            if (begun && !sessionStorage.seenAfter && told.textContent.trim() && told.checkVisibility())
                requestAnimationFrame(() => (sessionStorage.seenAfter ||= performance.now() - begun));
        }).observe(told, {childList: true, characterData: true, subtree: true});
    }"""
    )


def seen_after_ms(tab):
    """What `begin_watching` noted; infinite where nothing was seen."""
    return float(tab.evaluate("sessionStorage.seenAfter ?? 'inf'"))
