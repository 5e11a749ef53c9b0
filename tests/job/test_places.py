"""Line and column of every key of a TOML text."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryrun.job.places import key_places

TEXT = '''\
# a comment with [brackets] and = signs
title = "a # b ] = \\" c"
"quoted key" = 'x'
multi = """
[not.a.table]
fake = 1 \\"""
"""
lits = \'\'\'
also = "not"\'\'\'
list = [
  1, # one ]
  [2, 3],
  { a = 1, "b.c" = { d = "}" } },
]
dotted.deep.key = 1979-05-27T07:32:00Z

[ table . inner ]
key = -1.5e3
[[stages]]
name = "one"
  [[stages.allow]]
  code = "x"
  [[stages.allow]]
  code = "y"
[[stages]]
name = "two"
[stages.more]
a = true
'''


@pytest.mark.parametrize(
    ("path", "line", "column"),
    [
        (("title",), 2, 1),
        (("quoted key",), 3, 1),
        (("multi",), 4, 1),
        (("lits",), 8, 1),
        (("list",), 10, 1),
        (("list", 0), 11, 3),
        (("list", 1), 12, 3),
        (("list", 1, 1), 12, 7),
        (("list", 2, "a"), 13, 5),
        (("list", 2, "b.c"), 13, 12),
        (("list", 2, "b.c", "d"), 13, 22),
        (("dotted", "deep", "key"), 15, 1),
        (("table", "inner"), 17, 1),
        (("table", "inner", "key"), 18, 1),
        (("stages", 0), 19, 1),
        (("stages", 0, "name"), 20, 1),
        (("stages", 0, "allow", 0, "code"), 22, 3),
        (("stages", 0, "allow", 1, "code"), 24, 3),
        (("stages", 1), 25, 1),
        (("stages", 1, "name"), 26, 1),
        (("stages", 1, "more"), 27, 1),
        (("stages", 1, "more", "a"), 28, 1),
    ],
)
def test_finds_keys_in_every_form(path, line, column):
    """Find keys through headers, dots, quotes, inline tables, arrays and multi-line text."""
    assert (line, column) == key_places(TEXT)[path]


def paths_of(value, path=()):
    """Yield the path of every key and item of parsed TOML."""
    if path:
        yield path
    if isinstance(value, dict):
        for name, item in value.items():
            yield from paths_of(item, (*path, name))
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from paths_of(item, (*path, number))


def test_no_key_of_the_sample_is_missed():
    """Know a place for every key that the standard library's reader finds, and no other."""
    assert set(paths_of(tomllib.loads(TEXT))) == set(key_places(TEXT))


NAMES = st.text("ab-_1", min_size=1, max_size=3) | st.text('a .#"[]=\\\t', min_size=1, max_size=4)
SCALARS = (
    st.integers(-99, 99)
    | st.booleans()
    | st.floats(-10, 10)
    | st.text("ab#[]{}=,.'\"\\ \n", max_size=6)
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES, inner, max_size=3),
    max_leaves=8,
)


def quote(text):
    escapes = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t"}
    return '"' + "".join(escapes.get(c, c) for c in text) + '"'


def write_value(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return quote(value)
    if isinstance(value, list):
        return "[" + ", ".join(write_value(item) for item in value) + "]"
    if isinstance(value, dict):
        pairs = (f"{quote(name)} = {write_value(item)}" for name, item in value.items())
        return "{ " + ", ".join(pairs) + " }"
    return repr(float(value)) if isinstance(value, float) else repr(value)


@given(st.dictionaries(NAMES, VALUES, max_size=4), st.integers(0, 3))
def test_any_document_is_walked_like_the_standard_library_reads_it(tree, blanks):
    """Agree with tomllib on which keys there are, whatever they hold, and on their lines."""
    lines = []
    for name, value in tree.items():
        lines += ["# comment"] * blanks + [f"{quote(name)} = {write_value(value)}"]
    text = "\n".join(lines) + "\n"

    places = key_places(text)

    assert set(paths_of(tomllib.loads(text))) == set(places)
    for number, name in enumerate(tree):
        assert ((number + 1) * (blanks + 1), 1) == places[(name,)]
