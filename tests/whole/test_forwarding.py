"""The forwarder as a process, into real servers: what they hold is what the store holds."""

import signal
import subprocess
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from monitor.forward.process import forward_log_path, is_forwarded, start_forwarder
from monitor.forward.standing import standing_text
from monitor.forward.watch import Forwarded, ForwardWatch
from monitor.recorder.lock import store_lock
from monitor.store.forward_state import forward_states, quarantined
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter
from tests.clock import HandClock
from tests.monitor.forward.bench import TOKEN, fill, store_with
from tests.monitor.store.bench import BEGAN_UTC_NS, FACTS
from tests.servers.scripted import Cut, scripted
from tests.whole.processes import bathvigil, simulator, start, wait_until
from tests.whole.real_servers import Influx, Series, Victoria, influx, missing, victoria

NO_VICTORIA = missing("victoria-metrics")
NO_INFLUX = missing("influxd")
needs_victoria = pytest.mark.skipif(NO_VICTORIA is not None, reason=str(NO_VICTORIA))
needs_influx = pytest.mark.skipif(NO_INFLUX is not None, reason=str(NO_INFLUX))

MS = 1_000_000


@pytest.fixture(name="server")
def a_victoria(tmp_path: Path) -> Iterator[Victoria]:
    with victoria(tmp_path / "victoria") as server:
        yield server


@pytest.fixture(name="old_server")
def an_influx(tmp_path: Path) -> Iterator[Influx]:
    (tmp_path / "influx").mkdir()
    with influx(tmp_path / "influx") as server:
        yield server


def bench_toml(folder: Path, url: str, address: str = "scpi:/dev/null", more: str = "") -> Path:
    token = folder / "token"
    token.write_text(TOKEN)
    token.chmod(0o600)
    path = folder / "bench.toml"
    path.write_text(
        f"""
        [supplies.bench-1]
        address = "{address}"
        limit_amps = 40.0
        [store]
        file = "a.db"
        [forward]
        url = "{url}"
        org = "shop"
        bucket = "benches"
        token_file = "token"
        site = "north yard"
        bench = "bench-a"
        {more}
        """
    )
    return path


def of_the_store(path: Path, unit_ns: int) -> dict[str, dict[int, float]]:
    """Amps by run and time, as the store has them."""
    held: dict[str, dict[int, float]] = {}
    with open_store(path) as store:
        for row in store.runs():
            series = store.run(row.run).samples()
            times, amps = series.utc_ns.tolist(), series.amps.tolist()
            held[str(row.run)] = {
                at // unit_ns: value
                for at, value in zip(times, amps, strict=True)
                if value == value
            }
    return held


def by_run(found: Series) -> dict[str, dict[int, float | str]]:
    return {dict(tags)["run"].partition("-")[2]: values for tags, values in found.items()}


def shows_all(server: Victoria, path: Path) -> None:
    """Wait until the server shows what the store holds, no more and no less.

    What it has confirmed it shows a moment later, on a busy machine longer than a read takes.
    """

    def is_shown() -> bool:
        return by_run(server.read("bath_reading_amps")) == of_the_store(path, MS)

    try:
        wait_until("the server to show all", is_shown)
    except AssertionError:
        assert by_run(server.read("bath_reading_amps")) == of_the_store(path, MS)


def has_sent(path: Path, points: int) -> bool:
    return sum(state.sent for state in forward_states(path)) > points


def text_of(path: Path) -> str:
    (state,) = forward_states(path)
    return standing_text(state)


@needs_victoria
def test_everything_of_a_store_is_at_the_server_and_again_changes_nothing(
    tmp_path: Path, server: Victoria
) -> None:
    path, config = tmp_path / "a.db", bench_toml(tmp_path, server.url)
    store_with(path, 5000)
    done = bathvigil("forward", "--config", config, "--once")
    assert done.returncode == 0, done.stderr
    assert "forward: all sent, last OK" in done.stderr
    shows_all(server, path)
    qualities = by_run(server.read("bath_reading_quality"))["1"]
    assert (len(qualities), list(qualities.values()).count(3.0)) == (5000, 294)
    assert [len(one) for one in server.read("bath_alarm_standing").values()] == [1]
    assert [len(one) for one in server.read("bath_mark_number").values()] == [1]
    estimates = by_run(server.read("bath_estimate_amp_hours"))["1"]
    with open_store(path) as store:
        assert len(estimates) == len(list(store.run(1).estimates()))
    again = tmp_path / "again"
    again.mkdir()
    (again / "a.db").write_bytes(path.read_bytes())
    # The same store to the same server under another name of it: all is sent once more.
    other = bench_toml(again, server.url.replace("127.0.0.1", "localhost"))
    assert bathvigil("forward", "--config", other, "--once").returncode == 0
    shows_all(server, path)


@needs_influx
def test_everything_of_a_store_is_at_an_older_server_behind_a_proxy(
    tmp_path: Path, old_server: Influx
) -> None:
    path, config = tmp_path / "a.db", bench_toml(tmp_path, old_server.url)
    store_with(path, 3000)
    done = bathvigil("forward", "--config", config, "--once")
    assert done.returncode == 0, done.stderr
    amps = old_server.read("bath_reading", "amps", ("run", "site", "bench", "supply", "bath"))
    assert by_run(amps) == of_the_store(path, 1)
    ((tags, _),) = amps.items()
    assert dict(tags)["bath"] == "north tank"
    texts = old_server.read("bath_mark", "text", ("run",))
    assert [list(one.values()) for one in texts.values()] == [['say "hi", ok']]
    states = old_server.read("bath_alarm", "state", ("alarm", "change"))
    assert [list(one.values()) for one in states.values()] == [["unacknowledged"]]


@needs_influx
def test_a_point_whose_type_an_older_server_refuses_is_kept_apart_and_the_rest_is_there(
    tmp_path: Path, old_server: Influx
) -> None:
    from urllib.request import urlopen

    path, config = tmp_path / "a.db", bench_toml(tmp_path, old_server.url)
    # Somebody wrote the alarms' standing as a text before.
    made = f"http://127.0.0.1:{old_server.port}/write?db=benches"
    with urlopen(made, data=f'bath_alarm standing="yes" {BEGAN_UTC_NS}'.encode()):
        pass
    store_with(path, 500)
    done = bathvigil("forward", "--config", config, "--once")
    assert done.returncode == 0, done.stderr
    ((line, words),) = quarantined(path)
    assert line.startswith("bath_alarm,")
    assert "field type conflict" in words
    assert "1 in quarantine" in done.stderr
    assert by_run(old_server.read("bath_reading", "amps", ("run",))) == of_the_store(path, 1)


@needs_victoria
def test_a_server_killed_for_an_hour_of_data_and_a_forwarder_in_mid_batch_lose_nothing(
    tmp_path: Path, server: Victoria
) -> None:
    path = tmp_path / "a.db"
    config = bench_toml(tmp_path, server.url, more="back_fill_points_per_s = 4000")
    clock = SystemClock()
    with StoreWriter(path, clock=clock) as writer:
        run = writer.begin_run(FACTS, clock=clock, program="bathvigil test").run
        fill(writer, run, 0, 8000)
        forwarder = start("forward", "--config", config)
        wait_until("points at the server", partial(has_sent, path, 2500))
        # What it took during the last seconds is lost with it.
        server.kill()
        # An hour of readings at 5 Hz.
        for first in range(8000, 26_000, 1800):
            fill(writer, run, first, 1800)
            time.sleep(0.1)
        wait_until("the failure told", lambda: "no connection" in text_of(path))
        assert "behind, last OK" in text_of(path)
        forwarder.send_signal(signal.SIGKILL)
        forwarder.communicate()
        assert not is_forwarded(path)
        server.start()
        for _ in range(3):
            forwarder = start("forward", "--config", config)
            wanted = forward_states(path)[0].sent + 500
            wait_until("more points", partial(has_sent, path, wanted))
            forwarder.send_signal(signal.SIGKILL)
            forwarder.communicate()
        writer.end_run(run, None, "ended")
    config = bench_toml(tmp_path, server.url)
    assert bathvigil("forward", "--config", config, "--once").returncode == 0
    shows_all(server, path)
    assert "all sent" in text_of(path)


@needs_victoria
def test_the_recorder_starts_it_and_a_reading_is_at_the_server_within_two_seconds(
    tmp_path: Path, server: Victoria
) -> None:
    with simulator("tank-warms-to-trip", "scpi-tcp", 1.0) as (address, _):
        config = bench_toml(tmp_path, server.url, address)
        path = tmp_path / "a.db"
        recorder = start("record", "--config", config)

        def newest_is_new() -> bool:
            """The newest at the server, from just before it was asked, is under 2 s old."""
            asked_ms = time.time() * 1000
            found = by_run(server.read("bath_reading_amps")).get("1")
            return bool(found) and asked_ms - max(found or [0]) < 2000

        wait_until("a reading at the server within two seconds", newest_is_new)
        assert is_forwarded(path)
        recorder.send_signal(signal.SIGTERM)
        recorder.communicate(timeout=20)
    # All is sent and nobody records: it goes.
    wait_until("the forwarder to end", lambda: not is_forwarded(path))
    shows_all(server, path)
    log = forward_log_path(path)
    wait_until("its last words", lambda: "forward: all sent" in log.read_text())


def test_starting_it_waits_for_nothing_and_a_second_one_is_not_started(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with scripted([Cut.RESET]) as server:
        config = bench_toml(tmp_path, server.url)
        store_with(path, 10)
        with store_lock(path):
            process = start_forwarder(config, path)
            assert process is not None
            wait_until("a forwarder", lambda: is_forwarded(path))
            assert start_forwarder(config, path) is None
            assert bathvigil("forward", "--config", config).returncode == 1
            process.send_signal(signal.SIGTERM)
            process.wait(20)


def test_a_forwarder_that_is_killed_is_started_again_by_the_recorders_watch(
    tmp_path: Path,
) -> None:
    path, clock = tmp_path / "a.db", HandClock()
    store_with(path, 10)
    with scripted([Cut.RESET] * 100) as server, store_lock(path):
        config = bench_toml(tmp_path, server.url)
        started: list[subprocess.Popen[bytes] | None] = []

        def start_one(config: Path, store: Path) -> "subprocess.Popen[bytes] | None":
            started.append(start_forwarder(config, store))
            return started[-1]

        place = Forwarded(config, f"{server.url} org=shop bucket=benches")
        watch = ForwardWatch(path, place, lambda: 5.0, clock, lambda _: None, start_one)
        for _ in range(2):
            clock.pass_s(100)
            found = watch.look()
            assert found is not None
            assert found.holds, "nobody copies"
            wait_until("a forwarder", lambda: is_forwarded(path))
            found = watch.look()
            assert found is None or not found.holds
            process = started[-1]
            assert process is not None
            process.kill()
            process.wait(20)
        assert len(started) == 2


def test_nothing_is_started_that_was_not_asked_for(tmp_path: Path) -> None:
    config = tmp_path / "bench.toml"
    config.write_text('[supplies.a]\naddress = "scpi:/dev/null"\nlimit_amps = 1.0\n')
    assert start_forwarder(config, tmp_path / "a.db") is None
    assert start_forwarder(None, tmp_path / "a.db") is None
    done = bathvigil("forward", "--config", config)
    assert (done.returncode, "[forward]" in done.stderr) == (2, True)


@pytest.mark.parametrize("status", [401, 503])
def test_once_says_why_not_everything_was_sent(tmp_path: Path, status: int) -> None:
    from tests.servers.scripted import Answer, refusal

    store_with(tmp_path / "a.db", 10)
    answers: list[Answer | Cut] = [Answer(status, refusal(f"no entry for {TOKEN}"))]
    with scripted(answers) as server:
        done = bathvigil("forward", "--config", bench_toml(tmp_path, server.url), "--once")
    assert done.returncode == 1
    assert f"{status} no entry for ***" in done.stderr
    assert "behind" in done.stderr


def test_the_token_is_in_no_argument_output_log_or_store(tmp_path: Path) -> None:
    from tests.servers.scripted import Answer

    path = tmp_path / "a.db"
    store_with(path, 10)
    echo = [Answer(503, f"token {TOKEN} is late")] * 3
    with scripted([*echo]) as server:
        config = bench_toml(tmp_path, server.url)
        process = start_forwarder(config, path)
        assert process is not None
        wait_until("a failure", lambda: "503" in text_of(path) if _has_state(path) else None)
        told = Path(f"/proc/{process.pid}/cmdline").read_bytes()
        process.send_signal(signal.SIGTERM)
        process.wait(20)
        assert server.authorizations[0] == f"Token {TOKEN}"
    for file in tmp_path.iterdir():
        if file.name != "token":
            told += file.read_bytes()
    assert b"token *** is late" in told
    assert TOKEN.encode() not in told


def test_a_token_that_others_can_read_is_refused_before_anything_is_sent(tmp_path: Path) -> None:
    with scripted() as server:
        config = bench_toml(tmp_path, server.url)
        (tmp_path / "token").chmod(0o644)
        store_with(tmp_path / "a.db", 10)
        done = bathvigil("forward", "--config", config, "--once")
        assert server.requests == []
    assert done.returncode == 2
    assert f"chmod 600 {tmp_path / 'token'}" in done.stderr
    assert TOKEN not in done.stderr


def _has_state(path: Path) -> bool:
    return bool(forward_states(path))
