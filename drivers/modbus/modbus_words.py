"""What happened on a Modbus link in, our error with what came and the cure out."""

from drivers.errors import GarbledAnswer, NoAnswer, SupplyRefused, SupplySilent
from drivers.link.link import LAST_BYTES
from drivers.modbus.modbus_refusals import SILENCES, refusal_words
from drivers.modbus.register_question import RegisterQuestion


def silence(who: str, question: RegisterQuestion, waited_s: float, late: int) -> NoAnswer:
    """Nothing has come."""
    hint = "; replies have come late: try a longer timeout" if late else ""
    return NoAnswer(
        f"{who}: asked for {question.words}, nothing came within {waited_s:g} s: check that the "
        f"supply is on, its cable, its baud rate, and that it is unit {question.unit}{hint}"
    )


def long_silence(who: str, question: RegisterQuestion, times: int) -> SupplySilent:
    """Nothing has come, several times in a row."""
    return SupplySilent(
        f"{who}: asked for {question.words}, nothing came, {times} times in a row: check that the "
        f"supply is on, its cable, its baud rate, and that it is unit {question.unit}"
    )


def unreadable(who: str, question: RegisterQuestion, data: bytes, times: int) -> GarbledAnswer:
    """Bytes have come that make no reply."""
    cure = "it is asked again"
    if times > 1:
        cure = (
            f"{times} times now: bytes arrive, but no frames: check baud rate and parity, the "
            "wires A and B (swapped?), and that no other program talks on this line"
        )
    return GarbledAnswer(
        f"{who}: asked for {question.words}, got {len(data)} bytes that are no reply to it "
        f"(the last: {data[-LAST_BYTES:].hex(' ')}): {cure}"
    )


def refused(who: str, question: RegisterQuestion, code: int) -> SupplyRefused | NoAnswer:
    """An exception has come; where a gateway stands for a silent supply, it is no answer."""
    words = f"{who}: asked for {question.words}, got {refusal_words(code)}"
    if code in SILENCES:
        return NoAnswer(words)
    return SupplyRefused(words)
