"""What the numbers mean, in words; and what to change at the machine, with caution."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from dryrun.gauge.inference import Interval, WeighedCause

CAUTION: Final = (
    "measure again before changing anything, change one thing at a time, and check the next cut "
    "in scrap or with the bit held above the blank"
)

#: What to do for each cause; advice, never an order.
ADVICE: Final[dict[str, str]] = {
    "none": "nothing needs to be changed on the strength of these readings",
    "z-zero": "check the gauge's own zero on a flat plate, because its error looks just like this "
    "one and is not in the interval; then set the Z zero again, on a clean clamped blank",
    "tilt": "look for chips under the blank and wear of the bed; level or resurface the spoilboard",
    "bow": "clamp or pack the blank flat, in the middle too; let a cupped board rest first",
    "z-scale": "check the Z axis against a gauge block over a long travel before touching its "
    "steps per mm",
    "bit-diameter": "measure the bit, and write what it measures into the job; look at run-out "
    "in the collet",
    "vee-angle": "check the marked angle of the bit and its point for wear, and write the "
    "measured angle into the job",
    "thickness": "measure the blank in several places and write its thickness into the job",
    "step-loss": "look for a stalled or slipping axis at the line named, a loose coupling, or a "
    "feed the machine cannot follow; set all zeros again",
    "wrong-bit": "compare the bit in the spindle with the one the job names",
}


def number(value: float, uncertainty: float) -> str:
    """Write a value with as many decimals as its uncertainty deserves.

    Examples
    --------
    >>> number(0.1837, 0.021)
    '0.18 ± 0.02'
    """
    if not math.isfinite(uncertainty) or uncertainty <= 0:
        return f"{value:.3g}"
    digits = min(6, max(0, -math.floor(math.log10(uncertainty))))
    return f"{value:.{digits}f} ± {uncertainty:.{digits}f}"


def _expanded(interval: Interval) -> float:
    """Half of the 95 % interval."""
    return 0.5 * (interval.high - interval.low)


def _signed(interval: Interval, up: str, down: str) -> str:
    word = up if interval.value > 0 else down
    return f"{number(abs(interval.value), _expanded(interval))} {interval.unit} {word}"


def sentence(cause: WeighedCause, stages: Sequence[str], line: int | None) -> str:
    """Say in one sentence what the cause would mean."""
    where = f" of stage {cause.stage + 1} ({stages[cause.stage]})" if cause.stage >= 0 else ""
    p = cause.parameters
    if cause.cause == "none":
        return "the readings agree with the job as declared"
    if cause.cause == "z-zero":
        return f"Z zero{where} was set {_signed(p['z_zero_mm'], 'too high', 'too low')}"
    if cause.cause == "tilt":
        parts = [
            _signed(p[f"tilt_{a}_mm_per_m"], f"deeper towards +{a.upper()}",
                    f"deeper towards -{a.upper()}")
            for a in "xy" if f"tilt_{a}_mm_per_m" in p
        ]  # fmt: skip
        return "bed or blank is not level: " + " and ".join(parts)
    if cause.cause == "bow":
        parts = [
            _signed(p[f"bow_{a}_mm"], f"shallower at the {a.upper()} ends than in the middle",
                    f"deeper at the {a.upper()} ends than in the middle")
            for a in "xy" if f"bow_{a}_mm" in p
        ]  # fmt: skip
        return "the blank is bowed: " + " and ".join(parts)
    if cause.cause == "z-scale":
        return f"Z travels {number(p['z_scale'].value, _expanded(p['z_scale']))} of what it is told"
    if cause.cause == "bit-diameter":
        return f"bit {cause.bit} cuts as if {_plain(p['diameter_mm'])} in diameter"
    if cause.cause == "vee-angle":
        return f"bit {cause.bit} cuts as if its angle were {_plain(p['angle_deg'])}"
    if cause.cause == "thickness":
        return f"the blank is {_plain(p['thickness_mm'])} thick"
    if cause.cause == "wrong-bit":
        return f"bit {cause.bit} was in the spindle{where.replace(' of', ' in')}"
    parts = [
        f"{number(p[n].value, _expanded(p[n]))} mm in {a.upper()}"
        for a in "xyz"
        if (n := f"shift_{a}_mm") in p
    ]
    at = f" from about line {line} on" if line is not None else ""
    return f"steps were lost{at}: everything cut later is displaced by " + " and ".join(parts)


def _plain(interval: Interval) -> str:
    return f"{number(interval.value, _expanded(interval))} {interval.unit}"


def verdict(
    causes: Sequence[WeighedCause],
    stages: Sequence[str],
    lines: Sequence[int | None],
    misread: Sequence[str],
    count: int,
    hint: str,
    trust_words: str,
) -> str:
    """Write the verdict: the cause, what it does not need, what cannot be told, what to do."""
    first = causes[0]
    said = [sentence(first, stages, lines[0])]
    if first.cause != "none":
        if first.beside and set(first.beside) != {"z-zero"}:
            said[0] += f"; {' and '.join(first.beside)} is needed beside it"
        elif first.beside and "z_zero_mm" in first.parameters:
            z = first.parameters["z_zero_mm"]
            if z.low > 0 or z.high < 0:
                said[0] += f", with Z zero {_signed(z, 'too high', 'too low')}"
        if first.probability >= 0.8:
            said[0] += "; nothing else is needed to explain the readings"
    rivals = [
        (c, line) for c, line in zip(causes[1:], lines[1:], strict=True) if c.probability >= 0.1
    ]
    if rivals and first.probability < 0.9:
        names = " or ".join(_NAMES[c.cause] for c, _ in rivals)
        said.append(f"cannot tell {_NAMES[first.cause]} from {names} with {count} readings{hint}")
        said += [f"it may also be that {sentence(c, stages, line)}" for c, line in rivals[:2]]
    if first.loose:
        said.append(f"the readings hardly pin down {', '.join(first.loose)}")
    if misread:
        said.append(f"taken for misread and left out: {', '.join(misread)}")
    if trust_words:
        said.append(trust_words)
    return ". ".join(s[0].upper() + s[1:] for s in said) + "."


_NAMES: Final[dict[str, str]] = {
    "z-zero": "a wrong Z zero",
    "tilt": "tilt",
    "bow": "bow",
    "z-scale": "a wrong Z scale",
    "bit-diameter": "a bit of another diameter",
    "vee-angle": "another vee angle",
    "thickness": "another thickness",
    "step-loss": "lost steps",
    "wrong-bit": "another bit of the rack",
    "none": "no fault at all",
}


def advice(cause: WeighedCause) -> str:
    """Say what to look at, with the usual caution."""
    if cause.cause == "none":
        return ADVICE["none"] + "; agreement here does not make the next cut safe"
    return f"{ADVICE[cause.cause]}; {CAUTION}"
