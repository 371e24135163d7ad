"""Which states are believed, by volts and amps; the rated amps are 10."""

import pytest

from drivers.number import Number, reading_of
from drivers.output import believed
from drivers.reading import Mode

OFF, OUT = Mode.OUTPUT_OFF, Mode.CUT_OUT
CV, CC = Mode.CONSTANT_VOLTAGE, Mode.CONSTANT_CURRENT


@pytest.mark.parametrize(
    ("volts", "amps", "agree"),
    [
        (9.0, 8.0, {CV, CC}),  # it delivers
        (0.02, 0.01, {OFF, OUT}),  # dead
        (2.4, 0.0, {OFF, OUT}),  # the bath's own polarisation
        (11.8, 0.0, {OFF, CV, CC}),  # nothing connected: or switched off, and its volts fade
        (0.4, 6.0, {CV, CC}),  # a short circuit
        (None, None, {OFF, OUT, CV, CC} - {OUT}),
    ],
)
def test_a_state_is_believed_where_volts_and_amps_agree(
    volts: float | None, amps: float | None, agree: set[Mode]
) -> None:
    assert {mode for mode in (OFF, OUT, CV, CC) if believed(mode, volts, amps, 10.0) is mode} == (
        agree
    )


def test_every_reading_is_held_against_its_state() -> None:
    numbers = {"volts": Number(9.0), "amps": Number(8.0)}
    assert reading_of(numbers, 15.0, 10.0, OFF, 0.0).mode is Mode.UNKNOWN
    assert reading_of(numbers, 15.0, 10.0, CC, 0.0).mode is CC
