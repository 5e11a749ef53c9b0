"""A page to print: the picture, the places, and a column to write the readings into."""

from __future__ import annotations

import base64
import html
import io
import math
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from dryrun.gauge.plan import Plan, PlannedPoint

_STYLE: Final = """
:root{color-scheme:light}body{font:15px/1.45 system-ui,sans-serif;margin:1.5rem auto;max-width:
60rem;padding:0 1rem;color:#1e1e1e;background:#fff}img{max-width:100%;height:auto}table{border-
collapse:collapse;width:100%;margin:1rem 0}th,td{border:1px solid #777;padding:.35rem .5rem;
text-align:left}td.n{text-align:right;font-variant-numeric:tabular-nums}td.w{min-width:7rem}
caption{text-align:left;
font-weight:600;padding:.3rem 0}tr{break-inside:avoid}figure{margin:1rem 0;break-inside:avoid}
@media print{body{margin:0;max-width:none}}
"""

_ADVICE: Final = (
    "Spindle stopped and power off before a hand goes near the bit. Brush chips away, let the "
    "blank cool and stay clamped.",
    "Depths: base flat on the uncut top, rod square to it, down on the floor. Take each reading "
    "twice and write both down (copy the line in the table).",
    "Widths: jaws square to the groove, along the line in the picture, at the top of its edges.",
    "An empty place is skipped; a doubtful reading is better measured again than guessed.",
)


def page(plan: Plan) -> str:
    """Return one HTML page that needs nothing else."""
    rows = "\n".join(_row(p) for p in plan.points)
    expected = "".join(
        f"<tr><td>{html.escape(name)}</td><td class=n>± {2 * value:.3g}</td></tr>"
        for name, value in plan.expected.items()
    )
    untold = "".join(f"<li>{html.escape(text)}</li>" for text in plan.untold)
    untold = f"<h2>What these places cannot tell</h2><ul>{untold}</ul>" if untold else ""
    advice = "".join(f"<li>{html.escape(text)}</li>" for text in _ADVICE)
    title = html.escape(f"{plan.title}: {len(plan.points)} places to measure")
    alt = html.escape(
        f"the blank from above with {len(plan.points)} numbered places; their X and Y are in the "
        "table"
    )
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title>
<meta http-equiv="Content-Security-Policy"
 content="default-src 'none'; img-src data:; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width"><link rel="icon" href="data:,">
<style>{_STYLE}</style></head><body>
<h1>{title}</h1>
<ul>{advice}</ul>
<figure><img alt="{alt}" src="data:image/png;base64,{_picture(plan)}"></figure>
<table><caption>Readings in mm</caption><thead><tr><th scope="col">Place</th><th scope="col">X</th>
<th scope="col">Y</th><th scope="col">What</th><th scope="col">Direction</th>
<th scope="col">Bit</th>
<th scope="col">Predicted</th><th scope="col">Measured</th></tr></thead><tbody>
{rows}
</tbody></table>
<table><caption>How well each setting will be known then (95 %)</caption>
<tbody>{expected}</tbody></table>
{untold}
</body></html>
"""


def _row(p: PlannedPoint) -> str:
    turn = "" if math.isnan(p.direction) else f"{p.direction:.0f}° from +X"
    return (
        f'<tr><th scope="row">{html.escape(p.point)}</th><td class=n>{p.x:.1f}</td>'
        f"<td class=n>{p.y:.1f}</td><td>{p.kind}</td><td>{turn}</td><td>{html.escape(p.bit)}</td>"
        f"<td class=n>{p.predicted:.2f}</td><td class=w></td></tr>"
    )


def _picture(plan: Plan) -> str:
    from dryrun.gauge.pictures import draw_plan

    out = io.BytesIO()
    draw_plan(plan).save(out, format="PNG", optimize=False)
    return base64.b64encode(out.getvalue()).decode("ascii")
