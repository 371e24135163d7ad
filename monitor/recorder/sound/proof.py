"""Whether alarms can be heard: what the loudspeaker did, and what the operator confirmed.

The program can try the way to the loudspeaker; only the operator can tell whether it is heard. That
proves the way by which the sound came, and no other: a bell in another window is not checked, nor
is a sound that failed meanwhile.
"""

from dataclasses import dataclass

from monitor.model.event import Status
from monitor.recorder.sound.sounder import SoundState
from monitor.text.badges import SOUND_FAILED, SOUND_NOT_CHECKED

SOUND = "sound"
"""Name of the status."""


@dataclass(slots=True)
class SoundProof:
    """The sound of one recorder, from its start on.

    Examples
    --------
    >>> proof = SoundProof(SoundState(None, "aplay, not used yet"))
    >>> proof.status(0).text
    'SOUND NOT CHECKED: aplay, not used yet'
    >>> proof.take(SoundState(True, "aplay"))
    >>> proof.hear("Ada")
    >>> proof.status(0).text
    'sound heard by Ada'
    >>> proof.take(SoundState(True, "the bell of /dev/pts/3"))
    >>> proof.status(0).text
    'SOUND NOT CHECKED: the bell of /dev/pts/3'
    """

    state: SoundState
    heard_by: str | None = None
    heard_way: str | None = None

    def take(self, state: SoundState) -> None:
        """Take what the way to the loudspeaker did the last time."""
        self.state = state
        if self.heard_way is None and state.works:
            self.heard_way = None if self.heard_by is None else state.text
        if state.works is False or self.heard_way not in (None, state.text):
            self.heard_by = self.heard_way = None

    def hear(self, by: str) -> None:
        """Somebody has heard it, by the way that it came last."""
        self.heard_by = by
        self.heard_way = self.state.text if self.state.works else None

    def status(self, utc_ns: int) -> Status:
        """How it stands, at this moment."""
        if self.state.works is False:
            return Status(SOUND, utc_ns, f"{SOUND_FAILED}: {self.state.text}", False)
        if self.heard_by is None:
            return Status(SOUND, utc_ns, f"{SOUND_NOT_CHECKED}: {self.state.text}", None)
        by = f" by {self.heard_by}" if self.heard_by else ""
        return Status(SOUND, utc_ns, f"sound heard{by}", True)
