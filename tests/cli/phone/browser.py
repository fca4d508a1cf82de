"""A phone's browser for the tests: Debian's Chromium at a phone's size, with touch, driven by playwright.

Whatever a page asks of any machine but this one is written down and refused.
"""

from __future__ import annotations

import shutil
from contextlib import contextmanager
from urllib.parse import urlsplit

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
MISSING = "needs Debian's chromium (apt-get install chromium)"
PHONE, SMALL_PHONE, DESK = (390, 844), (320, 640), (1280, 800)
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
