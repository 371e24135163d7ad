"""A clock that goes only when a test lets it."""

import threading


class HandClock:
    """Monotonic and UTC time in nanoseconds, moved by hand; a wait passes at once."""

    def __init__(
        self, now_ns: int = 5_000_000_000, utc_now_ns: int = 1_750_000_000_000_000_000
    ) -> None:
        self.now_ns = now_ns
        self.utc_now_ns = utc_now_ns

    def monotonic_ns(self) -> int:
        return self.now_ns

    def utc_ns(self) -> int:
        return self.utc_now_ns

    def wait(self, seconds: float, until: threading.Event | None = None) -> bool:
        if until is not None and until.is_set():
            return True
        self.pass_s(max(seconds, 0.0))
        return False

    def pass_s(self, seconds: float) -> None:
        self.now_ns += round(seconds * 1e9)
        self.utc_now_ns += round(seconds * 1e9)
