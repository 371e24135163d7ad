"""How forwarding stands, in one line for a screen or a check."""

from datetime import UTC, datetime, tzinfo

from monitor.store.forward_rows import ForwardState


def standing_text(state: ForwardState, zone: tzinfo | None = None) -> str:
    """How forwarding stands, in local time; in another zone where one is given.

    Examples
    --------
    >>> ok, late = 1_750_000_000_000_000_000, 1_750_000_060_000_000_000
    >>> print(standing_text(ForwardState("x", last_ok_utc_ns=ok), UTC))
    all sent, last OK 15:06:40
    >>> print(standing_text(ForwardState("x", 1204, 0, 0, 3, 1, ok, "503 restarting", late), UTC))
    1,204 behind, last OK 15:06:40, last error 15:07:40 503 restarting, \
1 in quarantine, 3 too old for the server
    """
    behind = f"{state.behind:,} behind" if state.behind else "all sent"
    if state.last_ok_utc_ns is None:
        behind = f"{state.behind:,} behind, none sent yet"
    parts = [behind]
    if state.last_ok_utc_ns is not None:
        parts.append(f"last OK {_time(state.last_ok_utc_ns, zone)}")
    if state.trouble is not None and state.trouble_utc_ns is not None:
        parts.append(f"last error {_time(state.trouble_utc_ns, zone)} {state.trouble}")
    if state.quarantined:
        parts.append(f"{state.quarantined:,} in quarantine")
    if state.too_old:
        parts.append(f"{state.too_old:,} too old for the server")
    return ", ".join(parts)


def _time(utc_ns: int, zone: tzinfo | None) -> str:
    moment = datetime.fromtimestamp(utc_ns // 1_000_000_000, UTC).astimezone(zone)
    return f"{moment:%H:%M:%S}"
