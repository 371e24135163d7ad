"""Whether bytes that an instrument received only ask."""

import re
from collections.abc import Container

from drivers.modbus.modbus_codec import is_rtu_sound

READS = (3, 4)
_CHANNEL = rb"(?:[ ,](?:\(@[0-9,:]+\)|[A-Z]{1,8}[0-9]{1,2}|[0-9]))?"
_TEXT = re.compile(rb"[^\r\n;?]*\??" + _CHANNEL + rb"[^\r\n;?*:A-Za-z]*[\r\n;]*")


def is_question(data: bytes, known: Container[str]) -> bool:
    """Whether all of `data` asks: reading Modbus frames, texts with "?", or texts of the manual."""
    rest = data
    while rest:
        if len(rest) >= 8 and rest[1] in READS and is_rtu_sound(rest[:8]):
            rest = rest[8:]
        elif (end := rest.find(b"\r\n") + 2) > 1 and _is_ascii_frame(rest[:end]):
            rest = rest[end:]
        elif len(rest) >= 12 and rest[2:6] == b"\0\0\0\6" and rest[7] in READS:
            rest = rest[12:]
        else:
            line = re.split(rb"[\r\n;]", rest, maxsplit=1)[0]
            match = _TEXT.match(rest)
            taken = line if line.decode("latin-1") in known else match[0] if match else b""
            text = taken.decode("latin-1").strip(" \r\n;")
            if not taken and rest[:1] in b"\r\n; ":
                taken = rest[:1]
            elif (text and text not in known and "?" not in text) or not taken:
                return False
            rest = rest[len(taken) :]
    return True


def _is_ascii_frame(line: bytes) -> bool:
    """Modbus over Serial Line V1.02, 2.5.2: unit, function, address, count, LRC in hex digits."""
    try:
        data = bytes.fromhex(line[1:-2].decode("ascii"))
    except (ValueError, UnicodeDecodeError):
        return False
    return line[:1] == b":" and len(data) == 7 and data[1] in READS and sum(data) & 0xFF == 0
