"""Applies faults to answers on their way from the supply to the wire."""

import random
from dataclasses import dataclass, replace

from simulators.exchange import End, Exchange
from simulators.fault import CODES, ECHOES, UNPLUGGINGS, WHERES, Fault
from simulators.faults import Faults


@dataclass(frozen=True, slots=True)
class Piece:
    """Bytes, how long they wait from the moment when the answer could go, and how they come."""

    data: bytes
    wait_s: float = 0.0
    per_byte_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Outage:
    """What the transport is to do: a reboot, or an unplugging."""

    is_reboot: bool
    how: str
    seconds: float
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Passed:
    """What has become of one exchange."""

    exchange: Exchange
    pieces: tuple[Piece, ...]
    outage: Outage | None = None


class FaultTrack:
    """Lies between one protocol's end and its wire.

    Parameters
    ----------
    end
        The protocol's end.
    faults
        Of the supply; shared by all its links.
    """

    def __init__(self, end: End, faults: Faults) -> None:
        self._end = end
        self._faults = faults
        self._kept = b""

    def prepare(self, t_s: float) -> None:
        """Let the end put on another name, before the question that is to meet it."""
        fault = self._faults.coming(t_s)
        if fault is not None and fault.kind == "identity" and not self._faults.posing:
            self._faults.posing = fault.polls
            self._end.pose_as(fault.serial)

    def let_pass(self, exchange: Exchange) -> Passed:
        """Say what the wire carries for an exchange."""
        faults = self._faults
        fault, chance = faults.take(exchange.t_s)
        is_posing = faults.posing > 0
        if is_posing:
            faults.posing -= 1
            if not faults.posing:
                self._end.pose_as(None)
        kept, self._kept = self._kept, b""
        pieces, outage = (
            ((Piece(kept + exchange.sent),), None)
            if fault is None
            else self._strike(fault, exchange, kept, chance)
        )
        kind = fault.kind if fault is not None else "identity" if is_posing else None
        pieces = tuple(piece for piece in pieces if piece.data)
        sent = b"".join(piece.data for piece in pieces)
        return Passed(replace(exchange, sent=sent, fault=kind), pieces, outage)

    def _strike(
        self, fault: Fault, exchange: Exchange, kept: bytes, chance: random.Random
    ) -> tuple[tuple[Piece, ...], Outage | None]:
        answer, asked = kept + exchange.sent, exchange.asked
        whole = Piece(answer)
        match fault.kind:
            case "late":
                spread = chance.uniform(-fault.spread_s, fault.spread_s)
                return (Piece(answer, max(fault.lasts_s() + spread, 0.0)),), None
            case "early":
                return (whole, Piece(answer, fault.lasts_s())), None
            case "partial":
                cut = chance.randrange(len(answer) or 1) if fault.count is None else fault.count
                rest = () if fault.rest_s is None else (Piece(answer[cut:], fault.rest_s),)
                return (Piece(answer[:cut]), *rest), None
            case "merged":
                self._kept = answer
                return (), None
            case "noise":
                noise = fault.noise(chance)
                where = fault.where or chance.choice(WHERES)
                before, after = noise * (where != "after"), noise * (where == "after")
                return (Piece(before + answer * (where != "instead") + after),), None
            case "garbled":
                return (Piece(_garbled(answer, fault.count, chance)),), None
            case "echo":
                return _echoed(fault, asked, answer, chance), None
            case "exception":
                code = chance.choice(CODES) if fault.code is None else fault.code
                refused = self._end.refusal(asked, code) if exchange.sent else b""
                return (Piece(kept + refused),), None
            case "mute":
                return (), None
            case "drip":
                return (Piece(answer, per_byte_s=fault.lasts_s()),), None
            case "identity":
                return (whole,), None
            case "reboot":
                self._end.restart()
                return (), Outage(True, "refuse", fault.lasts_s())
            case "unplug":
                how: str = fault.how or chance.choice(UNPLUGGINGS)
                return (), Outage(False, how, fault.lasts_s(), fault.name)


def _garbled(answer: bytes, index: int | None, chance: random.Random) -> bytes:
    if not answer:
        return b""
    index = chance.randrange(len(answer)) if index is None else index % len(answer)
    garbled = answer[index] ^ chance.randint(1, 255)
    return answer[:index] + bytes((garbled,)) + answer[index + 1 :]


def _echoed(fault: Fault, asked: bytes, answer: bytes, chance: random.Random) -> tuple[Piece, ...]:
    how = fault.how or chance.choice(ECHOES)
    match how:
        case "minus-last":
            return (Piece(asked[:-1] + answer),)
        case "delayed":
            return (Piece(asked + answer, fault.lasts_s()),)
        case "doubled":
            return (Piece(asked + asked + answer),)
        case _:
            return (Piece(asked + answer),)
