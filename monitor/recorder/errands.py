"""Carries out what the operator asks for from a screen: acknowledge, mark, next step, end a run."""

import threading
from collections.abc import Callable, Mapping
from pathlib import Path

from monitor.base.errors import BathvigilError
from monitor.baths.learned_bath import learned_bath
from monitor.baths.run_charge import need_of_card
from monitor.baths.usual_draw import usual_draw
from monitor.model.alarm import AlarmEvent
from monitor.model.card import JobCard
from monitor.model.card_text import card_from_text
from monitor.model.event import Mark, SettingChange
from monitor.model.request import Request, RequestKind
from monitor.model.run import EndReason
from monitor.recorder.in_force import card_changes, horizon_changes
from monitor.recorder.watched import Watched
from monitor.store.reader import open_store
from monitor.watch.vigil import Vigil

MOST_DIGITS = 12
"""Of an alarm's number, as a screen writes it."""


class Errands:
    """The operator's requests, carried out for the run that each is meant for.

    Called in the scribe's thread, which finds them in the store.

    Parameters
    ----------
    store
        Where the earlier runs lie.
    watched
        The runs, by number.
    tell_event
        Called, in the run's polling thread, with what changed an alarm apart from any row.
    note_apart
        Called with a run and its new mark, or a limit that a job card has changed.
    heard
        Called with the name of who has heard the sound.
    all_ended
        Called when the operator has ended the last run.
    """

    def __init__(
        self,
        store: Path,
        watched: Mapping[int, Watched],
        tell_event: Callable[[int, AlarmEvent], None],
        note_apart: Callable[[int, Mark | SettingChange], None],
        heard: Callable[[str], str],
        all_ended: Callable[[str], None],
    ) -> None:
        self._store = store
        self._watched = watched
        self._tell_event = tell_event
        self._note_apart = note_apart
        self._heard = heard
        self._all_ended = all_ended

    def take(self, request: Request) -> str:
        """Carry a request out; the outcome in words."""
        watched = self._watched[request.run]
        match request.kind:
            case RequestKind.ACKNOWLEDGE | RequestKind.SHELVE | RequestKind.UNSHELVE:
                watched.station.ask(lambda vigil: self._change(vigil, request))
                return "taken"
            case RequestKind.MARK | RequestKind.NOTE:
                return self._mark(watched, request)
            case RequestKind.END_RUN:
                watched.ended_why = EndReason.BY_OPERATOR
                if all(station.ended_why is not None for station in self._watched.values()):
                    self._all_ended(EndReason.BY_OPERATOR)
                return "ended"
            case RequestKind.SOUND_HEARD:
                return self._heard(request.by)
            case RequestKind.NEXT_STEP:
                watched.station.ask(lambda vigil: _next_step(vigil, request.detail))
                return "taken"
            case RequestKind.JOB_CARD:
                return self._take_card(watched, request)

    def _take_card(self, watched: Watched, request: Request) -> str:
        card = card_from_text(request.detail)
        if card is None:
            return "not understood"
        watched.station.ask(lambda vigil: self._put_card(vigil, watched, request.utc_ns, card))
        self.look_up_like_jobs(watched, card)
        return "taken"

    def look_up_like_jobs(self, watched: Watched, card: JobCard) -> None:
        """Have a run's watch learn what such a job draws, by a thread: the store may be slow."""
        if not card.is_blank or watched.row.facts.bath:
            name, given = f"like jobs of run {watched.row.run}", (watched, card)
            threading.Thread(target=self._look_up, args=given, name=name, daemon=True).start()

    def _look_up(self, watched: Watched, card: JobCard) -> None:
        try:
            with open_store(self._store) as opened:
                facts, run = watched.row.facts, watched.row.run
                usual = usual_draw(opened, facts, card, run)
                need = need_of_card(opened, facts, card, run)
                prior = learned_bath(opened, facts, card.bath or facts.bath, run)
        except BathvigilError:
            # Without the earlier runs the start is judged by the area alone.
            return
        likely = None if need is None else need.likely
        watched.station.ask(lambda vigil: vigil.expect(usual, likely, prior))

    def _put_card(self, vigil: Vigil, watched: Watched, utc_ns: int, card: JobCard) -> None:
        before, before_s, t_ns = vigil.fittings, vigil.horizon_s, watched.last_t_ns
        vigil.take_card(card)
        changes = card_changes(before, vigil.fittings, t_ns, utc_ns)
        changes += horizon_changes(before_s, vigil.horizon_s, t_ns, utc_ns)
        for change in changes:
            self._note_apart(watched.row.run, change)

    def _change(self, vigil: Vigil, request: Request) -> None:
        alarm, _, number = request.detail.partition("#")
        occurrence = int(number) if number.isdecimal() and len(number) <= MOST_DIGITS else None
        event: AlarmEvent | None = None
        if request.kind is RequestKind.UNSHELVE:
            event = vigil.unshelve(alarm, request.by)
        elif occurrence is not None and request.kind is RequestKind.SHELVE:
            event = vigil.shelve(alarm, occurrence, request.by)
        elif occurrence is not None:
            event = vigil.acknowledge(alarm, occurrence, request.by)
        if event is not None:
            self._tell_event(request.run, event)

    def _mark(self, watched: Watched, request: Request) -> str:
        watched.marks += 1
        segment = watched.begun.segment
        # The key was pressed a moment ago: its wall time says when, within this segment.
        since_ns = max(request.utc_ns - segment.began_utc_ns, 0)
        mark = Mark(watched.marks, segment.began_t_ns + since_ns, request.utc_ns, request.detail)
        self._note_apart(watched.row.run, mark)
        return f"mark {watched.marks}"


def _next_step(vigil: Vigil, prompt: str) -> None:
    vigil.next_step(prompt)
