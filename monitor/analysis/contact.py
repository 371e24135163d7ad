"""Is the swab on the work? And the upper envelope of the log-conductance."""

import math

LIFTED = -math.log(0.7)
"""Under 70 % of the envelope the swab is off, or only its edge touches (common practice, no
source)."""
ATTACK = 0.3
DECAY_PER_S = 0.002
NEW_LEVEL_AFTER_S = 15.0


class Contact:
    """The contact gate of swab work.

    The envelope is pulled up by samples above it and sinks slowly while there is contact. A
    sample far under it says that the swab is off, which is nothing about the bath. Where current
    keeps flowing far under the envelope for long, the work has changed, and the envelope starts
    anew there.

    Parameters
    ----------
    lifted
        How far under the envelope, in natural logarithms, contact ends.

    Examples
    --------
    >>> contact = Contact()
    >>> [contact.update(t * 0.2, x) for t, x in enumerate([0.0, 0.01, -2.0, -0.02])]
    [True, True, False, True]
    """

    __slots__ = ("_last_s", "_lifted", "_lifted_since_s", "envelope", "is_new_level")

    def __init__(self, lifted: float = LIFTED) -> None:
        self._lifted = lifted
        self.envelope: float | None = None
        self._last_s = 0.0
        self._lifted_since_s: float | None = None
        self.is_new_level = False

    def restart(self) -> None:
        """Forget the envelope."""
        self.envelope = None
        self._lifted_since_s = None

    def shift(self, by: float) -> None:
        """Move the envelope where the scale itself has moved."""
        if self.envelope is not None:
            self.envelope += by

    def update(self, t_s: float, x: float) -> bool:
        """Take one log-conductance; True while the swab (or the part) is in contact.

        `is_new_level` is True on the one sample at which a long low stretch is accepted as the
        work's new level.
        """
        self.is_new_level = False
        envelope = self.envelope
        if envelope is None:
            self.envelope = x
            self._last_s = t_s
            return True
        under = envelope - x
        if under > self._lifted:
            if self._lifted_since_s is None:
                self._lifted_since_s = t_s
            elif t_s - self._lifted_since_s >= NEW_LEVEL_AFTER_S:
                self.is_new_level = True
                self._lifted_since_s = None
                self.envelope = x
                self._last_s = t_s
                return True
            return False
        self._lifted_since_s = None
        if under < 0.0:
            self.envelope = envelope - ATTACK * under
        else:
            sunk = DECAY_PER_S * (t_s - self._last_s)
            self.envelope = envelope - min(sunk, under)
        self._last_s = t_s
        return True
