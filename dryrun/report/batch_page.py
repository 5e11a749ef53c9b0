"""A batch as one HTML file: no script, no network, to be read on a screen, a phone or paper."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import dryrun
from dryrun.checks.catalogue import catalogue
from dryrun.finding import LEVELS
from dryrun.report.batch_text import (
    FATES,
    Record,
    by_urgency,
    code_counts,
    fate,
    fates,
    head_line,
    what_of,
)
from dryrun.report.html_markup import Html, filled, join, page_file, policy, table, tag
from dryrun.report.words import CAUTIONS, SIGNS, plural
from dryrun.units import format_time

#: More inputs than this are counted, not written out: a page is no place for them.
MOST_ROWS: Final = 5000

#: Width of the band, in units of its drawing.
_BAND: Final = 1000.0


def batch_page(records: Sequence[Record]) -> str:
    """Return the whole summary as the text of one HTML file."""
    style = Html(page_file("common.css") + page_file("batch.css"))
    return filled(
        page_file("batch.html"),
        policy=Html(policy(style)),
        title=head_line(records),
        style=style,
        plate=_plate(records),
        band=_band(records),
        codes=_codes(records),
        inputs=_inputs(records),
        cautions=tag("div", *(tag("p", line) for line in CAUTIONS), class_="cautions", role="note"),
        footer=tag(
            "p", f"dryrun {dryrun.__version__}. This file needs no network.", class_="small"
        ),
    )


def _plate(records: Sequence[Record]) -> Html:
    count = fates(records)
    stop = count["error"]
    unread = count["fault"] + count["unread"]
    verdict = f"{SIGNS['error']} {plural(stop, 'input')} not to start" if stop else "No errors"
    if unread:
        verdict += f", {unread} not checked"
    level = "error" if stop or unread else "warning" if count["warning"] else ""
    seconds = sum(r.get("machine_seconds") or 0.0 for r in records)
    jobs = sum(r["kind"] == "job" for r in records)
    facts = [
        ("jobs", str(jobs)),
        ("programs alone", str(len(records) - jobs)),
        ("predicted time of all", format_time(seconds)),
        ("time it took to check", format_time(sum(r["seconds"] for r in records))),
    ]
    cells = [tag("div", tag("b", name), value, class_="cell") for name, value in facts]
    words = plural(len(records), "input")
    return join([
        tag("div", tag("b", "dry run of"), tag("h1", words), class_="title"),
        tag("div", tag("b", "verdict"), tag("strong", verdict), class_=f"verdict {level}"),
        *cells,
    ])  # fmt: skip


def _band(records: Sequence[Record]) -> Html:
    """Return one bar cut in parts, and what each part is; hatched, not told by colour alone."""
    count = {name: number for name, number in fates(records).items() if number}
    parts, at = [], 0.0
    for name, number in count.items():
        width = _BAND * number / len(records)
        parts.append(tag("rect", x=f"{at:.2f}", y="0", width=f"{width:.2f}", height="34",
                         class_=f"fill-{name}"))  # fmt: skip
        at += width
    drawing = tag(
        "svg", _patterns(), *parts, viewBox=f"0 0 {_BAND:g} 34", preserveAspectRatio="none",
        class_="band", role="img", aria_label=head_line(records),
    )  # fmt: skip
    legend = [
        tag("li", tag("span", FATES[name][0], class_=f"mark {name}", aria_hidden="true"),
            tag("b", str(number)), f" {FATES[name][1]}")
        for name, number in count.items()
    ]  # fmt: skip
    return join([drawing, tag("ul", *legend, class_="legend")])


def _patterns() -> Html:
    """Return the hatchings, as drawings have them for cut faces."""
    lines = {
        "error": "M-2 2 2-2M0 8 8 0M6 10 10 6", "warning": "M0 4H8", "unread": "M0 0 8 8M8 0 0 8",
        "fault": "M0 0 8 8M8 0 0 8M4 0V8", "note": "M4 0V8",
    }  # fmt: skip
    made = [
        tag("pattern", tag("rect", width="8", height="8", class_=f"ground-{name}"),
            tag("path", d=path), id=f"hatch-{name}", width="8", height="8",
            patternUnits="userSpaceOnUse", class_=f"hatch {name}")
        for name, path in lines.items()
    ]  # fmt: skip
    return tag("defs", *made)


def _codes(records: Sequence[Record]) -> Html:
    counts = code_counts(records)
    if not counts:
        return tag("p", "Nothing was found in what could be checked.")
    known = catalogue()
    rows = [
        (
            tag("span", f"{SIGNS[c.level]} {c.code}", class_=f"sign {c.level}"),
            known[c.code].title if c.code in known else "",
            c.inputs,
            c.findings,
        )
        for c in counts
    ]
    heads = ("code", "what it is", "inputs", "findings")
    return table(heads, rows, "Most urgent first", words=(1,))


def _inputs(records: Sequence[Record]) -> Html:
    shown = by_urgency(records)[:MOST_ROWS]
    heads = ("input", *(f"{level}s" for level in LEVELS), "at the machine", "what")
    head = tag("tr", *(tag("th", name, scope="col", class_=_kind(name)) for name in heads))
    rows = [_row(record) for record in shown]
    caption = "All inputs, the most urgent first"
    if len(shown) < len(records):
        caption = f"The {len(shown)} most urgent of {len(records)}; all are in results.jsonl"
    body = tag("table", tag("caption", caption), tag("thead", head), tag("tbody", *rows))
    return tag("div", body, class_="inputs")


def _kind(name: str) -> str | None:
    return "words" if name in ("input", "what") else None


def _row(record: Record) -> Html:
    name = fate(record)
    sign, words = FATES[name]
    levels = record.get("levels")
    seconds = record.get("machine_seconds")
    figures = [
        tag("td", str(levels[level]) if levels else "–", data_name=f"{level}s",
            class_=f"{level} some" if levels and levels[level] else None)
        for level in LEVELS
    ]  # fmt: skip
    time = "–" if seconds is None else format_time(seconds)
    mark = tag("span", sign, class_=f"mark {name}", role="img", aria_label=words)
    return tag(
        "tr", tag("th", mark, tag("span", record["path"]), scope="row"), *figures,
        tag("td", time, data_name="at the machine"),
        tag("td", what_of(record) or "–", class_="words"), class_=name,
    )  # fmt: skip
