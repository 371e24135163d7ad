"""The figures of a stored run that the ledger of a bath uses."""

import statistics
from collections.abc import Mapping
from dataclasses import dataclass

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.analysis.conductance import STATED_VOLTS
from monitor.baths.run_charge import charge_before_step
from monitor.model.card import JobCard
from monitor.model.estimate import Estimate
from monitor.model.kept_settings import kept_fittings, kept_table
from monitor.model.outcome import Gone
from monitor.store.stored_run import StoredRun

START_S = 60.0
"""The index is the middle of the first minute that it was known in."""
COLUMNS = 60
FLOWING = 0.2
"""Above this share of the peak the output counts as on."""


@dataclass(frozen=True, slots=True)
class SetUp:
    """What must be the same for two conductances to be compared: supply, way, part and reference.

    `is_at_25` is False where no temperature was known, so that nothing was referred to 25 C.
    """

    supply: str
    way: str
    part: str
    is_at_25: bool

    @property
    def line(self) -> str:
        """In words, such as "bell at bench-1"."""
        plain = "" if self.is_at_25 else ", temperature unknown"
        return (
            f"{self.part or 'work'}{f' ({self.way})' if self.way else ''} at {self.supply}{plain}"
        )


@dataclass(frozen=True, slots=True)
class Vessel:
    """A bath as the settings describe it; None for what they do not say.

    Parameters
    ----------
    litres, holds_litres
        Its solution, and what its vessel has room for.
    least_grams_per_litre
        The least strength that strips well.
    per_kelvin
        By what part its conductance rises per kelvin, referred to 25 C.
    """

    litres: float | None = None
    holds_litres: float | None = None
    least_grams_per_litre: float | None = None
    per_kelvin: float = CAUSTIC_PER_KELVIN


@dataclass(frozen=True, slots=True)
class JobRun:
    """One run as a bath saw it; None for what is not known.

    Parameters
    ----------
    siemens
        Index: conductance shortly after the start, at 25 C where `set_up.is_at_25`.
    peak_amps, volts, polarisation_volts, celsius
        The highest expected amps, the usual volts, what the electrodes take, the start's
        temperature.
    series_ohms
        Bath, leads and contacts in series, as the index.
    amp_hours, coverage
        Charge that passed, and the share of the time that is known of.
    area_dm2, micrometres
        Of the job card.
    is_finished
        True where the chromium is gone everywhere; False where not; None where nobody looked.
    copper_ohms
        Of the leads, by their gauge and length in the run's settings.
    before_amp_hours
        What of the charge had passed in earlier steps, such as a cleaning.
    vessel
        The bath by the same settings; None where they do not describe it.
    """

    run: int
    began_utc_ns: int
    bath: str
    set_up: SetUp
    limit_amps: float
    siemens: float | None
    peak_amps: float | None
    volts: float | None
    polarisation_volts: float
    celsius: float | None
    amp_hours: float
    coverage: float
    area_dm2: float | None
    micrometres: float | None
    is_finished: bool | None
    copper_ohms: float | None = None
    vessel: Vessel | None = None
    before_amp_hours: float = 0.0

    @property
    def series_ohms(self) -> float | None:
        """Bath, leads and contacts together."""
        return None if self.siemens is None else 1.0 / self.siemens

    @property
    def peak_siemens(self) -> float | None:
        """What the peak amps make of the usual volts."""
        if self.peak_amps is None or self.volts is None:
            return None
        over = self.volts - self.polarisation_volts
        return self.peak_amps / over if over > 0.1 else None


def job_run_of(stored: StoredRun) -> JobRun:
    """Read one run.

    Raises
    ------
    StoreError
        The store cannot be read.
    """
    row, summary = stored.row, stored.summary()
    card = stored.card() or JobCard()
    bath = card.bath or row.facts.bath
    outcome = stored.outcome()
    known = [
        estimate
        for estimate in stored.estimates()
        if estimate.siemens is not None and estimate.in_contact
    ]
    siemens, celsius, is_at_25 = _start(known)
    expected = sorted(
        estimate.amps_expected for estimate in known if estimate.amps_expected is not None
    )
    peak = expected[int(0.98 * (len(expected) - 1))] if expected else None
    return JobRun(
        run=row.run,
        began_utc_ns=row.began_utc_ns,
        bath=bath,
        set_up=SetUp(row.facts.supply, card.way.value if card.way else "", card.part, is_at_25),
        limit_amps=row.facts.limit_amps,
        siemens=siemens,
        peak_amps=peak,
        volts=_usual_volts(stored, peak),
        polarisation_volts=next(
            (p for estimate in reversed(known) if (p := estimate.polarisation_volts) is not None),
            STATED_VOLTS,
        ),
        celsius=celsius,
        amp_hours=summary.amp_hours,
        coverage=summary.coverage,
        area_dm2=card.area_dm2,
        micrometres=card.micrometres,
        is_finished=None if outcome is None or outcome.gone is None else outcome.gone is Gone.YES,
        copper_ohms=_copper_ohms(row.facts.settings),
        before_amp_hours=charge_before_step(stored),
        vessel=vessel_of(kept_table(row.facts.settings, "bench", "baths", bath)),
    )


def _copper_ohms(settings: str) -> float | None:
    leads = kept_fittings(settings).leads
    return None if leads is None else leads.ohms()


def vessel_of(table: Mapping[str, object]) -> Vessel | None:
    """The bath by its table of the settings, a stranger's perhaps; None where that says nothing.

    >>> vessel_of({"litres": 9.0, "holds_litres": "much"})
    Vessel(litres=9.0, holds_litres=None, least_grams_per_litre=None, per_kelvin=0.0175)
    """
    if not table:
        return None
    litres, holds, least, per_kelvin = (
        float(value)
        if isinstance(value := table.get(name), int | float) and 0.0 < value < 1e6
        else None
        for name in ("litres", "holds_litres", "least_grams_per_litre", "per_kelvin")
    )
    return Vessel(
        litres, holds, least, CAUSTIC_PER_KELVIN if per_kelvin is None else min(per_kelvin, 0.05)
    )


def _start(known: list[Estimate]) -> tuple[float | None, float | None, bool]:
    """Index, temperature, and whether the index is referred to 25 C."""
    if not known:
        return None, None, False
    first = [estimate for estimate in known if estimate.t_s - known[0].t_s <= START_S]
    at_25 = [estimate.siemens_at_25 for estimate in first if estimate.siemens_at_25 is not None]
    celsius = [estimate.celsius for estimate in first if estimate.celsius is not None]
    if at_25 and celsius:
        return statistics.median(at_25), statistics.median(celsius), True
    plain = [estimate.siemens for estimate in first if estimate.siemens is not None]
    return statistics.median(plain), None, False


def _usual_volts(stored: StoredRun, peak: float | None) -> float | None:
    if peak is None:
        return None
    volts = [
        column.volts_mean
        for column in stored.columns(COLUMNS)
        if column.volts_mean is not None
        and column.amps_mean is not None
        and column.amps_mean > FLOWING * peak
    ]
    return statistics.median(volts) if volts else None
