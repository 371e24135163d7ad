"""A scene's name or a TOML file in, a checked `Scene` out: bath, circuit, part, supply, and what
the operator does when.

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

import tomllib
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Annotated, Literal, TypeAlias

from simulators.cell import Bath, Circuit, Part
from simulators.form import Between, FormError, fill_in, nearest
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


class SceneError(Exception):
    """A scene that cannot be played; the message is one line and names the cure."""


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
    duration_s: float
    seed: int
    bath: Bath
    circuit: Circuit
    supply: SupplyPlate
    part: Part | None = None
    swab: Swab | None = None
    events: tuple[Event, ...] = ()


@dataclass(frozen=True, slots=True)
class _Head:
    """The keys of a scene file that stand in no table."""

    story: str
    duration_s: Annotated[float, Between(1.0, 86400.0)]
    seed: Annotated[int, Between(0, 2**63)] = 1


def scene_names() -> list[str]:
    """The scenes that come with the simulator."""
    return sorted(path.stem for path in SCENES.glob("*.toml"))


def load_scene(name: str) -> Scene:
    """Read a scene that comes with the simulator, or a file of the user's.

    Parameters
    ----------
    name
        One of `scene_names`, or the path of a TOML file.

    Raises
    ------
    SceneError
        With one line that names what is wrong, where, and the nearest valid name.
    """
    path = SCENES / f"{name}.toml"
    if name not in scene_names():
        path = Path(name)
        if path.suffix != ".toml" and not path.is_file():
            raise SceneError(f"there is no scene {name!r}; {nearest(name, scene_names())}")
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise SceneError(f"cannot read the scene {name}: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise SceneError(f"{name} is not a text file in UTF-8") from error
    return parse_scene(text, path.stem)


def parse_scene(text: str, name: str) -> Scene:
    """Read a scene from the text of its file; raises as `load_scene` does."""
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SceneError(f"scene {name}: not TOML: {error}") from error
    try:
        return _scene(tables, name)
    except FormError as error:
        raise SceneError(f"scene {name}: {error}") from error


def _scene(tables: dict[str, object], name: str) -> Scene:
    known = {"supply", "bath", "circuit", "part", "swab", "event"}
    heads = {form_field.name for form_field in fields(_Head)}
    for key in tables:
        if key not in known | heads:
            raise FormError(f"there is no {key!r}; {nearest(key, known | heads)}")
    head = fill_in(_Head, {key: tables[key] for key in tables if key in heads}, "at the top")
    supply = fill_in(SupplyPlate, _table(tables, "supply"), "[supply]")
    if supply.ceiling_amps is not None and supply.ceiling_amps < supply.limit_amps:
        raise FormError("[supply] ceiling_amps: must not be under limit_amps")
    part = fill_in(Part, _table(tables, "part"), "[part]") if "part" in tables else None
    swab = fill_in(Swab, _table(tables, "swab"), "[swab]") if "swab" in tables else None
    events = tables.get("event", [])
    if not isinstance(events, list):
        raise FormError("event: write each event as [[event]]")
    return Scene(
        name=name,
        story=head.story,
        duration_s=head.duration_s,
        seed=head.seed,
        bath=fill_in(Bath, _table(tables, "bath"), "[bath]"),
        circuit=fill_in(Circuit, _table(tables, "circuit"), "[circuit]"),
        supply=supply,
        part=part,
        swab=swab,
        events=tuple(_event(table, number) for number, table in enumerate(events, 1)),
    )


def _table(tables: dict[str, object], name: str) -> dict[str, object]:
    table = tables.get(name)
    if table is None:
        raise FormError(f"[{name}] is missing")
    if not isinstance(table, dict):
        raise FormError(f"{name}: write it as a table [{name}]")
    return table


def _event(table: object, number: int) -> Event:
    where = f"[[event]] number {number}"
    if not isinstance(table, dict):
        raise FormError(f"{where}: write each event as [[event]]")
    event = fill_in(Event, table, where)
    if sum(key in table for key in WHEN) != 1:
        raise FormError(f"{where}: needs exactly one of {', '.join(WHEN)}")
    if "trip" in table and event.after_trip_s is None:
        raise FormError(f"{where}: trip goes with after_trip_s only")
    needed = NEEDS.get(event.do)
    for key in ("volts", "ohms", "litres"):
        if key == needed and key not in table:
            raise FormError(f"{where}: {event.do} needs {key}")
        if key != needed and key in table:
            raise FormError(f"{where}: {event.do} takes no {key}")
    return event
