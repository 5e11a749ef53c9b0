"""Where a program begins and ends: % lines, what stands before and after them, and no end at all.

NISTIR 6556 3.1; text before the first % and after the last is common practice.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from dryrun.gcode.blocks import Block, read_block
from dryrun.gcode.text import Fault

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter

#: The start of a line that is code or a comment.
_CODE: Final = re.compile(r"[(;$]|/?[ \t]*[NGMTXYZOFS:#][ \t]*[-+.0-9\[#<(]", re.IGNORECASE)


def skip_leader(run: Interpreter) -> None:
    """Text before the first % line is no program (common practice, no source)."""
    if run.strict:
        return
    lines = run.sources[0].lines
    for index, raw in enumerate(lines[:50]):
        text = raw.strip()
        if text.startswith("%"):
            run.index = index
            return
        if _CODE.match(text):
            return


def percent_line(run: Interpreter, block: Block) -> None:
    """% lines (3.1): the first non-blank line opens, the next one closes."""
    lines = run.sources[run.source].lines
    before = any(lines[at].strip() for at in range(min(run.index - 1, 1000)))
    if block.code != "%" and run.strict:
        raise Fault("unreadable-line", "a % line holds nothing else", 0, len(block.code))
    if run.source != 0:
        if run.index > 1:
            end_of_text(run)
    elif not before and not run.opened:
        run.opened = True
    elif run.opened:
        _close(run, lines)
    elif run.strict:
        raise Fault("unreadable-line", "a % line, but the first line of the file is none", 0, 1,
                    "open the file with % as well, or delete it")  # fmt: skip
    elif run.blocks_run == 1:
        run.opened = True
    elif not _code_after(run, lines):
        run.carriage.finish()
        run.ended = True
    else:
        raise Fault("ignored-word", "a % line in the middle of the program is passed over", 0,
                    1, level="warning")  # fmt: skip


def _close(run: Interpreter, lines: Sequence[str]) -> None:
    run.flush()
    run.carriage.finish()
    run.ended = True
    if not run.strict and _code_after(run, lines):
        run.tell(
            Fault(
                "ignored-word",
                "the program goes on after its closing % line; nothing there is read",
                0,
                1,
                "delete the % line if what follows belongs to the program",
                level="warning",
            )
        )


def _code_after(run: Interpreter, lines: Sequence[str]) -> bool:
    for raw in lines[run.index : run.index + 2000]:
        code = read_block(raw, run.controller).code
        if code and code[0] not in "%":
            return True
    return False


def text_after_end(run: Interpreter) -> None:
    """Tell of code after M2 or M30 that is no subprogram: nothing there is read (3.6.1)."""
    if run.strict or run.source != 0:
        return
    lines = run.sources[0].lines
    for raw in lines[run.index : run.index + 200]:
        code = read_block(raw, run.controller).code
        if not code:
            continue
        if code[0] not in "%O:LN/":
            run.tell(
                Fault(
                    "ignored-word",
                    "the text goes on after the end of the program; nothing there is read",
                    0,
                    len(run.block.code),
                    "take the end out if what follows belongs to the program",
                    level="note",
                )
            )
        return


def label_line(run: Interpreter, block: Block) -> None:
    """Tell when the main program runs into a subprogram, whose name stands here."""
    if len(run.frames) > 1 or run.source != 0 or not len(run.rows):
        return
    run.tell(
        Fault(
            "no-end",
            f"the program runs on into O{block.label}: no M2 or M30 stands before it",
            0,
            len(block.code),
            "end the main program with M30",
            level="warning",
        )
    )


def end_of_text(run: Interpreter) -> None:
    """Come back from a subprogram whose text is over, or end the program."""
    if len(run.frames) > 1:
        run.tell_once(
            Fault(
                "no-end",
                "a subprogram ends without M99",
                0,
                len(run.block.code),
                "write M99 as its last line",
                level="warning",
            )
        )
        run.subprograms.come_back(None)
        return
    run.ended = True
    _missing_end(run)


def _missing_end(run: Interpreter) -> None:
    run.flush()
    file_is_open = run.opened
    help = "end the program with M2 or M30"
    last = Block(run.sources[0].lines[-1] if run.sources[0].lines else "")
    run.carriage.line, run.carriage.source = len(run.sources[0].lines), 0
    if not run.strict and run.block.fault is not None and not last.raw[-1:].isspace():
        run.block = last
        run.tell(
            Fault(
                "truncated",
                "the program stops in a line that cannot be read; the file may be cut off",
                0, len(last.raw), "get the whole file", raw=True, level="warning",
            )
        )  # fmt: skip
        return
    run.block = last
    message = (
        "the file opens with % but never closes"
        if file_is_open
        else "the program ends without M2 or M30"
    )
    level = "error" if run.strict else "warning"
    run.tell(Fault("no-end", message, 0, len(last.raw), help, raw=True, level=level))
