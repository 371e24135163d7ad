"""`make installs`: the built wheel alone on clean Pythons, each extra alone, wheels for aarch64.

Run under every Python that is meant: `python -m benchmarks.installs python3.11 python3.13`.
"""

import re
import shutil
import subprocess
import sys
import tempfile
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path

from benchmarks.page import Figure, write

ROOT = Path(__file__).parents[1]
REPORT = ROOT / "benchmarks" / "INSTALLS.md"
NAMES = [f"python3.{minor}" for minor in range(11, 16)]
NEWER = ("3.14", "3.15")
"""Pythons that may not be here, for which wheels are looked for."""
RASPBERRY = ("manylinux2014_aarch64", "manylinux_2_27_aarch64", "manylinux_2_28_aarch64")
"""What pip takes on a 64-bit system with glibc 2.28 or newer, such as one for a Raspberry Pi."""
EXTRAS = ("notices", "parquet", "web", "xlsx")
PIP = ("-m", "pip", "--disable-pip-version-check", "--quiet")


def main() -> int:
    """Try everything and write the page; 1 where something failed."""
    pythons = sys.argv[1:] or [name for name in NAMES if _answers(name)]
    figures: list[Figure] = []
    with tempfile.TemporaryDirectory(prefix="bathvigil-installs-") as folder:
        wheel = built(Path(folder))
        for python in pythons:
            figures += _on(python, wheel, Path(folder))
        figures += list(_newer(wheel, Path(folder)))
        figures.append(_aarch64(wheel, Path(folder)))
    below = (
        "Each extra is tried in an environment with the wheel and that extra alone. The wheels for "
        "aarch64 are downloaded, not run: there is no such machine here."
    )
    return write(REPORT, "The wheel, installed alone", "make installs", figures, below)


def built(folder: Path) -> Path:
    """The wheel, as pip builds it."""
    _run([sys.executable, *PIP, "wheel", "--no-deps", "--wheel-dir", str(folder), str(ROOT)])
    (wheel,) = folder.glob("bathvigil-*.whl")
    return wheel


def _answers(python: str) -> bool:
    if shutil.which(python) is None:
        return False
    return subprocess.run([python, "-c", ""], capture_output=True, check=False).returncode == 0


def _on(python: str, wheel: Path, folder: Path) -> Iterator[Figure]:
    version = _run([python, "-c", "import platform; print(platform.python_version())"]).strip()
    alone = _environment(python, wheel, "", folder / f"{version}-alone")
    yield _tried(f"Python {version}, wheel alone", partial(_works, alone, folder))
    for extra in EXTRAS:
        place = _environment(python, wheel, extra, folder / f"{version}-{extra}")
        yield _tried(f"Python {version}, with {extra} alone", partial(TRIALS[extra], place, folder))


def _environment(python: str, wheel: Path, extra: str, place: Path) -> Path:
    """A virtual environment with the wheel; the folder of its programs."""
    _run([python, "-m", "venv", str(place)])
    programs = place / "bin"
    asked = f"{wheel}[{extra}]" if extra else str(wheel)
    _run([str(programs / "python"), *PIP, "install", asked])
    return programs


def _works(programs: Path, folder: Path) -> str:
    """A simulated strip is told, recorded over a socket, listed, exported, reported, replayed."""
    ours = str(programs / "bathvigil")
    version = _run([ours, "--version"]).strip()
    strip = folder / "strip.csv"
    _run([ours, "simulate", "--scene", "tank-warms-to-trip", "--csv", str(strip)])
    output = _run([ours, "replay", str(strip), "--limit-amps", "40"])
    assert "ALARM tripped raised" in output
    _recorded(programs, folder / "alone.db")
    _run([ours, "export", "1", "--to", str(folder / "run.csv"), *_store(folder / "alone.db")])
    _written(programs, folder, "report", "report.html")
    for extra in ("xlsx", "parquet"):
        wanted = _run([str(programs / "python"), "-c", MISSING[extra]])
        assert wanted.strip() == "missing", f"{extra} came along unasked"
    return version


def _recorded(programs: Path, store: Path) -> None:
    if store.exists():
        return
    ours = str(programs / "bathvigil")
    scene = [ours, "simulate", "--scene", "quiet-strip", "--link", "scpi-tcp", "--speed", "20"]
    with subprocess.Popen(scene, stdout=subprocess.PIPE, text=True) as supply:
        assert supply.stdout is not None
        address = supply.stdout.readline().strip()
        line = [ours, "record", address, "--limit-amps", "10", "--clock-speed", "20"]
        try:
            _run([*line, "--for-s", "60", *_store(store)])
        finally:
            supply.terminate()


def _xlsx(programs: Path, folder: Path) -> str:
    return _written(programs, folder, "export", "run.xlsx")


def _parquet(programs: Path, folder: Path) -> str:
    return _written(programs, folder, "export", "run.parquet")


def _written(programs: Path, folder: Path, command: str, name: str) -> str:
    _recorded(programs, folder / "alone.db")
    to = folder / name
    to.unlink(missing_ok=True)
    line = [str(programs / "bathvigil"), command, "1", "--to", str(to)]
    _run([*line, *_store(folder / "alone.db")])
    return f"{name}, {to.stat().st_size:,} bytes"


def _web(programs: Path, folder: Path) -> str:
    """The list of runs, served to a browser on loopback."""
    _recorded(programs, folder / "alone.db")
    line = [str(programs / "bathvigil"), "review", "--in-browser", "--port", "8219"]
    with subprocess.Popen([*line, *_store(folder / "alone.db")], stderr=subprocess.PIPE) as served:
        try:
            for _ in range(100):
                try:
                    with urllib.request.urlopen("http://127.0.0.1:8219", timeout=10) as page_:
                        return f"answers {page_.status}, {len(page_.read()):,} bytes"
                except (urllib.error.URLError, ConnectionError):
                    _run([sys.executable, "-c", "import time; time.sleep(0.1)"])
        finally:
            served.terminate()
    raise AssertionError("the page was not served")


def _notices(programs: Path, folder: Path) -> str:
    """A notice to a service that leads nowhere is tried and its failure told."""
    secret = folder / "phone.secret"
    secret.write_text("json://127.0.0.1:9/nowhere\n", encoding="utf-8")
    secret.chmod(0o600)
    bench = folder / "bench.toml"
    bench.write_text(
        '[supplies.a]\naddress = "scpi:tcp://127.0.0.1:9"\nlimit_amps = 10.0\n'
        f'[notices]\ntries = 1\n[notices.channels.phone]\nservice_file = "{secret.name}"\n',
        encoding="utf-8",
    )
    line = [str(programs / "bathvigil"), "check", "--config", str(bench), "--notices"]
    done = subprocess.run(line, capture_output=True, text=True, check=False, timeout=120)
    (line_of_phone,) = [row for row in done.stdout.splitlines() if "phone:" in row.split()]
    assert "apprise" not in line_of_phone, line_of_phone
    return " ".join(line_of_phone.split()[2:])


TRIALS: dict[str, Callable[[Path, Path], str]] = {
    "notices": _notices,
    "parquet": _parquet,
    "web": _web,
    "xlsx": _xlsx,
}
MISSING = {
    extra: (f"import importlib.util as u; print('here' if u.find_spec('{library}') else 'missing')")
    for extra, library in {"xlsx": "openpyxl", "parquet": "pyarrow"}.items()
}


def _newer(wheel: Path, folder: Path) -> Iterator[Figure]:
    """Whether every dependency has a wheel for a Python that is not here; nothing is installed."""
    asked = f"{wheel}[{','.join(EXTRAS)}]"
    for version in NEWER:
        line = [sys.executable, *PIP, "install", "--dry-run", "--ignore-installed"]
        line += ["--python-version", version, "--only-binary=:all:", "--target", str(folder / "x")]
        done = subprocess.run([*line, asked], capture_output=True, text=True, check=False)
        wanting = re.findall(r"No matching distribution found for (\S+)", done.stderr)
        answer = "yes" if done.returncode == 0 else f"not yet: {', '.join(wanting) or 'unknown'}"
        yield Figure(f"Python {version}: every dependency, extras too, has a wheel", answer)


def _aarch64(wheel: Path, folder: Path) -> Figure:
    def downloaded() -> str:
        to = folder / "aarch64"
        line = [sys.executable, *PIP, "download", "--only-binary=:all:", "--dest", str(to)]
        line += ["--python-version", "3.11", "--implementation", "cp"]
        for platform in RASPBERRY:
            line += ["--platform", platform]
        _run([*line, f"{wheel}[{','.join(EXTRAS)}]"])
        wheels = list(to.glob("*.whl"))
        built_for = [file for file in wheels if "aarch64" in file.name]
        return f"{len(wheels)} wheels, {len(built_for)} of them built for aarch64"

    return _tried("aarch64, Python 3.11: every dependency, extras too", downloaded)


def _tried(what: str, trial: Callable[[], str], goal: str = "works") -> Figure:
    try:
        measured = trial()
    except (AssertionError, OSError, subprocess.SubprocessError, ValueError) as error:
        fault = " ".join(str(error).split())[-200:]
        figure = Figure(what, f"failed: {fault}", goal, False)
    else:
        figure = Figure(what, measured, goal, True if goal else None)
    print(f"{figure.what}: {figure.measured}", flush=True)
    return figure


def _store(store: Path) -> list[str]:
    return ["--store", str(store)]


def _run(line: Sequence[str]) -> str:
    """What a program prints; its complaint where it fails."""
    done = subprocess.run(line, capture_output=True, text=True, check=False, timeout=900)
    if done.returncode:
        raise AssertionError(f"{' '.join(line[:3])}: {done.stderr.strip()[-300:]}")
    return done.stdout


if __name__ == "__main__":
    sys.exit(main())
