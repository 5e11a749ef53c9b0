"""The report in a browser: what a person sees and does, checked against the surface itself."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from dryrun.outcome import Outcome
from dryrun.report.html import report_page
from tests.report.browser import Page, opened
from tests.report.jobs import FIXTURES, HOSTILE, hostile_job, outcome_of

pytestmark = [pytest.mark.browser, pytest.mark.jit_only]


@pytest.fixture(scope="module")
def trivet() -> Outcome:
    return outcome_of(FIXTURES / "trivet-mistakes" / "job.toml")


@pytest.fixture(scope="module")
def trivet_page(trivet: Outcome, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_text(report_page(trivet), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def window() -> Iterator[Page]:
    yield from opened()


@pytest.fixture
def page(window: Page, trivet_page: Path) -> Page:
    window.dark(False)
    window.script(True)
    window.size(1280, 800)
    window.open(trivet_page)
    window.complaints()
    return window


def test_page_opens_without_complaint_and_asks_for_nothing(window: Page, trivet_page: Path) -> None:
    """The page starts, the console stays empty, and the only request is the file itself."""
    window.size(1280, 800)
    window.requests()
    window.complaints()
    window.open(trivet_page)

    assert window.run("return document.documentElement.dataset.ready") == "yes"
    assert window.complaints() == []
    assert window.requests() == [trivet_page.as_uri()]


def test_readout_equals_surface_at_twenty_points(page: Page, trivet: Outcome) -> None:
    """Under the pointer stand the depth, floor and line that the surface itself has there."""
    surface, stock = trivet.surface, trivet.job.stock
    assert surface is not None
    assert stock is not None
    random = np.random.default_rng(7)
    places = random.uniform(-75.0, 75.0, (20, 2))
    for x, y in places.tolist():
        found = page.run(
            """
            const { top, model } = window.dryrunReport;
            const box = document.getElementById('top').getBoundingClientRect();
            const [u, v] = top.spot(arguments[0], arguments[1]);
            document.getElementById('top').dispatchEvent(new PointerEvent('pointermove', {
              pointerType: 'mouse', bubbles: true,
              clientX: box.left + 1 + u, clientY: box.top + 1 + v }));
            const read = (id) => document.getElementById('read-' + id).textContent;
            return [top.reading().z, read('depth'), read('floor-left'), read('cut-by'), top.cross];
            """,
            x,
            y,
        )
        z, depth, floor, cut_by, cross = found
        at = surface.at(*cross)

        assert cross == pytest.approx([x, y], abs=1e-6)
        assert z == pytest.approx(float(at), abs=(stock.size[2]) / 65535)
        if at < -0.01:
            shown = float(depth.removesuffix(" mm"))
            assert shown == pytest.approx(stock.top - float(at), abs=0.006)
        assert float(floor.removesuffix(" mm")) == pytest.approx(float(at) - stock.bed, abs=0.006)
        assert cut_by == expected_line(trivet, cross)


def expected_line(outcome: Outcome, cross: list[float]) -> str:
    surface = outcome.surface
    assert surface is not None
    ix = int((cross[0] - surface.low[0]) / surface.cell)
    iy = int((cross[1] - surface.low[1]) / surface.cell)
    found = outcome.stage_of_row(int(surface.cut_by[iy, ix]))
    if found is None:
        return "—"
    stage, row = found
    return f"stage {stage.number}, line {stage.motion.line[row]}"


def test_slider_shows_marked_moments_true_and_says_when_it_does_not(
    page: Page, trivet: Outcome
) -> None:
    """At a marked moment the heights are those of a cut that far; in between the page says so."""
    words = "return document.getElementById('moment').textContent"
    page.run("document.getElementById('time-back').click()")

    assert "True heights at this marked moment" in page.run(words)

    marks = page.run("return window.dryrunReport.model.marks.map((m) => [m.seconds, m.row])")
    stage_end = trivet.stages[0].seconds
    k = int(np.argmin([abs(seconds - stage_end) for seconds, _ in marks]))
    assert marks[k][0] == pytest.approx(stage_end, abs=0.01)
    after = trivet.stages[0].surface_after
    assert after is not None
    lowest = page.run(
        "window.dryrunReport.model.set(arguments[0]);"
        "return window.dryrunReport.model.field.heights.reduce((a, b) => Math.min(a, b))",
        marks[k][0],
    )
    assert lowest == pytest.approx(after.lowest, abs=0.02)

    between = (marks[3][0] + marks[4][0]) / 2
    page.run("window.dryrunReport.model.set(arguments[0])", between)
    assert "Drawn from the marked moments" in page.run(words)


def test_moving_the_slider_by_keyboard_moves_the_blank(page: Page) -> None:
    """The range input is the slider, so the keys of any range work, and it says where it stands."""
    from selenium.webdriver.common.keys import Keys

    slider = page.driver.find_element("id", "time")
    slider.send_keys(Keys.HOME)
    untouched = page.run(
        "const m = window.dryrunReport.model;"
        "return m.field.heights.every((z) => Math.abs(z - m.blank.top) < 1e-6)"
    )
    slider.send_keys(Keys.END)

    assert untouched
    assert page.run("return window.dryrunReport.model.atEnd")
    assert "stage 2" in slider.get_attribute("aria-valuetext")


def test_flags_and_lists_lead_to_each_other(page: Page, trivet: Outcome) -> None:
    """Each finding leads to its place and to its line, and each flag to its finding."""
    placed = [n for n, f in enumerate(trivet.findings, start=1) if f.at is not None]
    for number in placed:
        page.driver.find_element("css selector", f'a[data-finding="{number}"]').click()
        cross = page.run("return window.dryrunReport.top.cross")
        assert cross == pytest.approx(list(trivet.findings[number - 1].at[:2]))  # type: ignore[index]
    page.driver.find_element("id", "top-whole").click()
    flags = page.driver.find_elements("css selector", "#top svg a")
    assert len(flags) == len(placed)
    flags[-1].find_element("css selector", "text").click()
    assert page.run("return location.hash") == f"#finding-{placed[-1]}"
    dead = page.run(
        "return [...document.querySelectorAll('a[href^=\"#\"]')].map((a) => a.getAttribute('href'))"
        ".filter((h) => !document.getElementById(h.slice(1)))"
    )
    assert dead == []
    assert page.complaints() == []


def test_cross_moves_by_arrow_keys_and_zooms(page: Page) -> None:
    """The view from above can be used without a pointer."""
    from selenium.webdriver.common.keys import Keys

    view = page.driver.find_element("id", "top")
    view.send_keys(Keys.ARROW_RIGHT, Keys.ARROW_UP)
    first = page.run("return window.dryrunReport.top.cross")
    view.send_keys("+")
    zoomed = page.run("return window.dryrunReport.top.zoomed")
    view.send_keys("0")

    assert first[0] > 0
    assert first[1] > 0
    assert zoomed
    assert not page.run("return window.dryrunReport.top.zoomed")
    assert page.run("return document.getElementById('read-depth').textContent") != "—"


def test_section_follows_its_numbers(page: Page, trivet: Outcome) -> None:
    """The section says the deepest place along the line that was typed."""
    page.run(
        """
        const ends = { 'cut-x1': -90, 'cut-y1': 0.05, 'cut-x2': 90, 'cut-y2': 0.05 };
        for (const [id, value] of Object.entries(ends)) {
          const field = document.getElementById(id);
          field.value = value;
          field.dispatchEvent(new Event('change'));
        }
        """
    )
    surface, stock = trivet.surface, trivet.job.stock
    assert surface is not None
    assert stock is not None
    row = surface.height[int((0.05 - surface.low[1]) / surface.cell)]
    inner = row[
        int((-90 - surface.low[0]) / surface.cell) : int((90 - surface.low[0]) / surface.cell)
    ]
    words = page.run("return document.getElementById('section-words').textContent")
    said = re.search(r"deepest ([\d.]+) mm", words)

    assert said is not None
    assert float(said.group(1)) == pytest.approx(stock.top - float(inner.min()), abs=0.011)


def test_solid_view_draws_and_turns(page: Page) -> None:
    """The 3-D view draws the blank, and another picture when it is turned by a key."""
    picture = "return document.querySelector('#solid canvas').toDataURL('image/png')"
    page.run("window.dryrunReport.solid.paint()")
    first = pixels(page.run(picture))
    page.driver.find_element("id", "solid").send_keys("\ue012")  # arrow left
    page.run("window.dryrunReport.solid.paint()")
    second = pixels(page.run(picture))

    assert len(np.unique(first.reshape(-1, first.shape[-1]), axis=0)) > 100
    assert (first != second).any()
    assert page.run("return document.getElementById('solid-still').hidden")


def pixels(address: str) -> np.ndarray:
    from PIL import Image

    return np.array(Image.open(io.BytesIO(base64.b64decode(address.split(",", 1)[1]))))


@pytest.mark.parametrize(("wide", "high"), [(1280, 800), (390, 844), (820, 1180)])
@pytest.mark.parametrize("dark", [False, True])
def test_nothing_is_cut_off_sideways(
    window: Page, trivet_page: Path, wide: int, high: int, dark: bool
) -> None:
    """On screen, tablet and phone, in both themes, the page is no wider than the window."""
    window.dark(dark)
    window.size(wide, high, mobile=wide < 1000)
    window.open(trivet_page)
    over = window.run(
        """
        const wide = document.documentElement.clientWidth;
        const scrolls = (e) => e.closest('.wide, .program, .excerpt, .view, .skip');
        const all = [...document.querySelectorAll('main *, header *')];
        return [document.documentElement.scrollWidth - wide, all
          .filter((e) => !scrolls(e) && e.getBoundingClientRect().right > wide + 1)
          .map((e) => e.tagName + '#' + e.id)];
        """
    )

    assert over == [0, []]


@pytest.mark.parametrize("dark", [False, True])
def test_words_stand_out_from_the_paper(window: Page, trivet_page: Path, dark: bool) -> None:
    """Text colours have a contrast of at least 4.5 to the paper (WCAG 2.1, 1.4.3)."""
    window.dark(dark)
    window.open(trivet_page)
    names = ("paper", "ink", "faint", "link", "error", "warning", "note")
    style = (
        "return getComputedStyle(document.documentElement)"
        ".getPropertyValue('--' + arguments[0]).trim()"
    )
    colour = {name: window.run(style, name) for name in names}
    for name in names[1:]:
        assert contrast(colour[name], colour["paper"]) >= 4.5, name


def contrast(one: str, other: str) -> float:
    """Contrast of two colours (WCAG 2.1, definitions of contrast ratio and relative luminance)."""
    light = []
    for colour in (one, other):
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        light.append(0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2])
    return (max(light) + 0.05) / (min(light) + 0.05)


def test_without_script_all_is_there_to_read(
    window: Page, trivet_page: Path, trivet: Outcome
) -> None:
    """With JavaScript off the pictures, findings, tables and program are shown."""
    window.script(False)
    try:
        window.open(trivet_page, wait=False)
        find = window.driver.find_elements
        assert find("id", "top-still")[0].is_displayed()
        assert find("id", "solid-still")[0].is_displayed()
        assert len([e for e in find("css selector", ".findings > li") if e.is_displayed()]) == len(
            trivet.findings
        )
        assert find("css selector", "#stages table")[0].is_displayed()
        assert not any(e.is_displayed() for e in find("css selector", ".live"))
    finally:
        window.script(True)


def test_hostile_words_stay_words(window: Page, tmp_path: Path) -> None:
    """A comment, title, clamp or stage full of markup is shown as written, and runs nothing."""
    path = tmp_path / "report.html"
    path.write_text(report_page(outcome_of(hostile_job(tmp_path), cell=0.2)), encoding="utf-8")
    window.complaints()
    window.requests()
    window.open(path)

    assert window.run("return window.broken") is None
    assert window.run("return document.querySelectorAll('img[src=x], main script').length") == 0
    assert HOSTILE in window.run("return document.querySelector('h1').textContent")
    assert HOSTILE in window.run("return document.querySelector('.program').textContent")
    assert window.run("return window.dryrunReport.model.clamps[0].name") == HOSTILE
    assert window.complaints() == []
    assert window.requests() == [path.as_uri()]


@pytest.mark.parametrize(("wide", "high"), [(8.27, 11.69), (8.5, 11.0)], ids=["A4", "Letter"])
def test_print_fits_the_paper(page: Page, wide: float, high: float) -> None:
    """On A4 and Letter the report is a handful of pages, with nothing beyond the margin."""
    pages = len(re.findall(rb"/Type\s*/Page\b", page.pdf(wide, high)))

    assert 3 <= pages <= 9
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    page.size(round((wide - 2 * 13 / 25.4) * 96), 1000)
    over = page.run(
        "return [...document.querySelectorAll('main *')].filter((e) => e.offsetWidth && "
        "e.getBoundingClientRect().right > innerWidth + 1)"
        ".map((e) => e.tagName + '.' + e.className)"
    )
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert over == []


def test_without_webgl_a_picture_stands_in(trivet_page: Path) -> None:
    """Where WebGL is switched off, the picture made beforehand stays, and the page says why."""
    for page in opened(webgl=False):
        page.open(trivet_page)
        assert page.run("return document.documentElement.dataset.ready") == "yes"
        assert page.driver.find_element("id", "solid-still").is_displayed()
        assert "drawn beforehand" in page.driver.find_element("id", "solid-words").text
        assert page.driver.find_element("id", "top").is_displayed()
