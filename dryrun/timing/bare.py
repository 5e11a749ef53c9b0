"""Arrays that nobody counts the users of, for the kernels of this room.

numba counts the users of every array that one compiled function hands to another, with an
instruction that makes threads wait for each other; for kernels that call a dozen small functions
per row that was half of all time. A bare array is the same array, shape and all, but for the note
of who owns it; counting then has nothing to do. Its owner must outlive it: only arguments of the
outermost kernel may be made bare, which the caller holds until it returns.
"""

from __future__ import annotations

from typing import Any

import numba
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

_unpacked: Any = cgutils.unpack_tuple
_null: Any = cgutils.get_null_value
_copy: Any = cgutils.copy_struct


def _bared(context: Any, builder: Any, kind: Any, value: Any) -> Any:
    """Build the bare form of a value: an array, a tuple of values, or anything else as it is."""
    if isinstance(kind, types.Array):
        given = context.make_array(kind)(context, builder, value)
        made = context.make_array(kind)(context, builder)
        _copy(made, given)
        made.meminfo = _null(made.meminfo.type)
        made.parent = _null(made.parent.type)
        return made._getvalue()
    if isinstance(kind, types.BaseTuple):
        kinds: Any = kind
        parts = zip(kinds, _unpacked(builder, value, len(kind)), strict=True)
        bared = [_bared(context, builder, of, part) for of, part in parts]
        return context.make_tuple(builder, kind, bared)
    return value


def _bare(_context: Any, value: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return _bared(context, builder, signature.args[0], arguments[0])

    return value(value), generate


_config: Any = numba.config
bare: Any = (lambda value: value) if _config.DISABLE_JIT else intrinsic(_bare)
