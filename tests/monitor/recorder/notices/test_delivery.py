"""One try: the real answer of a real server, a command or a library, by its deadline."""

import json
import shlex
import sys
from pathlib import Path

import pytest

from monitor.base.secret import Secret
from monitor.model.alarm import Priority
from monitor.recorder.notices.channel import Channel, ChannelKind
from monitor.recorder.notices.delivery import deliver, try_channels
from monitor.recorder.notices.notice import Notice
from tests.monitor.recorder.notices.receivers import http, receiver

NOTICE = Notice("1-tripped-1", "bench-1: tripped", "the supply cut out.", Priority.CRITICAL)


def webhook(url: str) -> Channel:
    return Channel("phone", ChannelKind.WEBHOOK, Secret(url))


def command(*words: str) -> Channel:
    return Channel("horn", ChannelKind.COMMAND, Secret(shlex.join(words)))


def test_a_webhook_gets_the_notice_and_its_answer_is_told() -> None:
    with receiver(http("200 OK", "taken, thank you")) as there:
        answer = deliver(webhook(there.url), NOTICE, 10.0)
    assert (answer.is_ok, answer.text) == (True, "200 taken, thank you")
    assert json.loads(there.bodies[0]) == {
        "key": "1-tripped-1",
        "title": "bench-1: tripped",
        "text": "the supply cut out.",
        "priority": "critical",
    }


@pytest.mark.parametrize(
    ("reply", "says"),
    [
        (http("500 Internal Server Error", "out of paper"), "500 out of paper"),
        (http("403 Forbidden"), "403 Forbidden"),
        (http("302 Found"), "302"),
        (b"\x00\x01nonsense\r\n\r\n", "not reached"),
    ],
)
def test_a_refusal_is_told_in_the_servers_own_words(reply: bytes, says: str) -> None:
    with receiver(reply) as there:
        answer = deliver(webhook(there.url), NOTICE, 10.0)
    assert not answer.is_ok
    assert says in answer.text


def test_nobody_there_is_told() -> None:
    answer = deliver(webhook("http://127.0.0.1:9/"), NOTICE, 10.0)
    assert not answer.is_ok
    assert "refused" in answer.text


def test_a_server_that_never_answers_ends_at_the_deadline() -> None:
    with receiver() as there:
        answer = deliver(webhook(there.url), NOTICE, 1.0)
    assert not answer.is_ok
    assert "timed out" in answer.text


def test_a_secret_address_is_never_in_what_is_told() -> None:
    address = "http://127.0.0.1:9/canary-5f2c"
    answer = deliver(webhook(address), NOTICE, 5.0)
    assert "canary" not in answer.text
    assert "canary" not in repr(webhook(address))


def test_a_command_gets_title_and_text_and_its_last_line_is_the_answer(tmp_path: Path) -> None:
    to = tmp_path / "got"
    code = f"import sys; open({str(to)!r}, 'w').write('|'.join(sys.argv[1:])); print('rung')"
    answer = deliver(command(sys.executable, "-c", code), NOTICE, 10.0)
    assert (answer.is_ok, answer.text) == (True, "rung")
    assert to.read_text() == "bench-1: tripped|the supply cut out."


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("/no/such/horn",), "cannot be run"),
        ((sys.executable, "-c", "import sys; sys.exit('no paper')"), "no paper"),
        ((sys.executable, "-c", "import threading; threading.Event().wait()"), "within 0.5 s"),
    ],
)
def test_a_command_that_fails_is_told(words: tuple[str, ...], says: str) -> None:
    answer = deliver(command(*words), NOTICE, 0.5)
    assert not answer.is_ok
    assert says in answer.text


def test_the_library_reaches_a_service() -> None:
    # apprise's own generic JSON service, https://github.com/caronc/apprise/wiki/Notify_Custom_JSON
    with receiver(http("200 OK")) as there:
        address = there.url.replace("http://", "json://")
        channel = Channel("pager", ChannelKind.SERVICE, Secret(address))
        answer = deliver(channel, NOTICE, 10.0)
    assert answer.is_ok, answer.text
    assert json.loads(there.bodies[0])["title"] == "bench-1: tripped"


def test_the_librarys_refusal_is_told() -> None:
    with receiver(http("500 Internal Server Error")) as there:
        address = there.url.replace("http://", "json://")
        answer = deliver(Channel("pager", ChannelKind.SERVICE, Secret(address)), NOTICE, 10.0)
    assert not answer.is_ok
    assert "500" in answer.text


def test_a_trial_gives_each_channels_real_answer() -> None:
    with receiver(http("200 OK", "fine")) as good, receiver(http("410 Gone")) as gone:
        channels = [webhook(good.url), webhook(gone.url)]
        answers = [answer.text for _, answer in try_channels(channels)]
    assert answers == ["200 fine", "410 Gone"]
