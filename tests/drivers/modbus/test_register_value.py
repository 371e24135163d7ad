"""Values in registers: every type, every order of bytes, and every way of saying "no value"."""

import math
import struct
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.modbus.register_value import (
    ORDERS,
    TYPES,
    ByteOrder,
    RegisterForm,
    RegisterType,
    arrange,
)

PACKED = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}


def on_the_wire(data: bytes, order: ByteOrder) -> tuple[int, ...]:
    """Bytes A, B (C, D) laid into registers in the order that the letters say."""
    letters = "".join(letter for letter in order if "ABCD".index(letter) < len(data))
    laid = bytes(data["ABCD".index(letter)] for letter in letters)
    return struct.unpack(f">{len(laid) // 2}H", laid)


def test_the_order_of_the_letters_is_the_order_on_the_wire() -> None:
    data = bytes.fromhex("12 34 56 78")
    laid = {order: arrange(on_the_wire(data, order), order) for order in ORDERS}
    assert set(laid.values()) == {0x12345678}
    assert on_the_wire(data, "CDAB") == (0x5678, 0x1234)
    assert on_the_wire(data, "BADC") == (0x3412, 0x7856)
    assert on_the_wire(data, "DCBA") == (0x7856, 0x3412)


# The bits by which devices say "no value": IEEE 754 for NaN and infinity; SCPI-1999 volume 1 for
# 9.9E37 and 9.91E37; all others common practice, no source.
NO_VALUES: list[tuple[RegisterType, str]] = [
    *((kind, bits) for kind in ("int16", "uint16") for bits in ("FFFF", "7FFF", "8000")),
    *(
        (kind, bits)
        for kind in ("int32", "uint32")
        for bits in ("FFFFFFFF", "7FFFFFFF", "80000000")
    ),
    ("float32", "7FC00000"),
    ("float32", "FFC00000"),
    ("float32", "7F800001"),
    ("float32", "FFFFFFFF"),
    ("float32", "7FFFFFFF"),
    ("float32", "7F800000"),
    ("float32", "FF800000"),
    ("float32", struct.pack(">f", -3.4e38).hex()),
    ("float32", struct.pack(">f", 3.4e38).hex()),
    ("float32", "FF7FFFFF"),
    ("float32", struct.pack(">f", 9.91e37).hex()),
    ("float32", struct.pack(">f", 9.9e37).hex()),
    ("float32", struct.pack(">f", -9.9e37).hex()),
]


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize(("kind", "bits"), NO_VALUES)
def test_no_value_never_becomes_a_number(kind: RegisterType, bits: str, order: ByteOrder) -> None:
    registers = on_the_wire(bytes.fromhex(bits), order)
    number = RegisterForm(kind, order, scale=0.01).read(registers)
    assert number.value is None
    assert number.why


@pytest.mark.parametrize(
    ("kind", "bits", "says"),
    [
        ("int16", "FFFF", "no value (FFFF)"),
        ("uint32", "80000000", "no value (80000000)"),
        ("float32", "7FC00000", "not a number (7FC00000)"),
        ("float32", "7F800000", "no value (inf)"),
        ("float32", struct.pack(">f", -3.4e38).hex(), "no value (-3.4e+38)"),
        ("float32", struct.pack(">f", 3.3e38).hex(), "too large to be a value"),
    ],
)
def test_why_there_is_no_value_is_told(kind: RegisterType, bits: str, says: str) -> None:
    number = RegisterForm(kind).read(on_the_wire(bytes.fromhex(bits), "ABCD"))
    assert (number.value, number.why) == (None, says)


def test_a_float_is_scaled_and_its_minus_nothing_is_plain_nothing() -> None:
    assert RegisterForm("float32", scale=4.0).read((0x4148, 0)).value == 50.0  # 12.5, IEEE 754
    nothing = RegisterForm("float32").read((0x8000, 0)).value
    assert nothing is not None
    assert nothing == 0.0
    assert math.copysign(1.0, nothing) == 1.0


@pytest.mark.parametrize("kind", TYPES)
def test_bits_of_the_users_own_mean_no_value(kind: RegisterType) -> None:
    width = RegisterForm(kind).width
    registers = (0x1234,) * width
    bits = arrange(registers, "ABCD")
    assert RegisterForm(kind).read(registers).value is not None
    assert RegisterForm(kind, no_values=frozenset({bits})).read(registers).value is None


def test_minus_one_is_a_value_where_the_description_says_so() -> None:
    form = RegisterForm("int16", scale=0.1, true_values=frozenset({0xFFFF}))
    assert form.read((0xFFFF,)).value == -0.1


def test_types_are_known_to_the_letter() -> None:
    assert set(PACKED) == set(get_args(RegisterType)) == set(TYPES)


@given(data=st.data(), order=st.sampled_from(ORDERS), kind=st.sampled_from(TYPES))
def test_a_value_comes_back_as_it_was_sent(
    data: st.DataObject, order: ByteOrder, kind: RegisterType
) -> None:
    raw = data.draw(
        st.binary(min_size=struct.calcsize(PACKED[kind]), max_size=struct.calcsize(PACKED[kind]))
    )
    sent = float(struct.unpack(PACKED[kind], raw)[0])
    number = RegisterForm(kind, order).read(on_the_wire(raw, order))
    if number.value is None:
        assert raw.hex().upper() in {bits.upper() for _, bits in NO_VALUES} or (
            kind == "float32" and (not math.isfinite(sent) or abs(sent) > 9.8e37)
        )
    else:
        assert number.value == pytest.approx(sent, rel=1e-11)
        assert math.copysign(1.0, number.value) > 0 or number.value < 0
