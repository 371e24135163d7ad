"""The command `bathvigil simulate`: a simulated supply on a serial device or a socket, or a CSV."""

import argparse
import csv
import json
import os
import signal
import sys
from collections.abc import Callable
from contextlib import ExitStack, closing
from pathlib import Path
from typing import NoReturn, TextIO

from simulators.exchange import Exchange
from simulators.faults import Faults, even_mix, load_faults
from simulators.form import FormError, nearest
from simulators.installation import LINKS, REGISTERS, SPEECH, Installation
from simulators.link import CannotServe
from simulators.pace import RealPace
from simulators.panel import Panel, look_again_and_again
from simulators.register_map import map_names
from simulators.scene import Scene, load_scene, scene_names
from simulators.serving import Serving, Stop
from simulators.speech import speech_names
from simulators.trace import trace

DONE, COULD_NOT, WRONG_USE = 0, 1, 2

ABOUT = """Plays a simulated DC supply with a strip bath behind it.

The first line on stdout is the supply's address. The scene begins with the first question that the
supply is asked, and goes on at --speed from there, however often it is asked. It ends on SIGTERM,
SIGINT or SIGHUP. With several units on one Modbus wire there is a line for each address."""

EXAMPLES = """Example: bathvigil simulate --scenes
         bathvigil simulate --scene quiet-strip --link scpi-serial --link-name ./supply
         bathvigil simulate --scene tank-warms-to-trip --link modbus-tcp --port 1502 --speed 20
         bathvigil simulate --scene two-settings --link lines-serial --speech pair-crlf --panel
         bathvigil simulate --scene tank-warms-to-trip --csv strip.csv"""


class CannotRun(Exception):
    """Wrong use, or something that could not be done; the message is one line."""

    def __init__(self, message: str, exit_code: int) -> None:
        super().__init__(message)
        self.exit_code = exit_code


class _OneLine(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise CannotRun(f"{message}; --help lists the options", WRONG_USE)


def main(arguments: list[str] | None = None) -> int:
    """Run the command; give its exit code."""
    try:
        options = parser().parse_args(arguments)
        if options.scenes:
            for name in scene_names():
                print(f"{name}: {' '.join(load_scene(name).story.split())}")
            return DONE
        return _run(options)
    except CannotRun as error:
        print(f"simulators: {error}", file=sys.stderr)
        return error.exit_code
    except FormError as error:
        print(f"simulators: {error}", file=sys.stderr)
        return WRONG_USE
    except CannotServe as error:
        print(f"simulators: {error}", file=sys.stderr)
        return COULD_NOT


def _run(options: argparse.Namespace) -> int:
    if options.scene is None:
        raise CannotRun(f"--scene is missing; {nearest('', scene_names())}", WRONG_USE)
    if sum((options.link is not None, options.csv is not None, options.facts)) != 1:
        raise CannotRun("choose exactly one of --link, --csv, --facts", WRONG_USE)
    scene = load_scene(options.scene)
    if options.facts:
        print(_facts(scene))
        return DONE
    if options.csv is not None:
        return _write_csv(scene, options.seed, options.rate_hz, options.csv)
    return _serve(scene, options)


def _facts(scene: Scene) -> str:
    """What a program that plays a scene needs to know of it, as one line of JSON."""
    supply, bath = scene.supply, scene.bath
    return json.dumps(
        {
            "scene": scene.name,
            "story": " ".join(scene.story.split()),
            "duration_s": scene.duration_s,
            "seed": scene.seed,
            "supply": supply.name,
            "limit_amps": supply.limit_amps,
            "at_limit": supply.at_limit,
            "bath": bath.name,
            "litres": bath.litres,
            "probe": bath.probe,
        }
    )


def _serve(scene: Scene, options: argparse.Namespace) -> int:
    installation = _installation(options)
    faults = _faults(options)
    rigs = installation.rigs(scene, options.seed)
    make_end = installation.make_end(rigs)
    with ExitStack() as held:
        note = held.enter_context(_Log(options.log)).note if options.log is not None else _no_note
        link = installation.open_link(options.port, options.link_name)
        stop = held.enter_context(closing(Stop()))
        for name in ("SIGTERM", "SIGINT", "SIGHUP"):
            if hasattr(signal, name):  # not every system has SIGHUP
                signal.signal(getattr(signal, name), lambda *_: stop.set())
        for address in installation.addresses(link):
            print(address, flush=True)
        pace = RealPace(options.speed)
        if options.panel:
            look_again_and_again(Panel(rigs[0], pace, _tell_panel), stop.bid)
        Serving(
            link,
            make_end,
            pace,
            note,
            faults=faults,
            rate=installation.rate(),
            deaf_s=options.deaf_s,
        ).run(stop, options.for_s)
    return DONE


def _installation(options: argparse.Namespace) -> Installation:
    units = tuple(options.unit or (1,))
    mute_units = tuple(options.mute_unit or ())
    if len(set(units)) != len(units):
        raise CannotRun("--unit: the same number stands there twice", WRONG_USE)
    for unit in mute_units:
        if unit not in units:
            raise CannotRun(f"--mute-unit {unit}: say --unit {unit} too", WRONG_USE)
    return Installation(
        link=options.link,
        number=options.number,
        units=units,
        mute_units=mute_units,
        registers=options.registers,
        speech=options.speech,
        is_tagged=options.tagged,
        is_gateway=options.gateway,
        baud=options.baud_paced,
    )


def _faults(options: argparse.Namespace) -> Faults | None:
    mix = even_mix(options.fault_rate) if options.fault_rate else []
    if options.faults is not None:
        return load_faults(options.faults, mix, options.fault_seed)
    seed = 1 if options.fault_seed is None else options.fault_seed
    return Faults(mix, seed) if mix else None


class _Log:
    """Each exchange as one line, on the disk before its answer is on the wire."""

    def __init__(self, path: Path) -> None:
        self._path = path
        try:
            self._file = path.open("wb", buffering=0)
        except OSError as error:
            raise CannotRun(f"cannot write {path}: {error.strerror}", COULD_NOT) from error

    def __enter__(self) -> "_Log":
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def note(self, exchange: Exchange) -> None:
        try:
            self._file.write(exchange.as_json().encode() + b"\n")
        except OSError as error:
            raise CannotRun(f"cannot write {self._path}: {error.strerror}", COULD_NOT) from error


def _tell_panel(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


def _no_note(_: Exchange) -> None:
    return


def _write_csv(scene: Scene, seed: int | None, rate_hz: float, to: str) -> int:
    if to == "-":
        _write_rows(scene, seed, rate_hz, sys.stdout)
        return DONE
    try:
        with Path(to).open("w", encoding="utf-8", newline="") as file:
            _write_rows(scene, seed, rate_hz, file)
    except OSError as error:
        raise CannotRun(f"cannot write {to}: {error.strerror}", COULD_NOT) from error
    return DONE


def _write_rows(scene: Scene, seed: int | None, rate_hz: float, file: TextIO) -> None:
    lines = csv.writer(file, lineterminator="\n")
    lines.writerow(["t_s", "volts", "amps", "celsius"])
    for point in trace(scene, seed, rate_hz):
        celsius = "" if point.celsius is None else point.celsius
        lines.writerow([point.t_s, point.volts, point.amps, celsius])


def parser() -> argparse.ArgumentParser:
    """Reads the options of the command."""
    reader = _OneLine(
        prog="bathvigil simulate",
        description=ABOUT,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    add = reader.add_argument
    add("--scene", metavar="NAME", help="name of a scene, or your own TOML file")
    add("--scenes", action="store_true", help="list the scenes")
    add("--link", type=_link, metavar="LINK", help=f"one of {', '.join(LINKS)}")
    add("--speed", type=_from(0.01, 1000.0), default=1.0, help="bath seconds per second (1)")
    add(
        "--seed",
        type=_whole(0, 2**63),
        help="another draw of the same scene",
    )
    add("--log", type=Path, metavar="FILE", help="write each question and answer as JSON Lines")
    add("--port", type=_whole(0, 65535), default=0, help="TCP port (0: any that is free)")
    add("--link-name", type=Path, metavar="PATH", help="a symbolic link to the pseudo-terminal")
    add(
        "--number", type=_whole(1, 9999), default=1, help="number of the supply in its identity (1)"
    )
    add("--unit", type=_whole(1, 247), action="append", help="Modbus unit (1); may be repeated")
    add("--mute-unit", type=_whole(1, 247), action="append", help="a unit that never answers")
    add("--registers", default=REGISTERS, metavar="NAME", help=_names("map", map_names()))
    add(
        "--gateway",
        action="store_true",
        help="Modbus TCP: answer for missing units with an exception",
    )
    add("--speech", default=SPEECH, metavar="NAME", help=_names("speech", speech_names()))
    add(
        "--panel",
        action="store_true",
        help="show the front panel on stderr; the scene starts at once",
    )
    add(
        "--tagged",
        action="store_true",
        help="each value encodes its quantity and its question, for tests",
    )
    add(
        "--baud-paced",
        type=_whole(50, 4000000),
        metavar="BAUD",
        help="send bytes at the rate of a real line",
    )
    add(
        "--deaf-s",
        type=_from(0.0, 10.0),
        default=0.0,
        help="ignore questions for so many seconds after each answer",
    )
    add("--faults", type=Path, metavar="FILE", help="what goes wrong, as TOML (simulators.fault)")
    add("--fault-rate", type=_from(0.0, 1.0), default=0.0, help="share of questions with a fault")
    add("--fault-seed", type=_whole(0, 2**63), help="seed of the faults (1)")
    add("--for-s", type=_from(0.0, 1e9), metavar="S", help="stop after this many real seconds")
    add("--csv", metavar="FILE", help="write the scene as a CSV instead; - is stdout")
    add("--facts", action="store_true", help="print supply, limit, bath and length as JSON instead")
    add("--rate-hz", type=_from(0.01, 20.0), default=5.0, help="readings a second in the CSV (5)")
    return reader


def _names(what: str, names: list[str]) -> str:
    return f"{what}: {', '.join(names)}, or a TOML file"


def _link(text: str) -> str:
    if text not in LINKS:
        raise argparse.ArgumentTypeError(f"there is no link {text!r}; {nearest(text, LINKS)}")
    return text


def _from(low: float, high: float) -> Callable[[str], float]:
    def number(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text!r} should be from {low:g} to {high:g}")
        return value

    return number


def _whole(low: int, high: int) -> Callable[[str], int]:
    def number(text: str) -> int:
        try:
            value = int(text)
        except ValueError:
            value = low - 1
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text!r} should be a whole number, {low} to {high}")
        return value

    return number


if __name__ == "__main__":
    try:
        code = main()
    except BrokenPipeError:  # the reader of our stdout has gone: nothing more to say to anybody
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = COULD_NOT
    sys.exit(code)
