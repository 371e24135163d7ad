"""Descriptions of Modbus supplies: what they may say, and how their requests are planned."""

from pathlib import Path

import pytest

from drivers.errors import BadDescription
from drivers.modbus.modbus_description import ModbusDescription, load_modbus_description
from drivers.modbus.register_blocks import Way
from tests.drivers.fake_registers import DESCRIPTION


def load(tmp_path: Path, text: str) -> ModbusDescription:
    path = tmp_path / "mine.toml"
    path.write_text(text)
    return load_modbus_description(str(path))


def changed(*changes: tuple[str, str]) -> str:
    text = DESCRIPTION
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def forms(way: Way) -> list[tuple[int, int]]:
    places = (way.sentinel, *(block.place for block in way.blocks))
    return [(place.function, place.count) for place in places]


def test_volts_amps_and_status_come_in_one_block(tmp_path: Path) -> None:
    (block,) = load(tmp_path, DESCRIPTION).blocks
    assert {quantity.name for quantity in block.quantities} == {
        "volts",
        "amps",
        "status",
        "celsius",
    }
    assert (block.place.address, block.place.count) == (0, 7)


@pytest.mark.parametrize("name", ["modbus-dc-supply", "modbus-shunt-meter"])
def test_the_shipped_ones_read_volts_and_amps_in_one_block(name: str) -> None:
    description = load_modbus_description(name)
    assert len(description.blocks) == 1


@pytest.mark.parametrize(
    "changes",
    [
        (),
        (("quiet_ms = 0", "quiet_ms = 0\nmost_registers = 6"),),
        (("quiet_ms = 0", "quiet_ms = 0\nmost_registers = 5"), ("address = 2", "address = 60")),
        (("address = 2", "address = 60"), ("registers = 2", "registers = 3")),
        (("address = 2", "address = 60"), ("registers = 2", "registers = 5")),
    ],
)
def test_no_two_replies_are_equally_long(
    tmp_path: Path, changes: tuple[tuple[str, str], ...]
) -> None:
    for way in load(tmp_path, changed(*changes)).serial_ways:
        found = forms(way)
        assert len(set(found)) == len(found) or way.may_refuse


def test_where_replies_must_be_equally_long_the_sentinel_alone_is_of_another_form(
    tmp_path: Path,
) -> None:
    text = changed(("quiet_ms = 0", "quiet_ms = 0\nmost_registers = 2"))
    ways = load(tmp_path, text).serial_ways
    assert ways
    for way in ways:
        sentinel, *blocks = forms(way)
        assert way.may_refuse
        assert sentinel not in blocks
        assert way.has_twins


def test_registers_far_apart_are_read_in_blocks_of_their_own(tmp_path: Path) -> None:
    description = load(tmp_path, changed(("address = 2", "address = 60")))
    assert [sorted(q.name for q in block.quantities) for block in description.blocks] == [
        ["celsius", "status", "volts"],
        ["amps"],
    ]


# The usual counting of manuals: 40001 and 30001 up; common practice, no source.
@pytest.mark.parametrize(
    ("function", "address", "manual"),
    [(3, 107, 40108), (3, 107, 400108), (3, 107, 108), (4, 8, 30009), (4, 8, 300009), (4, 8, 9)],
)
def test_the_manuals_number_agrees_with_the_wire(
    tmp_path: Path, function: int, address: int, manual: int
) -> None:
    old = "function = 3\naddress = 0\nmanual = 40001"
    text = changed((old, f"function = {function}\naddress = {address}\nmanual = {manual}"))
    place = load(tmp_path, text).volts.place
    assert (place.function, place.address) == (function, address)
    assert str(40001 + address if function == 3 else 30001 + address) in place.words


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("manual = 40001", "manual = 40002", "address 0 on the wire"),
        ("manual = 40001", "manual = 30001", "40001"),
        ("manual = 40001", "manual = 0", "manual"),
        ("function = 3", "function = 6", "function"),
        ("function = 3", "function = 16", "function"),
        ("address = 0", "address = 65535", "address"),
        ('type = "float32"', 'type = "float"', "float32"),
        ('type = "float32"', 'type = "float32"\norder = "ACBD"', "ABCD"),
        ('type = "float32"', 'type = "float32"\nscale = 0', "scale"),
        ('type = "float32"', 'type = "float32"\nscle = 1', "scale"),
        ("quiet_ms = 0", "quiet_ms = 501", "quiet_ms"),
        ("quiet_ms = 0", "most_registers = 126", "most_registers"),
        ("quiet_ms = 0", "most_registers = 1", "most_registers"),
        ("quiet_ms = 0", 'bridge_gaps = "yes"', "true or false"),
        ("cut_out_bits = [2]", "cut_out_bits = [16]", "cut_out_bits"),
        ("cut_out_bits = [2]", "cut_out_values = [4]", "cut_out_values"),
        ("registers = 2", "registers = 65", "registers"),
        ('source = "invented"\n[amps]', "[amps]", "source"),
    ],
)
def test_what_cannot_be_is_refused_by_name(tmp_path: Path, old: str, new: str, says: str) -> None:
    with pytest.raises(BadDescription, match=r"mine\.toml") as caught:
        load(tmp_path, changed((old, new)))
    assert says in str(caught.value)
