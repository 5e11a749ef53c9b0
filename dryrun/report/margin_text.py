"""The margin report: a table, a picture of bars, and chances when tolerances are given."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from dryrun.report import colours
from dryrun.report.words import plural, visible

if TYPE_CHECKING:
    from PIL import Image

    from dryrun.margin import Chance, Chances, Margin
    from dryrun.outcome import Outcome


def margin_blocks(
    outcome: Outcome, found: Sequence[Margin], cell: float
) -> Iterator[RenderableType]:
    """Yield the table of margins for people."""
    yield Text(visible(outcome.job.title), style="bold")
    yield Text("how far each setting may be off before a new error or warning appears")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for title in ("", "bears", "then", "before it can hurt", "then"):
        table.add_column(title, justify="right" if "b" in title else "left", no_wrap=True)
    for any_new, hurts in pairs(found):
        table.add_row(
            f"{any_new.error.title} {'−' if any_new.sign < 0 else '+'}",
            _bears(any_new), _then(any_new), _bears(hurts), _then(hurts),
        )  # fmt: skip
    yield table
    yield Text(
        f"tried on a field of {cell:g} mm cells, to a {2**8}th of the range; one error at a time",
        style="dim",
    )


def pairs(found: Sequence[Margin]) -> list[tuple[Margin, Margin]]:
    """Return (any new finding, only what can hurt) for each error and direction."""
    worst = {(m.error.key, m.sign): m for m in found if m.hurts}
    return [(m, worst[m.error.key, m.sign]) for m in found if not m.hurts]


def _bears(margin: Margin) -> str:
    more = "over " if margin.breaks is None else ""
    return f"{more}{margin.bears:.2f} {margin.error.unit}"


def _then(margin: Margin) -> str:
    if margin.first is None:
        return "—"
    stage = f" (stage {margin.first.stage})" if margin.first.stage else ""
    return f"{margin.first.code}{stage}"


def chance_blocks(chances: Chances, tolerances: dict[str, float]) -> Iterator[RenderableType]:
    """Yield the table of chances for people."""
    from dryrun.margin import BY_KEY

    said = ", ".join(f"{BY_KEY[k].title} ± {v:g} {BY_KEY[k].unit}" for k, v in tolerances.items())
    yield Text(f"\nchances, with {said}", style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="dim")
    for title in ("finding", "stage", "chance", "95 % interval"):
        table.add_column(title, justify="left" if title == "finding" else "right")
    for chance in (*chances.each, chances.any_finding):
        name = "any of them" if chance is chances.any_finding else chance.code
        interval = f"{chance.low:.1%} to {chance.high:.1%}"
        table.add_row(name, str(chance.stage or ""), f"{chance.probability:.1%}", interval)
    yield table
    yield Text(
        f"{plural(chances.samples, 'sample')}, seed {chances.seed}; errors drawn evenly within "
        "their limits, independently",
        style="dim",
    )


def margin_json(found: Sequence[Margin], chances: Chances | None) -> dict[str, Any]:
    """Return margins and chances as plain data."""
    import dryrun

    return {
        "schema": 1,
        "dryrun": dryrun.__version__,
        "margins": [
            {
                "error": m.error.key,
                "unit": m.error.unit,
                "sign": m.sign,
                "bears": round(m.bears, 6),
                "breaks": None if m.breaks is None else round(m.breaks, 6),
                "only_what_can_hurt": m.hurts,
                "code": m.first.code if m.first else None,
                "stage": m.first.stage if m.first else None,
                "line": m.first.line if m.first else None,
            }
            for m in found
        ],
        "chances": None
        if chances is None
        else {
            "samples": chances.samples,
            "seed": chances.seed,
            "any": _chance(chances.any_finding),
            "findings": [_chance(c) for c in chances.each],
        },
    }


def _chance(chance: Chance) -> dict[str, Any]:
    return {
        "code": chance.code,
        "stage": chance.stage,
        "probability": round(chance.probability, 6),
        "low": round(chance.low, 6),
        "high": round(chance.high, 6),
    }


ROW: Final = 46


def margin_picture(found: Sequence[Margin]) -> Image.Image:
    """Draw what each setting bears as bars to both sides of zero (a tornado), narrowest first."""
    from PIL import Image, ImageDraw, ImageFont

    sides: dict[str, dict[int, tuple[Margin, Margin]]] = {}
    for pair in pairs(found):
        sides.setdefault(pair[0].error.key, {})[pair[0].sign] = pair
    rows = sorted(
        sides.values(), key=lambda s: min(p[1].bears / p[1].error.most for p in s.values())
    )
    picture = Image.new("RGB", (1100, 110 + ROW * len(rows)), colours.PAPER)
    draw = ImageDraw.Draw(picture)
    title, small = ImageFont.load_default(19), ImageFont.load_default(15)
    draw.text(
        (24, 16), "what the job bears; dark: before it can hurt", font=title, fill=colours.INK
    )
    middle, half = 620, 300
    for number, row in enumerate(rows):
        y = 66 + ROW * number
        error = row[1][0].error
        words = f"{error.title} ({error.unit}, ends ± {error.most:g})"
        draw.text((24, y + 9), words, font=small, fill=colours.INK)
        for sign, (any_new, hurts) in row.items():
            for margin, ink, tall in ((hurts, (31, 95, 168), 26), (any_new, (160, 190, 226), 14)):
                x = middle + sign * half * margin.bears / error.most
                left, right = min(middle, x), max(middle, x)
                draw.rectangle((left, y + 15 - tall / 2, right, y + 15 + tall / 2), fill=ink)
            sign_word = "-" if sign < 0 else "+"  # the pictures' font has no minus sign
            at = middle + sign * (half * hurts.bears / error.most + 10)
            anchor = "lm" if sign > 0 else "rm"
            label = f"{sign_word}{hurts.bears:.2f}" + ("…" if hurts.breaks is None else "")
            draw.text((at, y + 15), label, font=small, anchor=anchor, fill=colours.FAINT)
    draw.line((middle, 56, middle, 66 + ROW * len(rows)), fill=colours.INK, width=2)
    return picture
