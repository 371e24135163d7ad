"""Line protocol read back, by the escaping rules of the InfluxDB v2 syntax reference.

https://docs.influxdata.com/influxdb/v2/reference/syntax/line-protocol/
"""

import re

Value = float | int | bool | str
Point = tuple[str, tuple[tuple[str, str], ...], dict[str, Value], int]
"""Measurement, tags in order, fields, nanoseconds."""

_SPLIT = {one: re.compile(rf"(?<!\\){re.escape(one)}") for one in ", ="}


def parse(text: str) -> Point:
    """One line; ValueError where a server would refuse it."""
    series, fields_text, time_text = _three(text)
    measurement, *pairs = _SPLIT[","].split(series)
    tags = []
    for pair in pairs:
        key, value = _SPLIT["="].split(pair)
        if not key or not value or value.endswith("\\"):
            raise ValueError(f"bad tag: {pair}")
        tags.append((_plain(key), _plain(value)))
    fields = {}
    for key, value in _fields(fields_text):
        fields[_plain(key)] = value
    if not measurement or not fields:
        raise ValueError(f"missing measurement or fields: {text}")
    return _plain(measurement), tuple(tags), fields, int(time_text)


def _three(text: str) -> tuple[str, str, str]:
    if "\n" in text or "\r" in text:
        raise ValueError("a line end inside a line")
    series, rest = _SPLIT[" "].split(text, maxsplit=1)
    fields, time_text = rest.rsplit(" ", 1)
    return series, fields, time_text


def _fields(text: str) -> list[tuple[str, Value]]:
    found: list[tuple[str, Value]] = []
    while text:
        key, rest = _SPLIT["="].split(text, maxsplit=1)
        if rest.startswith('"'):
            quoted = re.match(r'"((?:[^"\\]|\\.)*)"', rest)
            if quoted is None:
                raise ValueError(f"unbalanced quotes: {rest}")
            value: Value = re.sub(r'\\(["\\])', r"\1", quoted[1])
            rest = rest[quoted.end() :]
        else:
            word, comma, after = rest.partition(",")
            value, rest = _number(word), comma + after
        found.append((key, value))
        if rest and not rest.startswith(","):
            raise ValueError(f"rubbish behind a field: {rest}")
        text = rest[1:]
    return found


def _number(word: str) -> Value:
    if word in ("true", "false"):
        return word == "true"
    if word.endswith("i"):
        return int(word[:-1])
    if word.lower() in ("nan", "inf", "-inf", "infinity"):
        raise ValueError("invalid number")
    return float(word)


def _plain(text: str) -> str:
    return re.sub(r"\\([, =])", r"\1", text)
