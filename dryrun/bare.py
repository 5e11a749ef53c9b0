"""Arrays that nobody counts the users of, for kernels that call many small ones.

numba counts the users of every array that one compiled function hands to another: two calls for
each array, and an instruction that makes threads wait for each other. For kernels that call a dozen
small functions per row that was more than half of all time. A bare array is the same memory with
the same shape, of a type whose users are not counted. Its owner must outlive it: only arguments of
the outermost kernel may be made bare, which the caller holds until it returns.
"""

from __future__ import annotations

from typing import Any

import numba
from numba import types
from numba.core import cgutils
from numba.core.datamodel import models, registry
from numba.extending import intrinsic

_Array: Any = types.Array
_ArrayModel: Any = models.ArrayModel
_register: Any = registry.register_default
_Tuple: Any = types.Tuple
_NamedTuple: Any = types.NamedTuple
_unpacked: Any = cgutils.unpack_tuple


class Bare(_Array):  # type: ignore[misc]
    """The type of a bare array; read and written like any other, element by element."""

    def __init__(self, like: Any) -> None:
        readonly = "" if like.mutable else "readonly "
        super().__init__(
            like.dtype,
            like.ndim,
            like.layout,
            readonly=not like.mutable,
            name=f"{readonly}bare({like.dtype}, {like.ndim}d, {like.layout})",
            aligned=like.aligned,
        )


@_register(Bare)
class _BareModel(_ArrayModel):  # type: ignore[misc]
    """Laid out in memory as an array, with nothing in it to count."""

    def traverse(self, _builder: Any) -> list[Any]:
        return []

    def inner_models(self) -> list[Any]:
        return []

    def contains_nrt_meminfo(self) -> bool:
        return False


def type_of(kind: Any) -> Any:
    """Return the type of a value's bare form."""
    if isinstance(kind, types.Array):
        return Bare(kind)
    if isinstance(kind, types.NamedTuple):
        return _NamedTuple([type_of(part) for part in kind], kind.instance_class)
    if isinstance(kind, types.BaseTuple):
        parts: Any = kind
        return _Tuple([type_of(part) for part in parts])
    return kind


def _bared(context: Any, builder: Any, kind: Any, value: Any) -> Any:
    """Build the bare form of a value: an array, a tuple of values, or anything else as it is."""
    if isinstance(kind, types.BaseTuple):
        kinds: Any = kind
        parts = zip(kinds, _unpacked(builder, value, len(kind)), strict=True)
        bared = [_bared(context, builder, of, part) for of, part in parts]
        return context.make_tuple(builder, type_of(kind), bared)
    return value


def _bare(_context: Any, value: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return _bared(context, builder, signature.args[0], arguments[0])

    return type_of(value)(value), generate


_config: Any = numba.config
bare: Any = (lambda value: value) if _config.DISABLE_JIT else intrinsic(_bare)
