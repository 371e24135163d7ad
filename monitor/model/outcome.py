"""How a strip turned out, as the operator found it at the rinse; what was not looked at is None."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was seen.

    Parameters
    ----------
    wetted
        Whether the water film stayed whole after the rinse: an unbroken film is the pass of the
        wetting test (common practice, no source).
    hazy
        Whether a haze of chromium was left, to be polished off and redone.
    by
        Who looked.
    """

    wetted: bool | None = None
    hazy: bool | None = None
    by: str = ""

    @property
    def line(self) -> str:
        """In words.

        Examples
        --------
        >>> Outcome(True, False).line, Outcome(False).line, Outcome().line
        ('wetted, not hazy', 'not wetted', '')
        """
        looks = [
            word if holds else f"not {word}"
            for word, holds in (("wetted", self.wetted), ("hazy", self.hazy))
            if holds is not None
        ]
        return ", ".join(looks)
