"""Columns packed and unpacked: equal to the bit, small for what meters send, safe with rubbish."""

import random
import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.store.packing import (
    pack_ints,
    pack_presence,
    pack_texts,
    pack_values,
    unpack_ints,
    unpack_presence,
    unpack_texts,
    unpack_values,
)

int64 = st.integers(-(2**63), 2**63 - 1)


def bits(values: list[float]) -> list[bytes]:
    return [struct.pack("<d", value) for value in values]


@given(st.lists(int64 | st.integers(-300, 300), max_size=50))
def test_whole_numbers_come_back(values: list[int]) -> None:
    assert unpack_ints(pack_ints(values), len(values)).tolist() == values


@given(
    st.lists(
        st.floats(allow_nan=False)
        | st.floats(width=32, allow_nan=False)
        | st.decimals(-100, 100, places=3).map(float),
        max_size=50,
    )
)
def test_values_come_back_to_the_bit(values: list[float]) -> None:
    assert bits(unpack_values(pack_values(values), len(values)).tolist()) == bits(values)


@pytest.mark.parametrize(
    "values",
    [
        [0.0, -0.0],
        [float("inf"), 1.0],
        [5e-324],
        [1.7976931348623157e308],
        [2.0**53 + 1],
        [0.1] * 9,
    ],
    ids=str,
)
def test_awkward_values_come_back_to_the_bit(values: list[float]) -> None:
    assert bits(unpack_values(pack_values(values), len(values)).tolist()) == bits(values)


@given(st.lists(st.none() | st.text(st.characters(codec="utf-8"), max_size=5), max_size=30))
def test_texts_come_back(texts: list[str | None]) -> None:
    assert unpack_texts(pack_texts(texts), len(texts)) == texts


@given(st.lists(st.none() | st.just(0.0), min_size=1, max_size=30))
def test_what_is_there_is_known(values: list[float | None]) -> None:
    there = unpack_presence(pack_presence(values), len(values)) or bytes([1] * len(values))
    assert [bool(one) for one in there] == [value is not None for value in values]


def test_what_a_meter_sends_takes_a_byte_or_two() -> None:
    random.seed(5)
    three_decimals = [round(9 + random.gauss(0, 0.02), 3) for _ in range(4096)]
    floats_of_32_bits = struct.unpack("<4096f", struct.pack("<4096f", *three_decimals))
    assert len(pack_values(three_decimals)) < 1.3 * 4096
    assert len(pack_values(floats_of_32_bits)) < 3.5 * 4096


@pytest.mark.parametrize(
    "blob", [b"", b"x", b"Q" * 40, pack_ints([1, 2]), pack_ints([1, 2, 3])[:-3]]
)
def test_bytes_that_hold_no_such_column_are_refused(blob: bytes) -> None:
    with pytest.raises(ValueError, match=r"column|values"):
        unpack_ints(blob, 3)
    with pytest.raises(ValueError, match=r"column|values"):
        unpack_values(b"\x03" + blob, 3)


@given(st.binary(max_size=60), st.integers(1, 50))
def test_rubbish_is_refused_and_nothing_worse(blob: bytes, count: int) -> None:
    for unpack in (unpack_ints, unpack_values, unpack_texts):
        try:
            assert len(unpack(blob, count)) == count
        except ValueError:
            continue


def test_a_column_cannot_grow_beyond_its_rows() -> None:
    bomb = struct.pack("<cqq", b"B", 0, 0) + zlib.compress(bytes(50_000_000))
    with pytest.raises(ValueError, match="wrong length"):
        unpack_ints(bomb, 1000)
    with pytest.raises(ValueError, match="wrong length"):
        unpack_texts(zlib.compress(b" " * 50_000_000), 1000)
