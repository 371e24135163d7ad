"""The checks of the machine, the settings and the store.

A further check is a further function in `MACHINE_CHECKS`.
"""

import os
import shlex
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from monitor.base.errors import StoreError
from monitor.forward.process import forward_log_path, is_forwarded
from monitor.forward.standing import standing_text
from monitor.recorder.lock import holder
from monitor.recorder.sound.players import PLAYERS
from monitor.settings import Bench
from monitor.setup.check.finding import Check, Finding, Result
from monitor.setup.check.machine import Machine
from monitor.store.failures import NoSuchStore
from monitor.store.forward_rows import ForwardState
from monitor.store.forward_state import forward_states
from monitor.store.soundness import check_store

BYTES_PER_READING = 150
"""What a reading takes in the store with what is reckoned from it, before older ones are packed."""
DAY_S = 86_400.0
USUAL_POLL_S = 0.2

# Nothing of this program is older, and a clock with an empty battery starts at 1970 or 2000.
_FIRST_SANE_NS = 1_735_689_600 * 10**9  # 2025-01-01
_LAST_SANE_NS = 4_102_444_800 * 10**9  # 2100-01-01


@dataclass(frozen=True, slots=True)
class Place:
    """What the machine's checks are about.

    Parameters
    ----------
    store
        Where the runs lie, or will.
    bench
        The settings; None where there are none, or they are wrong.
    """

    machine: Machine
    store: Path
    bench: Bench | None


def check_clock(place: Place) -> Finding:
    """A date that can be, and set by the network where systemd says so."""
    now_ns = place.machine.utc_ns()
    if not _FIRST_SANE_NS <= now_ns < _LAST_SANE_NS:
        return Finding(
            Check.CLOCK,
            Result.FAIL,
            "the machine's date cannot be right: runs would be filed under it",
            fix="set it: `sudo timedatectl set-ntp true`, or `sudo date -s '2025-03-04 10:00'`",
        )
    answer = place.machine.says(["timedatectl", "show", "--property=NTPSynchronized", "--value"])
    match answer:
        case "yes":
            return Finding(Check.CLOCK, Result.PASS, "the date is sane and set by the network")
        case "no":
            return Finding(
                Check.CLOCK,
                Result.NOTE,
                "the date is sane, but nothing sets it: it drifts by seconds a day",
                fix="`sudo timedatectl set-ntp true`, where there is a network",
            )
    return Finding(Check.CLOCK, Result.PASS, "the date is sane; unknown whether anything sets it")


def check_disk(place: Place) -> Finding:
    """Room for at least a day of recording."""
    folder = folder_that_is(place.store)
    polls = (
        [supply.poll_s for supply in place.bench.supplies.values()]
        if place.bench is not None
        else [USUAL_POLL_S]
    )
    need = day_bytes(polls)
    try:
        free = place.machine.free_bytes(folder)
    except OSError as error:
        return Finding(
            Check.DISK,
            Result.FAIL,
            f"{folder}: its disk does not say how much room it has ({error.strerror})",
            fix="name another file with --store",
        )
    words = room_text(folder, free, need)
    if free < need:
        return Finding(
            Check.DISK,
            Result.FAIL,
            words,
            fix="make room, or name another disk with --store",
        )
    return Finding(Check.DISK, Result.PASS, words)


def day_bytes(polls_s: Iterable[float]) -> float:
    """What a day of recording takes at the most, by the seconds between each supply's polls."""
    return sum(DAY_S / poll_s * BYTES_PER_READING for poll_s in polls_s)


def room_text(folder: Path, free: float, need: float) -> str:
    """How much room there is, and what a day takes; both in bytes.

    >>> room_text(Path("/data"), 20e9, 65e6)
    '20 GB free in /data; a day needs about 65 MB'
    """
    return f"{_megabytes(free)} free in {folder}; a day needs about {_megabytes(need)}"


def folder_that_is(path: Path) -> Path:
    """The folder of a file, or the nearest one above it that is there already."""
    folder = path.absolute().parent
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    return folder


def check_the_store(place: Place) -> Finding:
    """The store opens, is of this version, and is sound; or one can be made."""
    path = place.store
    folder = folder_that_is(path)
    if not os.access(folder, os.W_OK) or (path.exists() and not os.access(path, os.W_OK)):
        return Finding(
            Check.STORE,
            Result.FAIL,
            f"{path}: may not be written by this user",
            fix="correct the permissions of file and folder, or name another file with --store",
        )
    try:
        soundness = check_store(path)
    except NoSuchStore as error:
        if not path.exists():
            return Finding(Check.STORE, Result.PASS, f"{path} will be made with the first run")
        return Finding(Check.STORE, Result.NOTE, str(error))
    except StoreError as error:
        return Finding(Check.STORE, Result.FAIL, str(error))
    words = f"{path} is sound and holds {soundness.runs} runs"
    if soundness.is_whole:
        return Finding(Check.STORE, Result.PASS, f"{words}, all as they were recorded")
    words += f"; of the rows of {soundness.compared} of them, the newest, that is known"
    return Finding(Check.STORE, Result.PASS, f"{words}: the others were not reached in the time")


def check_sound(place: Place) -> Finding:
    """Whether anything here can make a sound."""
    if place.bench is not None and place.bench.sound.command is not None:
        program = shlex.split(place.bench.sound.command)[0]
        if place.machine.has_program(program):
            words = f"{program} is there; check that it is loud"
            return Finding(Check.SOUND, Result.PASS, words)
        fix = "correct command in [sound], or leave it out to use what this machine has"
        return Finding(
            Check.SOUND, Result.FAIL, f"{program} is not there, or may not be run", fix=fix
        )
    names = (program[0] for program in PLAYERS)
    player = next((name for name in names if place.machine.has_program(name)), None)
    if player is None:
        return Finding(
            Check.SOUND,
            Result.NOTE,
            "no program that plays sounds is here: only the terminal's bell, which many terminals "
            "swallow",
            fix="install one, such as `sudo apt install alsa-utils`, and plug in a loudspeaker",
        )
    return Finding(Check.SOUND, Result.PASS, f"{player} can play; check that it is loud")


def check_notices(place: Place) -> Finding:
    """Whether people away from the bench are alerted."""
    return _set_up(Check.NOTICES, place, "only the person at the screen gets alarms")


def check_forward(place: Place) -> Finding:
    """How the copy to another server stands, as the forwarder left it in the store."""
    set_up = _set_up(Check.FORWARD, place, "readings stay on this machine")
    if set_up.result is not Result.PASS:
        return set_up
    recorder = holder(place.store)
    if recorder is not None and not is_forwarded(place.store):
        return Finding(
            Check.FORWARD,
            Result.FAIL,
            f"process {recorder} records, but no process copies to the server",
            fix=f"see {forward_log_path(place.store)}; the recorder starts it again each minute",
        )
    state = _state_of(place)
    if state is None:
        return Finding(Check.FORWARD, Result.NOTE, "set up in bench.toml; nothing was sent yet")
    words = standing_text(state)
    if _is_in_trouble(state):
        return Finding(
            Check.FORWARD,
            Result.FAIL,
            words,
            fix="see that the server runs and takes the token; nothing is lost meanwhile, and "
            "`bathvigil forward --config bench.toml` says more",
        )
    return Finding(Check.FORWARD, Result.PASS, words)


def _state_of(place: Place) -> ForwardState | None:
    """How it stands with the server of the settings; servers of before are of no concern."""
    if place.bench is None or place.bench.forward.url is None:
        return None
    try:
        states = {state.place: state for state in forward_states(place.store)}
    except StoreError:
        # The store's own line says what is wrong with it.
        return None
    return states.get(place.bench.forward.place)


def _is_in_trouble(state: ForwardState) -> bool:
    """Whether the last word of the server was a refusal, or points lie in quarantine."""
    if state.quarantined:
        return True
    if state.trouble_utc_ns is None:
        return False
    return state.last_ok_utc_ns is None or state.trouble_utc_ns > state.last_ok_utc_ns


MACHINE_CHECKS: tuple[Callable[[Place], Finding], ...] = (
    check_clock,
    check_disk,
    check_the_store,
    check_sound,
    check_notices,
    check_forward,
)


def _set_up(check: Check, place: Place, without: str) -> Finding:
    if place.bench is None or check not in place.bench.model_fields_set:
        return Finding(check, Result.NOTE, f"not set up: {without}")
    return Finding(check, Result.PASS, "set up in bench.toml")


def _megabytes(count: float) -> str:
    return f"{count / 1e6:.0f} MB" if count < 1e10 else f"{count / 1e9:.0f} GB"
