"""Words shared by every form of report: signs, plurals, and text made harmless."""

from __future__ import annotations

from typing import Final

from dryrun.finding import Finding, Level

#: A sign and a word for each level, so that colour is never the only one.
SIGNS: Final[dict[Level, str]] = {"error": "✖", "warning": "▲", "note": "●"}

CAUTIONS: Final = (
    "This is a prediction from what was declared; it cannot see the machine, the clamping or the "
    "bit in the collet.",
    "Follow the manuals of the machine and of the bits, local codes and the advice of qualified "
    "people where they say more.",
    "Wear eye and ear protection, keep hands clear, stay within reach of the emergency stop.",
)

#: What a heightfield of a rigid tool does not contain.
NOT_IN_MODEL: Final = (
    "bending and run-out of the bit, chatter, play of the machine, lost steps, movement of the "
    "wood, loose clamping"
)


def plural(number: int, one: str, many: str | None = None) -> str:
    """Write a number with its noun: "1 error", "2 errors"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def visible(text: str) -> str:
    """Make foreign text harmless on a terminal: control characters become escapes, tabs stay."""
    return "".join(c if c == "\t" or _printable(c) else _escape(c) for c in text)


def _printable(char: str) -> bool:
    # Direction overrides and the like could make a line read differently from what it does.
    return char.isprintable() and not 0x202A <= ord(char) <= 0x202E


def _escape(char: str) -> str:
    code = ord(char)
    return (
        f"\\x{code:02x}" if code < 256 else f"\\u{code:04x}" if code < 65536 else f"\\U{code:08x}"
    )


def counts(findings: list[Finding]) -> str:
    """Write how many findings there are of each level."""
    number = {level: sum(f.level == level for f in findings) for level in SIGNS}
    return ", ".join(plural(number[level], level) for level in SIGNS)


def window(text: str, column: int, end: int, width: int = 76) -> tuple[str, int, int]:
    """Cut a long line to a window around columns [column, end); return it with new columns."""
    if len(text) <= width:
        return text, column, end
    start = max(0, min(column - 1 - width // 3, len(text) - width))
    piece = text[start : start + width]
    left, right = start > 0, start + width < len(text)
    piece = ("…" + piece[1:] if left else piece)[: width - 1 if right else width]
    return piece + ("…" if right else ""), column - start, min(end - start, width + 1)
