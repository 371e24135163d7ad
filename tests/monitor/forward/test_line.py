"""Line protocol: equal to what the client library's own point writes, and read back the same."""

from hypothesis import given
from hypothesis import strategies as st
from influxdb_client.client.write.point import Point

from monitor.forward.line import Field, head, line
from tests.servers.lines import parse

# Names as a bench gives them; what a line cannot hold is the next test's.
NAMES = st.text(st.characters(exclude_categories=["C", "Z"], exclude_characters="\\"), min_size=1)
SPACED = st.lists(NAMES, min_size=1, max_size=3).map(" ".join)
MEASUREMENTS = SPACED.filter(lambda name: not name.startswith("#"))  # else it is a comment
TEXTS = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]))
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
TIMES = st.integers(min_value=0, max_value=2**62)


def by_the_library(
    measurement: str, tags: dict[str, str], fields: dict[str, Field], utc_ns: int
) -> str:
    point = Point(measurement)  # type: ignore[no-untyped-call]  # the library types it not
    for key, value in tags.items():
        point.tag(key, value)  # type: ignore[no-untyped-call]  # the library types it not
    for key, one in fields.items():
        point.field(key, one)  # type: ignore[no-untyped-call]  # the library types it not
    text: str = point.time(utc_ns).to_line_protocol()  # type: ignore[no-untyped-call]  # nor this
    return text


def test_the_library_and_we_write_the_same_hard_line() -> None:
    tags = {"rig,1": "a b=c"}
    fields: dict[str, Field] = {"amps": 1.5, "n": 3.0, "note": 'say "hi" \\ x', "ok": True}
    ours = line(head("bath run", tags), fields, 1_700_000_000_000_000_000)
    # influxdb-client 1.50.0 wrote this, with n=3i for the integer 3; here numbers are floats.
    assert ours == (
        r"bath\ run,rig\,1=a\ b\=c "
        r'amps=1.5,n=3,note="say \"hi\" \\ x",ok=true 1700000000000000000'
    )
    assert ours == by_the_library("bath run", tags, fields, 1_700_000_000_000_000_000)


@given(MEASUREMENTS, st.dictionaries(SPACED, SPACED, max_size=3), st.dictionaries(
    NAMES, NUMBERS | TEXTS | st.booleans(), min_size=1, max_size=4), TIMES)  # fmt: skip
def test_the_library_and_we_write_the_same(
    measurement: str, tags: dict[str, str], fields: dict[str, Field], utc_ns: int
) -> None:
    ordered = dict(sorted(fields.items()))
    ours = line(head(measurement, tags), ordered, utc_ns)
    assert ours == by_the_library(measurement, tags, ordered, utc_ns)


@given(st.text(min_size=1), st.text(), st.text(), NUMBERS)
def test_whatever_names_and_texts_hold_a_line_is_one_line_that_can_be_read(
    measurement: str, tag: str, text: str, number: float
) -> None:
    ours = line(head(measurement, {"tag": tag}), {"text": text, "number": number}, 5)
    assert ours is not None
    assert len(ours.splitlines()) == 1
    _, tags, fields, time_ns = parse(ours)
    assert fields["number"] == number
    assert time_ns == 5
    if text.isprintable():
        assert fields["text"] == text
    if tag.isprintable() and "\\" not in tag:
        assert tags == ((("tag", tag),) if tag else ())


@given(st.integers(min_value=-(2**53), max_value=2**53) | NUMBERS)
def test_a_number_is_a_float_at_the_server_whether_whole_or_not(number: float) -> None:
    ours = line("bath", {"amps": number}, 5)
    assert ours is not None
    value = parse(ours)[2]["amps"]
    assert type(value) is float
    assert value == number


def test_what_is_unknown_or_no_number_is_left_out() -> None:
    fields = {"a": None, "b": float("nan"), "c": float("inf"), "d": -float("inf")}
    assert line("bath", fields, 5) is None
    assert line("bath", {**fields, "e": 0.0}, 5) == "bath e=0 5"
