"""A setting that stands in bench.toml and on the command line takes the same values in both."""

from collections.abc import Iterator

import click
import pytest

from monitor.commands.main import bathvigil
from monitor.setup.check.explaining import Setting, explained_settings

SAME = {"bath_litres": "litres"}
"""Options whose name differs from the setting's key."""


def every_option(group: click.Group, name: str = "") -> Iterator[tuple[str, click.Option]]:
    context = click.Context(group)
    for each in group.list_commands(context):
        command = group.get_command(context, each)
        assert command is not None
        if isinstance(command, click.Group):
            yield from every_option(command, f"{name} {each}")
        for option in command.params:
            if isinstance(option, click.Option):
                yield f"{name} {each}".strip(), option


def in_both() -> list[tuple[str, click.Option, Setting]]:
    settings = {each.key: each for each in explained_settings() if each.allowed}
    return [
        (f"{command} {option.opts[0]}", option, settings[key])
        for command, option in every_option(bathvigil)
        if (key := SAME.get(str(option.name), str(option.name))) in settings
        and not isinstance(option.type, click.types.StringParamType)
    ]


def allowed(kind: click.ParamType[object]) -> str:
    if isinstance(kind, click.Choice):
        return ", ".join(f'"{choice}"' for choice in kind.choices)
    assert isinstance(kind, click.FloatRange | click.IntRange)
    least = f"over {kind.min}" if kind.min_open else f"{kind.min}"
    return f"{least} to {kind.max}"


def test_the_settings_that_matter_are_in_both() -> None:
    names = {setting.key for _, _, setting in in_both()}
    assert names >= {"limit_amps", "at_limit", "poll_s", "horizon_s", "litres", "timeout_s"}
    assert names >= {"gauge_awg", "loop_metres", "cells"}


@pytest.mark.parametrize(("name", "option", "setting"), in_both(), ids=lambda v: str(v)[:40])
def test_an_option_takes_what_bench_toml_takes(
    name: str, option: click.Option, setting: Setting
) -> None:
    assert allowed(option.type) == setting.allowed, f"{name} and {setting.table} {setting.key}"
