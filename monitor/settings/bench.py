"""What bench.toml may say, as frozen models: one table of the file is one class here.

A table of limits for further alarms is a further class and a further field of `Bench`; loading,
the nearest names and the mutation test take it from there.
"""

from pathlib import Path
from typing import Annotated, Self, TypeAlias
from urllib.parse import urlsplit

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from drivers.address import parse_address
from drivers.base.nearest import nearest
from drivers.base.table import Name, Table, mistake_at
from drivers.base.timeout import TIMEOUT_S, TimeoutS
from drivers.errors import BadAddress
from drivers.paired import WITHIN_S, AmpsSource
from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.model.fittings import Fittings
from monitor.model.ranges import (
    HORIZON_S,
    POLL_S,
    REACTION_S,
    Amps,
    Cells,
    HorizonS,
    Litres,
    PollS,
    ahead_s,
)
from monitor.model.run import LimitKind
from monitor.settings.alarms import (
    AlarmName,
    AlarmSettings,
    FileHere,
    HeartbeatSettings,
    NoticesSettings,
    SoundSettings,
    beside_settings,
)
from monitor.settings.circuit import (
    ConductorSettings,
    JobSettings,
    LeadSettings,
    VoltsWindowSettings,
    fittings,
)
from monitor.settings.steps import StepSettings, job_steps


def _address(text: str) -> str:
    try:
        parse_address(text)
    except BadAddress as error:
        raise ValueError(str(error)) from error
    return text


def _file_beside(text: str | None, info: ValidationInfo) -> str | None:
    if text is None or not text.endswith(".toml"):
        return text
    return str(beside_settings(Path(text), info))


SupplyAddress: TypeAlias = Annotated[str, AfterValidator(_address)]
DescriptionName: TypeAlias = Annotated[str | None, AfterValidator(_file_beside)]


class AmpsSettings(Table):
    """A table `[supplies.NAME.amps]`: a second instrument, which reads the amps.

    Parameters
    ----------
    address
        Where it is; the supply's own address then is that of the instrument for the volts.
    description
        As of the supply.
    timeout_s
        Longest wait for one answer of it.
    joined_within_s
        Volts and amps that were answered further apart are not put together, seconds.
    """

    address: SupplyAddress
    description: DescriptionName = None
    timeout_s: TimeoutS = TIMEOUT_S
    joined_within_s: float = Field(default=WITHIN_S, gt=0, le=10)

    def source(self) -> AmpsSource:
        """The same for the drivers."""
        return AmpsSource(self.address, self.description, self.timeout_s, self.joined_within_s)


class Supply(Table):
    """A table `[supplies.NAME]`.

    Parameters
    ----------
    address
        Where it is, such as "scpi:/dev/ttyUSB0?baud=9600"; `bathvigil find` lists the ports.
    limit_amps
        The supply's current limit, amps.
    at_limit
        At its limit the supply cuts out ("trips") or holds the current ("holds").
    poll_s
        Time between two readings.
    timeout_s
        Longest wait for one answer.
    description
        Name of a description that comes with bathvigil, or the path of your own .toml file,
        relative to bench.toml. None: the driver's default.
    amps
        A second instrument that reads the amps, in a table of its own; None: one reads both.
    bath
        Name of the bath it is connected to.
    cells
        Cells in series between its terminals: more than one for a stack, or for baths in series.
    conductors, leads, job
        What the amps go through, each in a table of its own; see `monitor/settings/circuit.py`.
    """

    address: SupplyAddress
    limit_amps: Amps
    at_limit: Annotated[LimitKind, Field(strict=False)] = LimitKind.TRIPS
    poll_s: PollS = POLL_S
    timeout_s: TimeoutS = TIMEOUT_S
    description: DescriptionName = None
    amps: AmpsSettings | None = None
    bath: str | None = None
    cells: Cells = 1
    conductors: dict[Name, ConductorSettings] = Field(default_factory=dict)
    leads: LeadSettings | None = None
    job: JobSettings | None = None


class Bath(Table):
    """A table `[baths."NAME"]`.

    Parameters
    ----------
    litres
        Litres of solution in it.
    per_kelvin
        How much its conductance rises per kelvin, as a share of that at 25 C.
    most_celsius
        An alarm is raised when it gets warmer than this. None: no alarm.
    holds_litres
        Litres that its vessel can hold, to check how much water can be added.
    least_grams_per_litre
        Below this strength it is replaced, not diluted. None: the program's own value.
    """

    litres: Litres
    per_kelvin: float = Field(default=CAUSTIC_PER_KELVIN, ge=0, le=0.05)
    most_celsius: float | None = Field(default=None, gt=0, le=100)
    holds_litres: Litres | None = None
    least_grams_per_litre: float | None = Field(default=None, gt=0, le=500)


class ForecastSettings(Table):
    """The table `[forecast]`: when a cut-out is warned of.

    Parameters
    ----------
    horizon_s
        A warning is raised when a cut-out within this time is more likely than not.
    reaction_s
        How long the operator needs to the supply; the warning looks at least so far ahead.
    """

    horizon_s: HorizonS = HORIZON_S
    reaction_s: HorizonS = REACTION_S

    @property
    def ahead_s(self) -> float:
        """How far ahead a cut-out is warned of."""
        return ahead_s(self.horizon_s, self.reaction_s)


class NoDataSettings(Table):
    """The table `[no_data]`: when silence is an alarm; it cannot be switched off.

    Parameters
    ----------
    after_s
        An alarm is raised after this time without a good reading.
    """

    after_s: float = Field(default=5.0, ge=1, le=30)


def _has_a_name(file: object) -> object:
    if file == "":
        raise ValueError("needs the name of a file")
    return file


class StoreSettings(Table):
    """The table `[store]`: where the runs are kept.

    Parameters
    ----------
    file
        The file of runs, relative to bench.toml. None: bathvigil.db in your data folder.
    """

    file: Annotated[FileHere, BeforeValidator(_has_a_name)] | None = None


class ForwardSettings(Table):
    """The table `[forward]`: the server that gets a copy of everything; off without a url.

    The token itself never stands here, so that the file can be shown to anybody.

    Parameters
    ----------
    url
        Web address of a server that accepts the InfluxDB v2 write API.
    org
        Name of the organisation on the server; some servers ignore it.
    bucket
        Name of the bucket on the server; needed with a url.
    token_file
        File with the token, relative to bench.toml, readable by its owner only.
    token_env
        Name of an environment variable with the token, instead of a file. Leave out both if the
        server needs none.
    site
        Name of the shop; a tag of every point.
    bench
        Name of this bench; a tag of every point. Needed with a url; no two benches may share it.
    gzip
        Whether the data are compressed on the way.
    back_fill_points_per_s
        Highest rate at which older readings are sent.
    """

    url: str | None = None
    org: str = ""
    bucket: str | None = None
    token_file: FileHere | None = None
    token_env: str | None = None
    site: str = Field(default="", max_length=40)
    bench: str = Field(default="", max_length=40)
    gzip: bool = True
    back_fill_points_per_s: float = Field(default=25_000.0, ge=10, le=10_000_000)

    @property
    def place(self) -> str:
        """Names the place in the store: another one is sent everything from the beginning."""
        return f"{self.url} org={self.org} bucket={self.bucket}"

    @field_validator("url")
    @classmethod
    def _is_a_web_address(cls, url: str | None) -> str | None:
        if url is None:
            return None
        try:
            parts = urlsplit(url)
            is_whole = parts.scheme in ("http", "https") and bool(parts.hostname)
            has_secret = parts.username is not None or bool(parts.query)
            assert parts.port is None or parts.port > 0
        except (ValueError, AssertionError):
            is_whole = has_secret = False
        if has_secret:
            raise ValueError("holds a name or a secret; put the token into forward.token_file")
        if not is_whole or not url.isprintable() or " " in url:
            raise ValueError('write it like "http://10.0.0.9:8428"')
        return url.rstrip("/")


class Bench(Table):
    """The whole of bench.toml; see the class of each table."""

    supplies: dict[Name, Supply] = Field(min_length=1)
    baths: dict[Name, Bath] = Field(default_factory=dict)
    forecast: ForecastSettings = ForecastSettings()
    no_data: NoDataSettings = NoDataSettings()
    volts_window: VoltsWindowSettings = VoltsWindowSettings()
    steps: dict[Name, StepSettings] = Field(default_factory=dict)
    alarms: dict[AlarmName, AlarmSettings] = Field(default_factory=dict)
    sound: SoundSettings = SoundSettings()
    notices: NoticesSettings = NoticesSettings()
    heartbeat: HeartbeatSettings = HeartbeatSettings()
    store: StoreSettings = StoreSettings()
    forward: ForwardSettings = ForwardSettings()

    @model_validator(mode="after")
    def _forwards_to_a_whole_place(self) -> Self:
        forward = self.forward
        if forward.url is None:
            if forward.model_fields_set:
                raise mistake_at(("forward",), "url is missing in [forward]")
            return self
        if not forward.bucket:
            raise mistake_at(("forward", "url"), "bucket is missing in [forward]")
        if not forward.bench:
            raise mistake_at(("forward", "url"), "bench is missing in [forward]; name this bench")
        if forward.token_file is not None and forward.token_env is not None:
            raise mistake_at(("forward", "token_env"), "give token_file or token_env, not both")
        return self

    @model_validator(mode="after")
    def _agrees_with_itself(self) -> Self:
        for name, supply in self.supplies.items():
            if supply.bath is not None and supply.bath not in self.baths:
                close = nearest(supply.bath, self.baths)
                hint = f"did you mean '{close}'?" if close else f'add [baths."{supply.bath}"]'
                raise mistake_at(("supplies", name, "bath"), f"no bath '{supply.bath}'; {hint}")
            waits_s = (supply.timeout_s, supply.amps.timeout_s if supply.amps else 0.0)
            slowest_s = supply.poll_s + max(waits_s)
            if self.no_data.after_s <= slowest_s:
                raise mistake_at(
                    ("supplies", name, "poll_s"),
                    f"one poll can take {slowest_s:g} s (poll_s + timeout_s), which would raise "
                    f"no_data.after_s = {self.no_data.after_s:g} each time; poll more often",
                )
        return self

    def out_of_service(self) -> dict[str, str]:
        """The alarms that are judged no more, each with the shop's own reason."""
        return {name: alarm.out_of_service for name, alarm in self.alarms.items()}

    def fittings(self, name: str) -> Fittings:
        """What the amps of one supply go through, and may do there."""
        supply = self.supplies[name]
        bath = None if supply.bath is None else self.baths[supply.bath]
        return fittings(
            supply.cells,
            supply.conductors,
            supply.leads,
            supply.job,
            self.volts_window,
            None if bath is None else bath.most_celsius,
            job_steps(self.steps, self.volts_window),
        )
