"""`bathvigil check`: everything from the supply to the loudspeaker, each pass or fail."""

import json
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import click

from drivers.base.clock import SystemClock
from drivers.base.inert import inert
from monitor.base.errors import BadSettings, WrongUse
from monitor.commands.options import config_option, examples, json_option, store_option
from monitor.commands.places import store_path
from monitor.recorder.lock import holder
from monitor.recorder.notices.delivery import try_channels
from monitor.recorder.notices.planning import notice_plan
from monitor.settings import Bench, default_store_path, effective_limits_in_words, load_bench
from monitor.setup.check.explaining import explained_settings
from monitor.setup.check.finding import Check, Finding, Result, worst
from monitor.setup.check.machine import ThisMachine
from monitor.setup.check.machine_checks import MACHINE_CHECKS, Place
from monitor.setup.check.supply_checks import SupplyToCheck, check_supply


@click.command(
    "check",
    epilog=examples(
        "bathvigil check --config bench.toml",
        "bathvigil check scpi:/dev/ttyUSB0 --description mine.toml",
        "bathvigil check --config bench.toml --notices",
        "bathvigil check --explain",
    ),
)
@click.argument("address", required=False)
@config_option
@store_option
@click.option(
    "--description",
    metavar="NAME",
    help="The description of the supply at ADDRESS: a shipped name, or a file.",
)
@click.option(
    "--notices", is_flag=True, help="Send a trial notice through every channel; print the answers."
)
@click.option(
    "--explain", is_flag=True, help="Print every key of bench.toml: unit, default, meaning."
)
@json_option
def command(
    address: str | None,
    config: Path | None,
    store: Path | None,
    description: str | None,
    notices: bool,
    explain: bool,
    as_json: bool,
) -> int:
    """Check the supplies of bench.toml, or the one at ADDRESS, and this computer.

    Each line says pass, fail or note; a fail says how to fix it. The exit code is 1 if anything
    failed. The supply is asked for its readings, and nothing else.
    """
    if explain:
        _explain(as_json)
        return 0
    if address is not None and config is not None:
        raise WrongUse("give an address or --config, not both")
    if description is not None and address is None:
        raise WrongUse(
            "--description goes with an address; with --config, write it into bench.toml"
        )
    if notices and config is None:
        raise WrongUse("--notices needs the channels of bench.toml: give --config")
    checked = []
    findings = _findings(address, config, store, description)
    for finding in chain(findings, _trials(config) if notices else ()):
        click.echo(_as_json(finding) if as_json else _as_text(finding))
        checked.append(finding)
    if not as_json:
        click.echo(_summary(checked), err=True)
    return worst(checked)


def _trials(config: Path | None) -> Iterator[Finding]:
    """What each channel's other end really answers to a trial notice."""
    if config is None:
        return
    try:
        plan = notice_plan(load_bench(config).notices)
    except WrongUse as error:
        yield Finding(Check.NOTICES, Result.FAIL, str(error))
        return
    if not plan.channels:
        words = "nobody away gets the alarms: bench.toml names no channel"
        yield Finding(Check.NOTICES, Result.NOTE, words)
    for name, answer in try_channels(plan.channels, plan.within_s):
        result = Result.PASS if answer.is_ok else Result.FAIL
        cure = None if answer.is_ok else f"check [notices.channels.{name}] and the network"
        yield Finding(Check.NOTICES, result, inert(answer.text), name, cure)


def _findings(
    address: str | None, config: Path | None, store: Path | None, description: str | None
) -> Iterator[Finding]:
    bench: Bench | None = None
    if config is not None:
        try:
            bench = load_bench(config)
        except BadSettings as error:
            yield Finding(Check.SETTINGS, Result.FAIL, str(error))
        else:
            yield Finding(Check.SETTINGS, Result.PASS, f"{config} is understood")
    elif address is None:
        words = "no supply named: only this computer is checked"
        cure = "bathvigil check --config bench.toml, or `bathvigil find` for the ports"
        yield Finding(Check.SETTINGS, Result.NOTE, words, fix=cure)
    path = (store or default_store_path()) if bench is None else store_path(store, config)
    for supply in _supplies(address, description, bench, path):
        yield from check_supply(supply, SystemClock())
    if bench is not None:
        for name in bench.supplies:
            for sentence in effective_limits_in_words(bench, name):
                yield Finding(Check.LIMITS, Result.PASS, sentence, name)
    place = Place(ThisMachine(), path, bench)
    for check in MACHINE_CHECKS:
        yield check(place)


def _supplies(
    address: str | None, description: str | None, bench: Bench | None, store: Path
) -> list[SupplyToCheck]:
    recorder = holder(store)
    if address is not None:
        return [SupplyToCheck(address, address, description, recorder=recorder, store=store)]
    if bench is None:
        return []
    instruments = [
        (name + half, source, supply.poll_s)
        for name, supply in bench.supplies.items()
        for half, source in (("", supply), (" (amps)", supply.amps))
        if source is not None
    ]
    return [
        SupplyToCheck(
            name,
            source.address,
            source.description,
            poll_s,
            source.timeout_s,
            recorder,
            store,
        )
        for name, source, poll_s in instruments
    ]


def _as_text(finding: Finding) -> str:
    about = f"{inert(finding.about)}: " if finding.about else ""
    # Its sentences begin with the supply's name already.
    about = "" if finding.check is Check.LIMITS else about
    line = f"{finding.result.value:<5} {finding.check:<11} {about}{finding.words}"
    return line if finding.fix is None else f"{line}\n      {'':<11} -> {finding.fix}"


def _as_json(finding: Finding) -> str:
    return json.dumps(
        {
            "kind": "check",
            "check": finding.check,
            "about": finding.about,
            "result": finding.result.value,
            "words": finding.words,
            "fix": finding.fix,
        },
        ensure_ascii=False,
    )


def _summary(findings: list[Finding]) -> str:
    counts = {result: sum(each.result is result for each in findings) for result in Result}
    failed = counts[Result.FAIL]
    if not failed:
        return f"nothing failed: {counts[Result.PASS]} passed, {counts[Result.NOTE]} notes"
    return f"{failed} failed, {counts[Result.PASS]} passed, {counts[Result.NOTE]} notes"


def _explain(as_json: bool) -> None:
    table = ""
    for setting in explained_settings():
        if as_json:
            click.echo(
                json.dumps(
                    {
                        "kind": "setting",
                        "table": setting.table,
                        "key": setting.key,
                        "unit": setting.unit,
                        "default": setting.default,
                        "meaning": setting.meaning,
                        "allowed": setting.allowed,
                    },
                    ensure_ascii=False,
                )
            )
            continue
        if setting.table != table:
            table = setting.table
            click.echo(table)
        default = "must be there" if setting.default is None else setting.default
        unit = f" {setting.unit}" if setting.unit and setting.default not in (None, "none") else ""
        click.echo(f"  {setting.key} ({default}{unit})")
        kinds = "; ".join(each for each in (setting.unit, setting.allowed) if each)
        click.echo(f"      {setting.meaning}" + (f" [{kinds}]" if kinds else ""))
