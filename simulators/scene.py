"""A scene: bath, circuit, part, supply, and what the operator does when; and how its file is read.

A scene file has these tables, whose keys are the fields of the dataclass named:

| table | what | dataclass |
| --- | --- | --- |
| (top) | `story`, `seed`, `duration_s` | `Scene` |
| `[supply]` | `limit_amps`, `at_limit` = "trips" or "holds", ... | `SupplyPlate` |
| `[bath]` | `name`, `litres`, ... | `Bath` |
| `[circuit]` | between the terminals | `Circuit` |
| `[part]` | the chromium; left out: nothing to strip | `Part` |
| `[swab]` | left out: a tank | `Swab` |
| `[[event]]` | one thing done | `Event` |

An event has one of `at_s`, `after_trip_s` (seconds after the supply's cut-out number `trip`,
1 if not said) and `after_strip_s` (seconds after the chromium is gone), so that the story holds for
every seed.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, TypeAlias

from simulators.cell import Bath, Circuit, Part
from simulators.form import Between, FormError, load_form, names_in
from simulators.supply import SupplyPlate
from simulators.swab import Swab

SCENES = Path(__file__).with_name("scenes")

Deed: TypeAlias = Literal[
    "set-volts",
    "output-on",
    "output-off",
    "reset",
    "short-begins",
    "short-ends",
    "lead-ohms",
    "pour-in-water",
    "new-part",
]
# What each deed needs beside its time; the others need nothing.
NEEDS = {
    "set-volts": "volts",
    "short-begins": "ohms",
    "lead-ohms": "ohms",
    "pour-in-water": "litres",
}
WHEN = ("at_s", "after_trip_s", "after_strip_s")

Seconds: TypeAlias = Annotated[float, Between(0.0, 86400.0)]


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that the operator does, or that happens, once.

    Parameters
    ----------
    do
        "set-volts" (with `volts`), "output-on", "output-off", "reset" (clears a cut-out, the output
        staying off), "short-begins" and "lead-ohms" (with `ohms`), "short-ends", "pour-in-water"
        (with `litres`), "new-part" (the same again, with all its chromium).
    at_s, after_trip_s, after_strip_s
        When; exactly one of the three.
    trip
        Which of the supply's cut-outs `after_trip_s` counts from.
    """

    do: Deed
    at_s: Seconds | None = None
    after_trip_s: Seconds | None = None
    after_strip_s: Seconds | None = None
    trip: Annotated[int, Between(1, 1000)] = 1
    volts: Annotated[float, Between(0.0, 60.0)] | None = None
    ohms: Annotated[float, Between(0.0001, 1000.0)] | None = None
    litres: Annotated[float, Between(0.001, 1000.0)] | None = None

    def __post_init__(self) -> None:
        if sum(getattr(self, key) is not None for key in WHEN) != 1:
            raise FormError(f"needs exactly one of {', '.join(WHEN)}")
        if self.trip != 1 and self.after_trip_s is None:
            raise FormError("trip goes with after_trip_s only")
        needed = NEEDS.get(self.do)
        for key in ("volts", "ohms", "litres"):
            if (key == needed) is not (getattr(self, key) is not None):
                raise FormError(f"{self.do} {'needs' if key == needed else 'takes no'} {key}")


@dataclass(frozen=True, slots=True)
class Scene:
    """One story with everything that it depends on, a seed included.

    Parameters
    ----------
    name
        The file's name without its ending.
    story
        What happens, in one or two sentences.
    duration_s
        How long it takes at the bath, seconds; afterwards everything stays as it is.
    seed
        Where chance starts; another seed is another day with the same story.
    """

    name: str
    story: str
    duration_s: Annotated[float, Between(1.0, 86400.0)]
    bath: Bath
    circuit: Circuit
    supply: SupplyPlate
    part: Part | None = None
    swab: Swab | None = None
    events: tuple[Event, ...] = ()
    seed: Annotated[int, Between(0, 2**63)] = 1


def scene_names() -> list[str]:
    """The scenes that come with the simulator."""
    return names_in(SCENES)


def load_scene(name: str) -> Scene:
    """Read a scene that comes with the simulator, or a file of the user's.

    Parameters
    ----------
    name
        One of `scene_names`, or the path of a TOML file.

    Raises
    ------
    FormError
        With one line that names what is wrong, where, and the nearest valid name.
    """
    return load_form(Scene, "scene", name, SCENES)
