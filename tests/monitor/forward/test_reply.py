"""What a server's answer means for the points."""

import pytest

from monitor.forward.reply import (
    LONGEST_S,
    LONGEST_WORDS,
    SLOW_S,
    Meaning,
    Pause,
    Reply,
    reply_of,
    words_of,
)


@pytest.mark.parametrize(
    ("status", "meaning"),
    [
        (204, Meaning.TAKEN),
        # A login page, or a proxy's own.
        (200, Meaning.WRONG_PLACE),
        (202, Meaning.WRONG_PLACE),
        (400, Meaning.REFUSED),
        (422, Meaning.REFUSED),
        (413, Meaning.TOO_LARGE),
        (401, Meaning.NOT_LET_IN),
        (403, Meaning.NOT_LET_IN),
        (301, Meaning.WRONG_PLACE),
        (404, Meaning.WRONG_PLACE),
        (405, Meaning.WRONG_PLACE),
        (408, Meaning.BUSY),
        (429, Meaning.BUSY),
        (500, Meaning.BUSY),
        (502, Meaning.BUSY),
        (503, Meaning.BUSY),
    ],
)
def test_only_what_is_about_the_points_is_taken_for_their_fault(
    status: int, meaning: Meaning
) -> None:
    assert reply_of(status, {}, b"").meaning is meaning


@pytest.mark.parametrize(
    ("headers", "wait_s"),
    [
        ({"Retry-After": "7"}, 7.0),
        # RFC 9110, section 10.2.3 and its form of a date, section 5.6.7.
        ({"Retry-After": "Fri, 31 Dec 1999 23:59:59 GMT",
          "Date": "Fri, 31 Dec 1999 23:59:29 GMT"}, 30.0),
        ({"Retry-After": "Fri, 31 Dec 1999 23:59:59 GMT"}, None),
        ({"Retry-After": "99999999999999999999"}, 3600.0),
        ({"Retry-After": "-3"}, None),
        ({"Retry-After": "soon"}, None),
        ({"Retry-After": "3²"}, None),
        # Without a zone beside one with a zone (RFC 5322, section 3.3: "-0000"); beyond any year.
        ({"Retry-After": "Fri, 31 Dec 1999 23:59:59 -0000",
          "Date": "Fri, 31 Dec 1999 23:59:29 GMT"}, None),
        ({"Retry-After": "Fri, 31 Dec 99999999999 23:59:59 GMT",
          "Date": "Fri, 31 Dec 1999 23:59:29 GMT"}, None),
        ({}, None),
    ],
)  # fmt: skip
def test_the_rest_that_a_server_asks_for_is_understood(
    headers: dict[str, str], wait_s: float | None
) -> None:
    assert reply_of(429, headers, b"").retry_after_s == wait_s


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b'{"code":"unauthorized","message":"unauthorized access"}', "unauthorized access"),
        # influxd 1.6.7 answers so (measured).
        (b'{"error":"partial write: field type conflict dropped=1"}',
         "partial write: field type conflict dropped=1"),
        (b"<html>\n<b>502</b>\n", "<html> <b>502</b>"),
        (b"\xff\x1b[31mred", "\ufffd [31mred"),
        (b'["a"]', '["a"]'),
        (b'{"message":3}', '{"message":3}'),
        (b"", ""),
        (None, ""),
    ],
)  # fmt: skip
def test_the_servers_words_are_one_printable_line(body: bytes | None, words: str) -> None:
    assert words_of(body) == words


def test_a_long_page_is_cut() -> None:
    assert len(words_of("x" * 10_000)) == LONGEST_WORDS


@pytest.mark.parametrize(
    ("words", "dropped", "is_too_old"),
    [
        # InfluxDB 1.x and 2.x, as their sources word it (from memory).
        ("partial write: points beyond retention policy dropped=3", 3, True),
        ("failure writing points to database: partial write: dropped 3 points outside "
         "retention policy of duration 24h0m0s", None, True),
        ("partial write: field type conflict: input field \"amps\" dropped=1", 1, False),
        ("unable to parse 'bath amps= 5': missing field value", None, False),
    ],
)  # fmt: skip
def test_what_is_said_of_points_is_understood(
    words: str, dropped: int | None, is_too_old: bool
) -> None:
    reply = Reply(Meaning.REFUSED, 422, words)
    assert (reply.dropped, reply.is_too_old) == (dropped, is_too_old)
    assert reply.is_explained


def test_a_place_that_is_not_there_is_not_taken_for_old_points() -> None:
    # InfluxDB 1.x, as its source words it (from memory).
    assert not Reply(Meaning.REFUSED, 400, "retention policy not found: autogen").is_too_old


def test_pauses_double_up_to_a_minute_and_begin_anew_after_a_success() -> None:
    pause, busy = Pause("bench-1"), Reply(Meaning.BUSY, 503)
    waits = [pause.after(busy) for _ in range(12)]
    assert waits[1] / waits[0] == waits[3] / waits[2] == 2
    assert LONGEST_S <= waits[-1] == waits[-2] <= 1.25 * LONGEST_S
    pause.over()
    assert pause.after(busy) == waits[0]


def test_a_wrong_token_or_place_is_tried_slowly_and_a_servers_wish_is_kept() -> None:
    assert Pause("a").after(Reply(Meaning.NOT_LET_IN, 401)) >= SLOW_S
    assert Pause("a").after(Reply(Meaning.WRONG_PLACE, 404)) >= SLOW_S
    assert Pause("a").after(Reply(Meaning.BUSY, 429, "", 1800.0)) == 1800.0


def test_two_hundred_benches_do_not_come_back_in_the_same_moment() -> None:
    busy = Reply(Meaning.BUSY, 503)
    waits = [Pause(f"shop bench-{number}").after(busy) for number in range(200)]
    assert len({round(wait_s, 3) for wait_s in waits}) > 100
    assert all(1.0 <= wait_s <= 1.25 for wait_s in waits)
