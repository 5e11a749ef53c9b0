"""HTML that cannot be broken by what it says: text is escaped unless it is marked as HTML.

`Html` is text that is already markup. Everything else that is put into an element, an attribute
or an embedded data block is taken as foreign text, such as a program's comment, and escaped.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Iterable
from importlib import resources
from typing import Any, Final

from dryrun.report.words import visible

_EMPTY: Final = frozenset({"img", "input", "meta", "link", "br", "col"})
_SLOT: Final = re.compile(r"\{\{(\w+)\}\}")


class Html(str):
    """Text that is markup already."""

    __slots__ = ()


def escape(text: object) -> Html:
    """Make foreign text fit for an element or a quoted attribute; control characters show."""
    if isinstance(text, Html):
        return text
    return Html(html.escape(visible(str(text)), quote=True))


def join(parts: Iterable[object], between: str = "") -> Html:
    """Join parts, escaping those that are not markup."""
    return Html(between.join(escape(part) for part in parts))


def tag(name: str, *children: object, **attributes: object) -> Html:
    """Return an element.

    A trailing underscore of an attribute is dropped (`class_`), other underscores become hyphens.
    None and False leave an attribute out, True writes its name alone.
    """
    written = []
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        key = key.rstrip("_").replace("_", "-")
        written.append(f" {key}" if value is True else f' {key}="{escape(value)}"')
    start = f"<{name}{''.join(written)}>"
    return Html(start if name in _EMPTY else f"{start}{join(children)}</{name}>")


def table(
    heads: Iterable[str],
    rows: Iterable[Iterable[object]],
    caption: str = "",
    words: tuple[int, ...] = (),
) -> Html:
    """Return a table whose first column names the row; cells may be markup.

    `words` are the columns that hold words and not figures.

    A table can be wider than a phone, so it lies in a box of its own that scrolls.
    """
    kinds = dict.fromkeys(words, "words")
    titles = (tag("th", h, scope="col", class_=kinds.get(n)) for n, h in enumerate(heads))
    head = tag("thead", tag("tr", *titles))
    body = []
    for row in rows:
        first, *rest = row
        cells = (tag("td", c, class_=kinds.get(n)) for n, c in enumerate(rest, start=1))
        body.append(tag("tr", tag("th", first, scope="row"), *cells))
    parts = [tag("caption", caption)] if caption else []
    inner = tag("table", *parts, head, tag("tbody", *body))
    return tag("div", inner, class_="wide", tabindex="0", role="group", aria_label=caption or None)


def data_block(name: str, data: Any) -> Html:
    """Return data for the page's script; nothing in it can end the block."""
    text = json.dumps(data, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    for char in "<>&":
        text = text.replace(char, f"\\u{ord(char):04x}")
    return Html(f'<script type="application/json" id="{name}">{text}</script>')


def page_file(name: str) -> str:
    """Return a text that lies beside this module in `page/`."""
    return resources.files("dryrun.report").joinpath("page", name).read_text("utf-8")


def filled(template: str, **slots: object) -> str:
    """Fill the {{slots}} of a template once; what a slot brings in is never looked at again."""
    return _SLOT.sub(lambda found: escape(slots[found.group(1)]), template)


def source_hash(text: str) -> str:
    """Return the hash that lets exactly this script or style run (CSP level 2, 7.17)."""
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return f"'sha256-{digest}'"


def policy(style: str, script: str = "") -> str:
    """Return a content-security policy: nothing loads, only this style and this script apply."""
    allowed = [
        "default-src 'none'",
        "img-src data:",
        f"style-src {source_hash(style)}",
        f"script-src {source_hash(script)}" if script else "script-src 'none'",
        "base-uri 'none'",
        "form-action 'none'",
    ]
    return "; ".join(allowed)


def png_address(png: bytes) -> Html:
    """Return a picture as a data address."""
    return Html("data:image/png;base64," + base64.b64encode(png).decode())
