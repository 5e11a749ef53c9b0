"""What a report was made from, so that it can be made again: files, settings, versions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dryrun.report.html_markup import Html, table, tag
from dryrun.report.html_parts import heading


def made_from(record: Mapping[str, Any]) -> Html:
    """Return the section with the record of `report.replay`."""
    files = [
        (i["name"], i["role"], tag("code", i["sha256"] or "not read again"))
        for i in record["inputs"]
    ]
    settings = [f"{name} {_written(value)}" for name, value in record["settings"].items()]
    versions = ", ".join(f"{name} {value}" for name, value in record["versions"].items())
    return tag(
        "section", heading("H", "Made from"),
        table(("file", "what", "SHA-256"), files, "The files that were read", words=(1, 2)),
        tag("p", "Asked for: ", ", ".join(settings) or "nothing beyond the files", "."),
        tag("p", f"With {versions}.", class_="small"),
        tag("p", tag("code", "dryrun check --replay"), " and this page beside the files checks "
            "again and says what is different.", class_="small"),
        class_="full made", id="made", aria_label="Made from",
    )  # fmt: skip


def _written(value: object) -> str:
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
