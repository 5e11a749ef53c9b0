"""The report as one HTML file that needs nothing else: no network, and to be read no script.

The 3-D view is our own small one (page/solid.js), not a library's: a scene exported by a general
3-D library weighs megabytes, brings its viewer's script and icon from elsewhere, and shows a white
page where WebGL is missing. Here the map of heights is all there is to send; the triangles are
made from it in the vertex shader, and a picture made beforehand stands in where it cannot run.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from dryrun.outcome import Outcome
from dryrun.report import colours
from dryrun.report.html_data import page_data
from dryrun.report.html_markup import (
    Html,
    data_block,
    filled,
    join,
    page_file,
    png_address,
    policy,
    tag,
)
from dryrun.report.html_parts import (
    findings_section,
    footer,
    heading,
    limits_section,
    plate,
    stages_section,
    title,
)
from dryrun.report.html_program import program_section, texts_of
from dryrun.report.html_replay import made_from
from dryrun.report.machine_readable import as_json
from dryrun.units import format_length

#: The page's script, in order; later parts use earlier ones.
SCRIPTS: Final = (
    "unpack.js", "figures.js", "field.js", "model.js", "top.js", "section.js", "solid.js",
    "report.js",
)  # fmt: skip


def report_page(
    outcome: Outcome, threads: int | None = None, settings: Mapping[str, Any] | None = None
) -> str:
    """Return the whole report as the text of one HTML file.

    `settings` is what was asked for beyond the files, for the record that lets it be done again.
    """
    style = Html(page_file("common.css") + _coloured(page_file("report.css")))
    script = Html("(() => {\n'use strict';\n" + "\n".join(map(page_file, SCRIPTS)) + "})();\n")
    views = outcome.surface is not None
    texts = texts_of(outcome)
    record = as_json(outcome, settings)["replay"]
    return filled(
        page_file("report.html"),
        policy=Html(policy(style, script)),
        title=title(outcome),
        style=style,
        plate=plate(outcome),
        views=top_section(outcome) if views else _no_views(),
        findings=findings_section(outcome, texts),
        solid=join([section_part(), solid_section(outcome)]) if views else "",
        stages=stages_section(outcome),
        program=program_section(outcome, texts, heading("F", "Program")),
        limits=limits_section(outcome),
        made_from=made_from(record),
        footer=footer(outcome),
        data=join([data_block("data", page_data(outcome, threads)), data_block("replay", record)]),
        script=script,
    )


def _coloured(style: str) -> str:
    scale = np.rint(colours.depth_colours(np.linspace(0, 1, 9))).astype(int).tolist()
    return filled(
        style,
        scale=Html(", ".join(_rgb(c) for c in scale)),
        uncut=Html(_rgb(colours.UNCUT)),
        through=Html(_rgb(colours.THROUGH)),
    )


def _rgb(colour: tuple[int, ...] | list[int]) -> str:
    return f"rgb({', '.join(str(int(c)) for c in colour)})"


def _no_views() -> Html:
    words = (
        "The views need a declared blank ([stock]) and a bit for at least one stage; without them "
        "only the program itself could be looked at."
    )
    return tag("section", heading("A", "From above"), tag("p", words), class_="left")


# ---------------------------------------------------------------- views


def top_section(outcome: Outcome) -> Html:
    """Return the view from above with its read-out, and the slider over the program."""
    from dryrun.report.oblique import png_of
    from dryrun.report.pictures import describe, top_view

    words = describe(outcome)
    picture = tag("img", id="top-still", src=png_address(png_of(top_view(outcome))), alt=words)
    hint = "arrow keys move the cross, plus and minus zoom, 0 shows the whole blank"
    view = tag(
        "div", tag("canvas"), Html('<svg aria-hidden="false"></svg>'), id="top", class_="view",
        tabindex="0", role="application", aria_label=f"{words}; {hint}", hidden=True,
    )  # fmt: skip
    return tag(
        "section", heading("A", "From above"),
        tag("figure", picture, view, id="view-top"),
        tag("div", _top_controls(), _readout(), _legend(outcome), _timeline(), class_="live",
            hidden=True),
        tag("noscript", tag("p", "The read-out, the slider and the 3-D view need JavaScript; all "
                            "figures are in the tables below.", class_="small")),
        tag("p", id="trouble", class_="small", hidden=True),
        class_="left", aria_label="From above",
    )  # fmt: skip


def _top_controls() -> Html:
    return tag(
        "div",
        tag("button", "+", type="button", id="top-in", aria_label="zoom in"),
        tag("button", "−", type="button", id="top-out", aria_label="zoom out"),
        tag("button", "whole blank", type="button", id="top-whole"),
        _check("show-path", "path of the bit"), _check("show-flags", "findings", True),
        _check("show-section", "section line", True),
        class_="controls",
    )  # fmt: skip


def _check(name: str, words: str, on: bool = False) -> Html:
    return tag("label", tag("input", type="checkbox", id=name, checked=on), words)


def _readout() -> Html:
    names = ("place", "depth", "floor left", "cut by")
    cells = [
        tag("div", tag("dt", name), tag("dd", "—", id="read-" + name.replace(" ", "-")))
        for name in names
    ]
    return tag("dl", *cells, class_="readout", id="readout", aria_live="polite")


def _legend(outcome: Outcome) -> Html:
    stock, surface = outcome.job.stock, outcome.surface
    assert stock is not None
    assert surface is not None
    deepest = format_length(stock.top - surface.lowest, outcome.job.units)
    items = [
        tag(
            "span", "0", tag("span", class_="bar", role="presentation"), f"{deepest} below the top"
        ),
        tag("span", tag("span", class_="swatch uncut"), "not cut"),
    ]
    if surface.lowest <= stock.bed:
        items.append(tag("span", tag("span", class_="swatch through"), "cut through"))
    if outcome.job.clamps:
        items.append(tag("span", tag("span", class_="swatch clamp"), "clamp"))
    return tag("div", *items, class_="legend")


def _timeline() -> Html:
    return tag(
        "div",
        tag("h3", tag("label", "Through the job", for_="time")),
        tag("input", type="range", id="time", min="0", max="1000", value="1000", step="1"),
        Html('<svg class="ticks" id="ticks" aria-hidden="true"></svg>'),
        tag("p", id="moment", class_="moment", aria_live="polite"),
        tag(
            "div",
            tag("button", "earlier moment", type="button", id="time-back"),
            tag("button", "play", type="button", id="time-play"),
            tag("button", "later moment", type="button", id="time-on"),
            tag("button", "end", type="button", id="time-end"),
            class_="controls",
        ),
        class_="timeline",
    )  # fmt: skip


def section_part() -> Html:
    """Return the section along a line, which the script draws."""
    numbers = [
        tag("label", words, tag("input", type="number", id=f"cut-{name}", step="any"))
        for name, words in (("x1", "from X"), ("y1", "Y"), ("x2", "to X"), ("y2", "Y"))
    ]
    return tag(
        "section", heading("C", "Section S–S"),
        tag("div", tag("p", "Drag the ends S of the line in the view from above, or type where it "
                       "runs.", class_="small screen"),
            tag("figure", id="section", aria_live="off"),
            tag("div", *numbers, class_="controls"),
            tag("p", id="section-words", class_="small", aria_live="polite"), class_="live",
            hidden=True),
        tag("noscript", tag("p", "The section needs JavaScript.", class_="small")),
        class_="left", aria_label="Section",
    )  # fmt: skip


def solid_section(outcome: Outcome) -> Html:
    """Return the 3-D view and the picture that stands in for it."""
    from dryrun.report.oblique import oblique_view, png_of
    from dryrun.report.pictures import describe

    words = describe(outcome).replace("top view", "view from the front left", 1)
    still = png_of(oblique_view(outcome))
    hint = "arrow keys turn and tilt, plus and minus zoom, 0 sets it back"
    view = tag(
        "div", tag("canvas"), Html("<svg></svg>"), id="solid", class_="view", tabindex="0",
        role="application", aria_label=f"3-D view; {hint}", hidden=True,
    )  # fmt: skip
    buttons = [
        tag("button", sign, type="button", id=f"solid-{name}", aria_label=words_)
        for name, sign, words_ in (
            ("left", "⟲", "turn left"), ("right", "⟳", "turn right"), ("up", "↑", "tilt up"),
            ("down", "↓", "tilt down"), ("in", "+", "zoom in"), ("out", "−", "zoom out"),
        )
    ]  # fmt: skip
    controls = tag(
        "div", *buttons, tag("button", "set back", type="button", id="solid-back"),
        _check("solid-tall", "heights × 3"), class_="controls", id="solid-controls", hidden=True,
    )  # fmt: skip
    return tag(
        "section", heading("D", "In the round"),
        tag("figure", tag("img", id="solid-still", src=png_address(still), alt=words), view),
        tag("p", id="solid-words", class_="small", hidden=True), controls,
        aria_label="3-D view",
    )  # fmt: skip
