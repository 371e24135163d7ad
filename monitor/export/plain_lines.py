"""Lines as dictionaries in, lines for people out: what `replay` and `record` print by default."""

from monitor.export.json_lines import Line


def _seconds(value: object) -> str:
    if not isinstance(value, int | float):
        return "over an hour"
    return f"{value:.0f} s" if value < 90 else f"{value / 60:.1f} min"


def _count(number: object, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def plain_line(line: Line) -> str:
    """One event in words.

    >>> plain_line({"kind": "alarm", "t_s": 812.4, "alarm": "tripped", "change": "raised",
    ...             "priority": "critical", "message": "the supply cut out"})
    '   812.4 s  ALARM tripped raised (critical): the supply cut out'
    >>> plain_line({"kind": "forecast", "t_s": 9.0, "trip_in_s": None, "why": "no rise"})
    '     9.0 s  no trip expected: no rise'
    """
    at = "" if line["kind"] == "summary" else f"{line['t_s']:8.1f} s  "
    match line["kind"]:
        case "alarm":
            event = f"{line['alarm']} {line['change']} ({line['priority']})"
            return f"{at}ALARM {event}: {line['message']}"
        case "prompt":
            return f"{at}{line['prompt']}: {line['message']}"
        case "explanation":
            return f"{at}what happened: {line['message']}\n{' ' * 12}in order: {line['order']}"
        case "forecast" if line["trip_in_s"] is None:
            return f"{at}no trip expected: {line['why']}"
        case "forecast":
            low, high = _seconds(line["trip_in_low_s"]), _seconds(line["trip_in_high_s"])
            return f"{at}trip in about {_seconds(line['trip_in_s'])} ({low} to {high})"
        case _:
            coverage = line["coverage"]
            share = f"{coverage:.1%}" if isinstance(coverage, int | float) else "none"
            return (
                f"{line['samples']} samples in {_seconds(line['seconds'])}, "
                f"{line['amp_hours']:.3f} Ah with {share} of the time covered, "
                f"{_count(line['alarms'], 'alarm')}"
            )
