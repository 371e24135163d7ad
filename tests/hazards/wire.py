"""A scene behind a real line: a server on loopback that answers as a supply of plain lines."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchmarks.hazards.played import Played

DESCRIPTION = """
format = 1
kind = "lines"
title = "the bench of a scene"
source = "invented, for tests"
[talk]
question_ends_with = "CR"
answer_ends_with = "line-end"
[identity]
ask = "SN"
source = "invented"
[[answer]]
ask = "V?"
pattern = 'V=(?P<volts>[+-]?[0-9.]+)'
source = "invented"
[[answer]]
ask = "I?"
pattern = 'I=(?P<amps>[+-]?[0-9.]+)A'
source = "invented"
"""


class SceneServer:
    """Answers with the readings of a scene; its time begins with the first question.

    Parameters
    ----------
    speed
        Seconds of the scene in one of the machine's.
    """

    def __init__(self, played: Played, speed: float) -> None:
        self._played = played
        self._speed = speed
        self._began_s: float | None = None
        self._latest = played.readings[0]
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.address = f"tcp://127.0.0.1:{self._listening.getsockname()[1]}"
        self.asked: list[bytes] = []
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    @property
    def t_s(self) -> float:
        """The scene's time."""
        return 0.0 if self._began_s is None else (time.monotonic() - self._began_s) * self._speed

    def close(self) -> None:
        """No more answers."""
        self._listening.close()

    def _serve(self) -> None:
        while True:
            try:
                talk, _ = self._listening.accept()
            except OSError:
                return
            with talk:
                self._talk(talk)

    def _talk(self, talk: socket.socket) -> None:
        waiting = b""
        while True:
            try:
                data = talk.recv(1024)
            except OSError:
                return
            if not data:
                return
            *questions, waiting = (waiting + data).split(b"\r")
            for question in questions:
                self.asked.append(question)
                answer = self._answer(question)
                if answer:
                    talk.sendall(answer + b"\r\n")

    def _answer(self, question: bytes) -> bytes:
        if self._began_s is None:
            self._began_s = time.monotonic()
        if question != b"I?":
            # Amps are of the same moment as the volts that were asked just before, however late
            # they are asked.
            t_s, readings = self.t_s, self._played.readings
            self._latest = next((r for r in reversed(readings) if r.t_s <= t_s), readings[0])
        latest = self._latest
        if latest.volts is None or latest.amps is None:
            return b""
        if question == b"SN":
            return b"scene 1"
        return f"V={latest.volts:.3f}".encode() if question == b"V?" else _amps(latest.amps)


def _amps(amps: float) -> bytes:
    return f"I={amps:.3f}A".encode()


@contextmanager
def scene_on_a_line(played: Played, speed: float, folder: Path) -> Iterator[tuple[Path, Path]]:
    """A bench.toml that records the scene, and the file that its sound command writes to.

    Each sound is one line: the last argument of the command.
    """
    server = SceneServer(played, speed)
    sounds, horn = folder / "sounds.txt", folder / "horn"
    (folder / "scene.toml").write_text(DESCRIPTION, encoding="utf-8")
    horn.write_text(f'#!/bin/sh\necho "$1" >> "{sounds}"\n', encoding="utf-8")
    horn.chmod(0o755)
    sounds.touch()
    settings = played.settings
    config = folder / "bench.toml"
    config.write_text(
        f'[supplies.bench-2]\naddress = "lines:{server.address}"\ndescription = "scene.toml"\n'
        f"limit_amps = {settings.limit_amps}\npoll_s = 0.5\ntimeout_s = 0.5\n"
        "[volts_window]\nlowest_volts = 6\nhighest_volts = 12\n"
        f'[sound]\ncommand = "{horn}"\nagain_every_s = 2\n',
        encoding="utf-8",
    )
    try:
        yield config, sounds
    finally:
        server.close()
