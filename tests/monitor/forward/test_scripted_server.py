"""A real client and a scripted server: every answer and cut is told, nothing is lost."""

import gzip
import random
import time
import tracemalloc
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC
from pathlib import Path

import pytest

from monitor.forward.reply import Meaning
from monitor.forward.standing import standing_text
from monitor.store.forward_state import quarantined
from monitor.store.reader import open_store
from tests.clock import HandClock
from tests.monitor.forward.bench import (
    a_forwarder,
    points_in,
    server_sink,
    state_of,
    steps,
    store_with,
)
from tests.monitor.store.bench import BEGAN_UTC_NS, POLL_NS, a_run, a_sample, a_store
from tests.servers.scripted import Answer, Cut, ScriptedServer, refusal, scripted


@pytest.fixture(name="path")
def a_path(tmp_path: Path) -> Path:
    return tmp_path / "a.db"


@pytest.fixture(autouse=True)
def _gives_up_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("monitor.forward.sink.TIMEOUT_S", 0.25)


def holds_the_store(server: ScriptedServer, path: Path) -> bool:
    """Count and values of all readings are the store's own."""
    told = {}
    for ((measurement, tags), time_ns), fields in server.points.items():
        if measurement == "bath_reading":
            told[dict(tags)["run"], time_ns] = fields
    stored = 0
    with open_store(path) as store:
        for row in store.runs():
            tag = f"20250615T150640Z-{row.run}"
            series = store.run(row.run).samples()
            for at, utc_ns in enumerate(series.utc_ns.tolist()):
                stored += 1
                fields = told[tag, utc_ns]
                for name in ("volts", "amps"):
                    value = getattr(series, name)[at].item()
                    assert (name not in fields) if value != value else fields[name] == value
    return stored == len(told)


SCRIPTS = [
    ([Answer(200, "<html>Log in")],
     "12 behind, none sent yet, last error 15:06:4N 200 does not say that the points are written "
     "(204 does): <html>Log in: check forward.url, org and bucket"),
    ([Answer(204)], "all sent, last OK 15:06:4N"),
    ([Answer(401, refusal("unauthorized access"))],
     "12 behind, none sent yet, last error 15:06:4N 401 unauthorized access: "
     "check the token (forward.token_file or token_env)"),
    ([Answer(404, refusal('bucket "benches" not found'))],
     '12 behind, none sent yet, last error 15:06:4N 404 bucket "benches" not found: '
     "check forward.url, org and bucket"),
    ([Answer(429, refusal("slow down"), (("retry-after", "30"),))],
     "12 behind, none sent yet, last error 15:06:4N 429 slow down; it asks for 30 s of rest"),
    ([Answer(503, "restarting")],
     "12 behind, none sent yet, last error 15:06:4N 503 restarting"),
    ([Cut.HANG], "12 behind, none sent yet, last error 15:06:4N no answer within 0.25 s"),
    ([Cut.RESET], "12 behind, none sent yet, last error 15:06:4N the connection broke off"),
    ([Cut.RESET_AFTER],
     "12 behind, none sent yet, last error 15:06:4N the connection broke off"),
    ([Cut.DRIP], "12 behind, none sent yet, last error 15:06:4N no answer within 0.25 s"),
    ([Cut.DRIP_HEAD], "12 behind, none sent yet, last error 15:06:4N no answer within 0.25 s"),
    # RFC 9110, section 8.4: what a page in between may do, though nobody asked for it.
    ([Answer(502, gzip.compress(b"bad gateway"), (("Content-Encoding", "gzip"),))],
     "12 behind, none sent yet, last error 15:06:4N 502 bad gateway"),
    ([Answer(502, b"not gzip", (("Content-Encoding", "gzip"),))],
     "12 behind, none sent yet, last error 15:06:4N 502 not gzip"),
    ([Answer(503, "Wartung l\u00e4uft".encode("latin-1"))],
     "12 behind, none sent yet, last error 15:06:4N 503 Wartung l\ufffduft"),
    ([Answer(503, "busy".encode("utf-16"), (("Content-Type", "text/plain; charset=none"),))],
     "12 behind, none sent yet, last error 15:06:4N 503 "),
    ([Answer(503, "later", (("Retry-After", "Fri, 31 Dec 1999 23:59:59 -0000"),))],
     "12 behind, none sent yet, last error 15:06:4N 503 later"),
]  # fmt: skip


@pytest.mark.parametrize(("script", "text"), SCRIPTS)
def test_each_answer_is_told_in_words_and_afterwards_everything_is_there(
    path: Path, script: list[Answer | Cut], text: str
) -> None:
    store_with(path, 12)
    clock = HandClock()
    with scripted(script) as server, server_sink(server.url) as sink:
        forwarder, _ = a_forwarder(path, sink, clock)
        while server.script:
            clock.pass_s(forwarder.step())
        if isinstance(script[0], Answer) and script[0].status == 204:
            steps(forwarder, clock)
        told = standing_text(state_of(path), UTC)
        assert text.replace("4N", told.partition("15:06:")[2][:2]) in told
        forwarder.is_all_sent = False
        steps(forwarder, clock)
        forwarder.close()
        assert len(server.points) == points_in(12)
        assert holds_the_store(server, path)
        assert "all sent, last OK" in standing_text(state_of(path), UTC)


def test_an_answer_is_read_up_to_a_few_kilobytes_packed_or_not() -> None:
    size = 50_000_000
    long = [
        Answer(503, gzip.compress(bytes(size)), (("Content-Encoding", "gzip"),)),
        Answer(503, b"x" * size),
    ]
    with scripted([*long, Answer(204)]) as server, server_sink(server.url) as sink:
        sink.write(["bath amps=1 4"])
        server.script.insert(0, long[0])
        tracemalloc.start()
        replies = [sink.write(["bath amps=1 5"]) for _ in long]
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert [reply.status for reply in replies] == [503, 503]
        assert peak < size / 10
        assert sink.write(["bath amps=1 5"]).meaning is Meaning.TAKEN


def test_a_server_without_tls_is_told_as_such() -> None:
    with scripted() as server, server_sink(server.url.replace("http:", "https:")) as sink:
        reply = sink.write(["bath amps=1 5"])
    assert reply.meaning is Meaning.UNREACHABLE
    assert reply.text.startswith("no safe connection (TLS failed: ")


def test_a_server_that_was_started_anew_between_two_writes_is_noticed() -> None:
    """Also where what came between was no success: what it took before that may be lost."""
    stale = Answer(503, "later", (("Connection", "close"),))
    script: list[Answer | Cut] = [Answer(204), Answer(204), Answer(400, "x"), stale]
    with scripted(script) as server, server_sink(server.url) as sink:
        # The last but one tells of its end: a new connection after that is no surprise.
        is_new = [sink.write(["bath amps=1 5"]).is_new_connection for _ in range(5)]
        server.drop_connections()
        is_new += [sink.write(["bath amps=1 5"]).is_new_connection for _ in range(2)]
    assert is_new == [False] * 5 + [True, False]


@pytest.mark.parametrize("status", [400, 422])
def test_a_refused_point_is_kept_apart_and_told(path: Path, status: int) -> None:
    store_with(path, 300)
    bad = str(BEGAN_UTC_NS + 100 * POLL_NS)
    clock = HandClock()

    def judge(line: str) -> str | None:
        is_it = line.endswith(bad) and line.startswith("bath_reading")
        return "unable to parse the marked one" if is_it else None

    with scripted(judge=judge, keeps_the_rest=status == 400) as server:
        with server_sink(server.url) as sink:
            forwarder, _ = a_forwarder(path, sink, clock)
            steps(forwarder, clock)
            forwarder.close()
        assert len(server.points) == points_in(300) - 1
        # In order all the same, but for what a halved batch repeats.
        readings = [one for one in server.order if one.startswith("bath_reading")]
        first_seen = list(dict.fromkeys(readings))
        assert first_seen == sorted(first_seen, key=lambda one: int(one.rsplit(" ", 1)[1]))
    ((line, words),) = quarantined(path)
    assert line.endswith(bad)
    assert "unable to parse the marked one" in words
    told = standing_text(state_of(path), UTC)
    assert f" {status} " in told
    assert told.endswith("1 in quarantine")
    assert "all sent" in told


def test_a_body_that_is_too_large_goes_in_smaller_ones(path: Path) -> None:
    store_with(path, 300)
    clock = HandClock()
    with scripted(largest=40) as server, server_sink(server.url) as sink:
        forwarder, _ = a_forwarder(path, sink, clock)
        steps(forwarder, clock)
        forwarder.close()
        assert holds_the_store(server, path)
        assert len(server.points) == points_in(300)
    assert "413 too large" in standing_text(state_of(path), UTC)
    assert quarantined(path) == []


@pytest.mark.parametrize("breaks_off", [False, True])
@pytest.mark.parametrize("keeps_the_rest", [True, False])
def test_three_days_for_a_server_that_keeps_one_are_told_skipped_and_counted(
    path: Path, keeps_the_rest: bool, breaks_off: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once each, though all of it is sent again after a connection that broke off."""
    monkeypatch.setattr("monitor.forward.sink.TIMEOUT_S", 10.0)
    day_s, days = 86_400, 3
    oldest_ns = BEGAN_UTC_NS + (days - 1) * day_s * 10**9
    with a_store(path) as writer:
        run = a_run(writer)
        # A reading every minute, as seq and time have it.
        per_minute = 60 * 10**9 // POLL_NS
        writer.write([(run, a_sample(n * per_minute)) for n in range(days * day_s // 60)])
        writer.end_run(run, None, "ended")
    clock, cuts = HandClock(), [Cut.RESET] if breaks_off else []

    def judge(line: str) -> str | None:
        is_old = int(line.rsplit(" ", 1)[1]) < oldest_ns
        if cuts and not is_old:
            server.script.append(cuts.pop())
        return "points beyond retention policy" if is_old else None

    with scripted(judge=judge, keeps_the_rest=keeps_the_rest) as server:
        with server_sink(server.url) as sink:
            forwarder, _ = a_forwarder(path, sink, clock)
            steps(forwarder, clock)
            forwarder.close()
        assert len(server.points) == day_s // 60
    state = state_of(path)
    assert (state.behind, state.too_old, state.quarantined) == (0, 2 * day_s // 60, 0)
    assert standing_text(state, UTC).endswith("2,880 too old for the server")


def test_first_whole_then_fractional_numbers_are_of_one_type_at_a_strict_server(
    path: Path,
) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(seq, amps=amps)) for seq, amps in enumerate((5, 5.5, -0.0))])
        writer.end_run(run, None, "ended")
    clock = HandClock()
    with scripted() as server, server_sink(server.url, gzip=False) as sink:
        forwarder, _ = a_forwarder(path, sink, clock)
        steps(forwarder, clock)
        forwarder.close()
        assert [fields["amps"] for fields in server.points.values()] == [5.0, 5.5, 0.0]
    assert quarantined(path) == []


@pytest.fixture(params=["Asia/Kolkata", "Europe/Berlin", "America/St_Johns"])
def _somewhere(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("TZ", request.param)
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("_somewhere")
def test_times_at_the_server_are_the_stores_wherever_and_whenever(path: Path) -> None:
    # 2024-10-27 00:30 UTC, in the hour that Berlin has twice (IANA time zone database).
    night_ns = 1_729_989_000 * 10**9
    clock = HandClock(utc_now_ns=night_ns)
    with a_store(path, clock) as writer:
        run = a_run(writer, clock)
        rows = [a_sample(seq) for seq in range(0, 36_000, 600)]
        writer.write([(run, replace(row, utc_ns=night_ns + row.t_ns)) for row in rows])
        writer.end_run(run, None, "ended")
    with scripted() as server, server_sink(server.url) as sink:
        forwarder, _ = a_forwarder(path, sink, clock)
        steps(forwarder, clock)
        forwarder.close()
        assert [time_ns for _, time_ns in server.points] == [night_ns + row.t_ns for row in rows]
        assert all("precision=ns" in one for one in server.requests)


@pytest.mark.parametrize("most", [50, pytest.param(500, marks=pytest.mark.trial)])
def test_cuts_lose_nothing(most: int, path: Path) -> None:
    chance, clock = random.Random(4711), HandClock()
    kinds: list[Answer | Cut] = [
        Cut.RESET, Cut.RESET_AFTER, Answer(503, "x"), Answer(429, "x"), Answer(204),
    ]  # fmt: skip
    cuts = 0
    with a_store(path) as writer, scripted() as server, server_sink(server.url) as sink:
        run, seq = a_run(writer, clock), 0
        forwarder, _ = a_forwarder(path, sink, clock)
        while cuts < most:
            count = chance.choice([1, 2, 5, 40])
            writer.write([(run, a_sample(n, amps=n / 7)) for n in range(seq, seq + count)])
            seq += count
            if not server.script:
                server.script = chance.choices(kinds, k=chance.randint(1, 3))
            waiting = len(server.script)
            wait_s = forwarder.step()
            cuts += waiting - len(server.script)
            clock.pass_s(wait_s + 0.01)
            if chance.random() < 0.02:
                forwarder.close()
                forwarder, _ = a_forwarder(path, sink, clock)
        server.script = []
        writer.end_run(run, None, "ended")
        steps(forwarder, clock)
        forwarder.close()
        assert len(server.points) == seq
        assert holds_the_store(server, path)
    assert state_of(path).behind == 0
    assert quarantined(path) == []
