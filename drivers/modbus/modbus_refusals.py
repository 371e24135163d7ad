"""What the codes of a Modbus exception mean, and what to do.

Names of the codes: Modbus Application Protocol V1.1b3, 7. What to do: common practice, no source.
"""

REFUSALS_OF_KIND = frozenset({1, 2, 3})
"""Codes by which a device says that it never answers such a question."""

ACKNOWLEDGED, BUSY, GATEWAY_NO_PATH, GATEWAY_NO_TARGET = 5, 6, 0x0A, 0x0B
GATEWAY_SILENCES = frozenset({GATEWAY_NO_PATH, GATEWAY_NO_TARGET})
"""Codes of a gateway behind which there is no such unit."""
BACK_OFF = frozenset({ACKNOWLEDGED, BUSY})
"""Codes by which a device says that it is busy for longer: it is left alone for a while."""

SILENCES = frozenset({GATEWAY_NO_TARGET})
"""Codes by which a gateway says that nothing came: as good as no answer."""

_WORDS = {
    1: (
        "illegal function",
        "it does not know this kind of register: try the other function, 3 or 4, in the "
        "description",
    ),
    2: (
        "illegal data address",
        "it has no such register: check the addresses in the description (a manual that counts "
        "from 1 is one ahead of the wire), and that no hole lies between them",
    ),
    3: (
        "illegal data value",
        "it does not give this many registers at once: lower most_registers in the description",
    ),
    4: (
        "server device failure",
        "it failed while answering: look at its panel; switch it off and on if that stays so",
    ),
    5: ("acknowledge", "it needs longer for this: it is left alone for a while"),
    6: ("server device busy", "it is busy: it is left alone for a while"),
    8: ("memory parity error", "its memory is damaged: have it serviced"),
    0x0A: (
        "gateway path unavailable",
        "the gateway is reached, but has no line to this unit: check the unit number and the "
        "gateway's own settings",
    ),
    0x0B: (
        "gateway target failed to respond",
        "the gateway is reached, the supply does not answer behind it: check the RS-485 cable, "
        "the supply's power and the unit number",
    ),
}


def refusal_words(code: int) -> str:
    """Such as "exception 02, illegal data address: it has no such register: ...".

    Examples
    --------
    >>> refusal_words(6)
    'exception 06, server device busy: it is busy: it is left alone for a while'
    """
    name, cure = _WORDS.get(code, ("of no standard meaning", "look it up in the supply's manual"))
    return f"exception {code:02X}, {name}: {cure}"
