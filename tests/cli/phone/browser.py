"""A phone's browser for the tests: Debian's Chromium, driven by selenium, with touch and a phone's size."""

from __future__ import annotations

import os
import shutil
from contextlib import contextmanager

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DRIVER = shutil.which("chromedriver")
MISSING = "needs Debian's chromium and chromedriver (apt-get install chromium chromium-driver)"
PHONE = (390, 844)
_FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --disable-dev-shm-usage"
)


@contextmanager
def a_browser(profile, size=PHONE, theme="light", scripts=True, touch=True, still=False):
    """A browser with a profile of its own in that empty folder."""
    from selenium import webdriver

    os.environ["SE_OFFLINE"] = "true"
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for flag in (*_FLAGS.split(), f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(DRIVER))
    try:
        set_up(driver, size, theme, scripts, touch, still)
        driver.set_page_load_timeout(60)
        yield driver
    finally:
        driver.quit()


def set_up(driver, size=PHONE, theme="light", scripts=True, touch=True, still=False):
    """Size, theme, touch and scripts as the page is to find them."""
    width, height = size
    say = driver.execute_cdp_cmd
    say(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 2, "mobile": touch},
    )
    say("Emulation.setTouchEmulationEnabled", {"enabled": touch, "maxTouchPoints": 5 if touch else 1})
    features = [
        {"name": "prefers-color-scheme", "value": theme},
        {"name": "prefers-reduced-motion", "value": "reduce" if still else "no-preference"},
    ]
    say("Emulation.setEmulatedMedia", {"features": features})
    say("Emulation.setScriptExecutionDisabled", {"value": not scripts})
