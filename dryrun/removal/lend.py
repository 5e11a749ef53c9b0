"""Arrays lent to inner kernels as bare addresses, so that nobody counts their users.

numba counts the users of every array that a function takes or hands on, with an instruction that
makes threads wait for each other; in kernels that are called for each block of 64 cells that was
more than half of all time. So the outermost kernel lends them: `lend` gives the address, and the
innermost functions make an array of it again, which is free.

Only arrays that came in as arguments may be lent, because their owner holds them until the kernel
returns. An array made inside would be given back after its last use by name.

Run as plain Python or with NUMBA_BOUNDSCHECK=1 an array is lent as itself, so there every index
is checked as usual.
"""

from __future__ import annotations

from typing import Any, Final

import numba
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic
from numba.np.arrayobj import populate_array

from dryrun.jit import kernel

_config: Any = numba.config
#: Whether arrays are lent as themselves.
CHECKED: Final = bool(_config.DISABLE_JIT or _config.BOUNDSCHECK)

#: Length of an array made of an address; nobody looks at it.
_LONG: Final = 2**40


def _address(_context: Any, array: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        made = context.make_array(signature.args[0])(context, builder, arguments[0])
        return builder.ptrtoint(made.data, cgutils.intp_t)

    return types.intp(array), generate


def _array_of(dtype: Any, width: int) -> Any:
    """Return a function for kernels that makes an array of an address, in rows if width > 0."""
    array_type = types.Array(dtype, 2 if width else 1, "C")

    def make(_context: Any, address: Any) -> Any:
        def generate(context: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
            size = context.get_abi_sizeof(context.get_data_type(dtype))
            shape = (_LONG, width) if width else (_LONG,)
            strides = (size * width, size) if width else (size,)
            made = context.make_array(array_type)(context, builder)
            pointer = builder.inttoptr(arguments[0], made.data.type)
            populate_array(
                made, data=pointer, shape=[context.get_constant(types.intp, n) for n in shape],
                strides=[context.get_constant(types.intp, n) for n in strides],
                itemsize=context.get_constant(types.intp, size), meminfo=None,
            )  # fmt: skip
            return made._getvalue()

        return array_type(address), generate

    return intrinsic(make)


def _itself(array: Any) -> Any:
    return array


_same: Final = kernel(_itself)

lend: Any = _same if CHECKED else intrinsic(_address)
int32s: Any = _same if CHECKED else _array_of(types.int32, 0)
int64s: Any = _same if CHECKED else _array_of(types.int64, 0)
float64s: Any = _same if CHECKED else _array_of(types.float64, 0)
#: Rows of 64 (a block's cells), 5 (a tally), 9 (a ring of a form), 8 (a tool) and 7 (a piece).
float32_rows: Any = _same if CHECKED else _array_of(types.float32, 64)
int32_rows: Any = _same if CHECKED else _array_of(types.int32, 64)
tally_rows: Any = _same if CHECKED else _array_of(types.int64, 5)
ring_rows: Any = _same if CHECKED else _array_of(types.float64, 9)
number_rows: Any = _same if CHECKED else _array_of(types.float64, 9)
piece_rows: Any = _same if CHECKED else _array_of(types.float64, 9)
