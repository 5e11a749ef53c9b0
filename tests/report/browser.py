"""A browser for the tests of the pages: Chromium without a window, driven by selenium.

Pages are opened from files. Requests are watched through the browser's own log, so that a page that
asks for anything beyond itself is found out.
"""

from __future__ import annotations

import base64
import json
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
DRIVER = shutil.which("chromedriver")

ARGUMENTS = (
    "--headless=new", "--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader", "--hide-scrollbars", "--disable-dev-shm-usage",
    "--force-device-scale-factor=1", "--disable-background-networking",
)  # fmt: skip


def needed() -> None:
    """Skip the test when there is no browser to drive."""
    pytest.importorskip("selenium")
    if CHROMIUM is None or DRIVER is None:
        pytest.skip("there is no chromium with its chromedriver")


class Page:
    """One window."""

    def __init__(self, webgl: bool = True) -> None:
        from selenium import webdriver
        from selenium.webdriver.chrome.service import Service

        options = webdriver.ChromeOptions()
        options.binary_location = str(CHROMIUM)
        for argument in (
            ARGUMENTS if webgl else (*ARGUMENTS[:2], "--disable-gpu", "--disable-3d-apis")
        ):
            options.add_argument(argument)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service(DRIVER))

    def close(self) -> None:
        self.driver.quit()

    def size(self, wide: int, high: int, mobile: bool = False) -> None:
        metrics = {"width": wide, "height": high, "deviceScaleFactor": 1, "mobile": mobile}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)

    def script(self, on: bool) -> None:
        self.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": not on})

    def dark(self, on: bool) -> None:
        value = "dark" if on else "light"
        features = [{"name": "prefers-color-scheme", "value": value}]
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})

    def open(self, path: Path, wait: bool = True) -> None:
        self.driver.get(path.as_uri())
        if wait:
            self.until(
                lambda: self.run("return document.documentElement.dataset.ready") is not None
            )

    def run(self, script: str, *arguments: Any) -> Any:
        return self.driver.execute_script(script, *arguments)

    def until(self, true: Callable[[], Any], seconds: float = 60.0) -> Any:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            found = true()
            if found:
                return found
            time.sleep(0.05)
        raise AssertionError("what was waited for did not happen")

    def complaints(self) -> list[str]:
        """Messages of the console, among them everything the security policy refused."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def requests(self) -> list[str]:
        """Addresses that were asked for since the last call, data addresses left out."""
        found = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                address = message["params"]["request"]["url"]
                if not address.startswith("data:"):
                    found.append(address)
        return found

    def pdf(self, wide: float = 8.27, high: float = 11.69) -> bytes:
        """The page on paper, inches."""
        options = {"printBackground": True, "paperWidth": wide, "paperHeight": high}
        return base64.b64decode(self.driver.execute_cdp_cmd("Page.printToPDF", options)["data"])


def opened(webgl: bool = True) -> Iterator[Page]:
    """Give a window and close it afterwards."""
    needed()
    page = Page(webgl)
    try:
        yield page
    finally:
        page.close()
