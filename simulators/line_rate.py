"""How long bytes take on a serial line; a pseudo-terminal has no rate of its own.

Modbus over Serial Line V1.02, 2.5.1.1: a character is 11 bits (8E1), a frame is followed by a
silence of at least 3.5 characters; over 19200 baud that is 1.750 ms whatever the rate.
"""

from dataclasses import dataclass

FIXED_OVER_BAUD = 19200
FIXED_GAP_S = 0.00175


@dataclass(frozen=True, slots=True)
class LineRate:
    """How fast a serial line is.

    Parameters
    ----------
    baud
        Bits a second.
    bits
        Of one character: 11 for 8E1, 10 for 8N1.
    needs_gap
        Frames are told apart by silences, as on a Modbus line.

    Examples
    --------
    >>> line = LineRate(9600, bits=11, needs_gap=True)
    >>> f"{1e3 * line.character_s:.4f} {1e3 * line.gap_s:.4f}"
    '1.1458 4.0104'
    """

    baud: int
    bits: int = 10
    needs_gap: bool = False

    @property
    def character_s(self) -> float:
        """How long one character takes."""
        return self.bits / self.baud

    @property
    def gap_s(self) -> float:
        """The silence between two frames; 0 where none is needed."""
        if not self.needs_gap:
            return 0.0
        return FIXED_GAP_S if self.baud > FIXED_OVER_BAUD else 3.5 * self.character_s
