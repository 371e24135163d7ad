"""What the loudspeaker did and whether the operator heard it in, how the sound stands out.

The way to the loudspeaker can be tried by the program; whether it is heard, only by the operator.
"""

from dataclasses import dataclass

from monitor.sounding.sounder import SoundState
from monitor.store.rows import Status

SOUND = "sound"
"""Name of the status."""

NOT_CHECKED = "SOUND NOT CHECKED"


@dataclass(slots=True)
class SoundProof:
    """The sound of one recorder, from its start on.

    Examples
    --------
    >>> proof = SoundProof(SoundState(None, "aplay, not used yet"))
    >>> proof.status(0).text
    'SOUND NOT CHECKED: aplay, not used yet'
    >>> proof.heard_by = "Ada"
    >>> proof.status(0).text
    'sound heard by Ada'
    """

    state: SoundState
    heard_by: str | None = None

    def status(self, utc_ns: int) -> Status:
        """How it stands, at this moment."""
        if self.state.works is False:
            return Status(SOUND, utc_ns, f"SOUND FAILED: {self.state.text}", False)
        if self.heard_by is None:
            return Status(SOUND, utc_ns, f"{NOT_CHECKED}: {self.state.text}", None)
        by = f" by {self.heard_by}" if self.heard_by else ""
        return Status(SOUND, utc_ns, f"sound heard{by}", True)
