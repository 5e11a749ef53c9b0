"""JSON as it is written everywhere, with nothing in it that a terminal would act on."""

from __future__ import annotations

import json
import re
from typing import Any, Final

#: What a terminal or an editor acts on instead of showing it, and the halves of pairs that no
#: encoding can write (from names of files that are not UTF-8).
_ACTIVE: Final = re.compile(
    "[\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ud800-\udfff]"
)


def dumps(data: Any) -> str:
    """Write JSON the same way everywhere; NaN is a fault of ours, not of the reader.

    JSON itself asks for escapes below U+0020 only (RFC 8259, 7).
    """
    text = json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False)
    return _ACTIVE.sub(lambda found: f"\\u{ord(found.group()):04x}", text)
