"""What can be sent: questions of the list, and nothing else."""

from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from drivers.errors import QuestionRefused
from drivers.link.asking_link import AskingLink
from drivers.scpi.scpi_description import load_scpi_description
from drivers.scpi.scpi_ends import all_questions
from drivers.text.scpi_question import ScpiQuestion
from drivers.text.text_question import wires


class Wire:
    """Keeps what is written."""

    place = "wire"

    def __init__(self) -> None:
        self.sent = b""

    def open(self, deadline_ns: int) -> None: ...

    def close(self) -> None: ...

    def write(self, data: bytes, deadline_ns: int) -> None:
        self.sent += data

    def read(self, deadline_ns: int) -> bytes:
        return b""


@pytest.mark.parametrize(
    "text",
    [
        "*IDN?",
        "MEAS:VOLT?",
        ":MEASure:CURRent:DC?",
        "MEAS:VOLT?;:MEAS:CURR?",
        "STAT:QUES:COND?",
        "CURR:PROT:TRIP?",
        "OUTP?",
        "*ESR?",
        # Channels: a list as SCPI-1999 volume 1, 8.3.2 writes it (clause from memory), a name, or
        # a number (common practice, no source).
        "MEAS:VOLT? (@1)",
        "MEAS:VOLT? (@1,3)",
        "MEAS:CURR? CH1",
        "MEAS:CURR? P25V",
        "MEAS:VOLT? 1",
        "MEAS:VOLT?,1",
        "MEAS:VOLT? (@1);:MEAS:CURR? (@1)",
        "V1O?",
        "IOUT1?",
    ],
)
def test_questions_can_be_asked(text: str) -> None:
    assert ScpiQuestion(text).wire == text.encode() + b"\n"


@pytest.mark.parametrize(
    "text",
    [
        # Settings and actions of SCPI-1999 volume 4 (DC power supplies) and IEEE 488.2-1992.
        "VOLT 5",
        "CURR 3.0",
        "VOLT:PROT 13",
        "OUTP ON",
        "OUTP 1",
        "OUTP:PROT:CLE",
        "SYST:REM",
        "SYST:LOC",
        "SYST:RWL",
        "*RST",
        "*CLS",
        "*SAV 1",
        "*TRG",
        "INIT",
        # The same, hidden.
        "VOLT 5;VOLT?",
        "MEAS:VOLT?;OUTP ON",
        "MEAS:VOLT?;*RST",
        "OUTP ON;MEAS:VOLT?",
        "VOLT 5 ?",
        "VOLT 5?",
        "MEAS:VOLT?\nOUTP ON",
        "MEAS:VOLT?\n",
        "OUTP ON\nMEAS:VOLT?",
        "MEAS:VOLT?\rVOLT?",
        "VOLT\t5;:VOLT?",
        "VOLT? MAX",
        "VOLT? 12",
        "VOLT? 1.2",
        "OUTP? ON",
        "VOLT?,1,12",
        "MEAS:VOLT?;",
        ";MEAS:VOLT?",
        "?",
        "*?",
        "::VOLT?",
        "ＶＯＬＴ?",
        "",
        # Questions that make the instrument act: IEEE 488.2-1992, 10.2 (*CAL?) and 10.38 (*TST?).
        "*TST?",
        "*tst?",
        "*CAL?",
        "CAL:ALL?",
        ":CALibration?",
        "MEAS:VOLT?;*TST?",
        "TEST:ALL?",
        "DIAG:FAN?",
        "INIT?",
    ],
)
def test_settings_and_actions_cannot_be_made_into_questions(text: str) -> None:
    with pytest.raises(QuestionRefused):
        ScpiQuestion(text)


def test_only_known_ends_can_end_a_question() -> None:
    assert ScpiQuestion("*IDN?", "CR LF").wire == b"*IDN?\r\n"
    assert ScpiQuestion("*IDN?", "none").wire == b"*IDN?"
    with pytest.raises(QuestionRefused):
        ScpiQuestion("*IDN?", ";OUTP ON\n")


@given(st.text(max_size=30))
@example("A? (@0)")
@example("MEAS:VOLT? CH1;:MEAS:CURR?,2")
def test_whatever_passes_asks_in_every_part(text: str) -> None:
    try:
        question = ScpiQuestion(text)
    except QuestionRefused:
        return
    assert question.wire.endswith(b"\n")
    for part in question.wire.removesuffix(b"\n").split(b";"):
        header, mark, channel = part.partition(b"?")
        assert mark == b"?"
        assert not set(header) & set(b" \t\r\n,")
        assert not set(channel) & set(b"?\t\r\n.+-*"), "no set value can be written so"


@pytest.mark.parametrize(
    "data",
    [b"OUTP ON\n", b"MEAS:VOLT?", b"MEAS:VOLT?\nOUTP ON\n", b"", b"*IDN?\n*IDN?\n", b"OUTP?\n"],
)
def test_what_is_not_on_the_list_is_refused_before_a_byte_leaves(data: bytes) -> None:
    wire = Wire()
    link = AskingLink(wire, wires([ScpiQuestion("*IDN?"), ScpiQuestion("MEAS:VOLT?")]))
    with pytest.raises(QuestionRefused):
        link.write(data, 0)
    assert wire.sent == b""
    link.write(b"MEAS:VOLT?\n", 0)
    assert wire.sent == b"MEAS:VOLT?\n"


def test_the_shipped_description_asks_only_these() -> None:
    """Typed by hand: what the generic description may ever send."""
    questions = all_questions(load_scpi_description("scpi-dc-supply"))
    # For answers that have no end, each may be joined with the sentinel.
    sent = {question.text.removesuffix(";*IDN?") for question in questions}
    quantities = {"MEAS:VOLT?", "MEAS:CURR?", "MEAS:VOLT?;:MEAS:CURR?"}
    registers = {
        "STAT:QUES:COND?",
        "STAT:OPER:COND?",
        "OUTP?",
        "STAT:QUES:COND?;:STAT:OPER:COND?",
        "STAT:QUES:COND?;:OUTP?",
        "STAT:OPER:COND?;:OUTP?",
        "STAT:QUES:COND?;:STAT:OPER:COND?;:OUTP?",
    }
    assert sent == quantities | registers | {"*IDN?", "SYST:ERR?"}


def test_only_the_links_and_their_guard_write() -> None:
    """No other file of the drivers hands bytes to a port or a socket."""
    folder = Path(__file__).parents[3] / "drivers"
    writers = {
        path.name
        for path in folder.rglob("*.py")
        if any(word in path.read_text("utf-8") for word in (".write(", ".send(", ".sendall("))
    }
    links = {"serial_link.py", "tcp_link.py", "shared_link.py", "usbtmc_link.py"}
    guards = {"asking_link.py"}
    asking = {"dialogue.py"}
    assert writers == links | guards | asking
