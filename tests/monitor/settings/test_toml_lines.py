"""The lines of keys are found however the file is written, and agree with tomllib."""

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from monitor.settings.toml_lines import line_of, statements

KEY = st.from_regex(r"[a-z_-]{1,6}", fullmatch=True)
VALUE = st.sampled_from(
    ["1", "'a = 1'", '"[b]"', '"#"', "[\n  1,\n  2,\n]", "'''\nx = 1\n[y]\n'''", "{ c = 1 }"]
)


def test_quoted_dotted_and_long_values_are_found() -> None:
    text = "\n".join(
        [
            "# comment = 1",
            'a."b = c".d = 1  # e = 2',
            "long = '''",
            "x = 1",
            "[no.table]",
            "'''",
            "  [ t . 'u v' ]  # note",
            "list = [",
            "  1, # two = 2",
            "]",
            "after = 1",
        ]
    )
    assert [(one.path, one.line) for one in statements(text)] == [
        (("a", "b = c", "d"), 2),
        (("long",), 3),
        (("t", "u v"), 7),
        (("t", "u v", "list"), 8),
        (("t", "u v", "after"), 11),
    ]


def test_a_key_inside_an_inline_table_has_the_line_of_the_table() -> None:
    assert line_of(statements("\na = { b = 1 }"), ("a", "b")) == 2


def test_what_is_nowhere_has_no_line() -> None:
    assert line_of(statements("a = 1"), ("b",)) is None


@given(st.dictionaries(KEY, VALUE, max_size=6), st.dictionaries(KEY, VALUE, max_size=6))
def test_what_tomllib_reads_is_what_is_found(top: dict[str, str], below: dict[str, str]) -> None:
    lines = [f"{key} = {value}" for key, value in top.items()]
    lines.append("[table]")
    lines += [f"{key} = {value}" for key, value in below.items()]
    text = "\n".join(lines)
    found = {one.path: one.line for one in statements(text) if not one.is_table}
    if "table" in top:
        return
    document = tomllib.loads(text)
    expected: set[tuple[str, ...]] = {(key,) for key in document if key != "table"}
    expected |= {("table", key) for key in document["table"]}
    # An inline table of one key is known by that key.
    assert {path[: 2 if path[0] == "table" else 1] for path in found} == expected
    for path, line in found.items():
        assert text.splitlines()[line - 1].startswith(path[1 if path[0] == "table" else 0])
