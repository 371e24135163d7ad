"""The scenes of the corpus: a family's name and a number always give the same scene.

Every draw comes from the family, the number and nothing else. The cell, the supply and the swab
are the simulators'; here only their sizes are drawn (`forecast_draw.py`).
"""

import math
import random
from collections.abc import Callable
from dataclasses import replace

from benchmarks.forecast_draw import (
    ALPHA,
    GRAMS_PER_COULOMB,
    JOULES_PER_LITRE_KELVIN,
    Draw,
    Drawn,
    brush_swab,
    chromed_part,
    make_event,
    make_scene,
    warming_for,
)


def families() -> tuple[str, ...]:
    """The names of the families, in the order of the table."""
    return tuple(_FAMILIES)


def draw(family: str, number: int) -> Drawn:
    """Draw one run of a family; the same number is the same run on every machine."""
    chance = random.Random(f"{family}/{number}")
    is_swab = family.startswith("brush")
    limit_amps = chance.choice((10.0, 16.0, 20.0) if is_swab else (10.0, 20.0, 40.0, 60.0))
    drawn = Draw(
        family,
        number,
        random=chance,
        limit_amps=limit_amps,
        volts=chance.uniform(6.0, 10.5),
        polarisation_volts=chance.uniform(1.4, 2.3),
        celsius=chance.uniform(19.0, 22.0),
        wander=chance.uniform(0.002, 0.009),
        memory_s=chance.choice((5.0, 10.0, 20.0, 30.0, 60.0)),
        rate_hz=chance.choice((1.0, 2.0, 5.0, 10.0)),
    )
    return _FAMILIES[family](drawn)


def _tank_rise(drawn: Draw) -> Drawn:
    chance = drawn.random
    amps = chance.uniform(0.72, 0.93) * drawn.limit_amps
    litres = warming_for(drawn, amps, chance.uniform(200.0, 1300.0))
    return make_scene(
        drawn,
        amps=amps,
        litres=litres,
        duration_s=2400.0,
        room_celsius=19.0,
        loading_per_amp_hour=chance.choice((-0.01, 0.0, 0.01)) * 10.0 / drawn.limit_amps,
    )


def _gaps(drawn: Draw) -> Drawn:
    """A tank's rise with the link lost for 1 to 40 s every few minutes."""
    rise = _tank_rise(drawn)
    chance = drawn.random
    silent, t_s = [], chance.uniform(60.0, 200.0)
    while t_s < rise.scene.duration_s:
        lost_s = chance.choice((1.0, 5.0, 15.0, 40.0))
        silent.append((t_s, t_s + lost_s))
        t_s += lost_s + chance.uniform(60.0, 300.0)
    return replace(rise, silent=tuple(silent))


def _evaporation(drawn: Draw) -> Drawn:
    """A slow climb of 0.2 to 0.7 % a minute, whatever its cause, under 0.3 to 0.7 % of noise."""
    chance = drawn.random
    share = chance.uniform(0.88, 0.96)
    amps = share * drawn.limit_amps
    per_minute = chance.uniform(0.002, 0.007)
    drawn.wander = chance.uniform(0.003, 0.007)
    return make_scene(
        drawn,
        amps=amps,
        litres=300.0,
        duration_s=min(60.0 * math.log(1.0 / share) / per_minute + 900.0, 4500.0),
        loading_per_amp_hour=60.0 * per_minute / amps,
    )


def _even_rise(drawn: Draw) -> Drawn:
    """A climb of 0.2 to 2 % a minute with hardly any slow noise: where a straight line is best."""
    chance = drawn.random
    share = chance.uniform(0.80, 0.96)
    amps = share * drawn.limit_amps
    per_minute = math.exp(chance.uniform(math.log(0.002), math.log(0.02)))
    drawn.wander = chance.uniform(0.0, 0.001)
    return make_scene(
        drawn,
        amps=amps,
        litres=300.0,
        duration_s=min(60.0 * math.log(1.0 / share) / per_minute + 900.0, 4500.0),
        loading_per_amp_hour=60.0 * per_minute / amps,
    )


def _brush_rise(drawn: Draw) -> Drawn:
    chance = drawn.random
    share = chance.uniform(0.66, 0.85)
    amps = share * drawn.limit_amps
    hours = chance.uniform(200.0, 1000.0) / 3600.0
    return make_scene(
        drawn,
        amps=amps,
        litres=0.06 * drawn.limit_amps,
        watts_per_kelvin=1.5,
        duration_s=2400.0,
        loading_per_amp_hour=0.8 * math.log(1.0 / share) / (0.85 * amps * hours),
        swab=brush_swab(drawn),
    )


def _brush_stable(drawn: Draw) -> Drawn:
    amps = drawn.random.uniform(0.5, 0.82) * drawn.limit_amps
    return make_scene(
        drawn,
        amps=amps,
        litres=20.0,
        watts_per_kelvin=30.0,
        duration_s=1800.0,
        swab=brush_swab(drawn),
    )


def _stable(drawn: Draw) -> Drawn:
    """Half of them far under the limit, half at 92 to 96 % of it."""
    chance = drawn.random
    near = drawn.number % 2 == 1
    drawn.wander = chance.uniform(0.002, 0.006 if near else 0.009)
    amps = (chance.uniform(0.92, 0.96) if near else chance.uniform(0.5, 0.92)) * drawn.limit_amps
    return make_scene(
        drawn,
        amps=amps,
        litres=400.0,
        watts_per_kelvin=50.0,
        duration_s=2700.0,
    )


def _settles(drawn: Draw) -> Drawn:
    """Warms to its balance at 90 to 96 % of the limit."""
    chance = drawn.random
    share, final = chance.uniform(0.75, 0.86), chance.uniform(0.90, 0.96)
    amps = share * drawn.limit_amps
    drawn.wander = chance.uniform(0.002, 0.005)
    watts = amps * drawn.volts
    warmer = (final / share - 1.0) / ALPHA
    loss = 0.78 * watts * (1.0 + 0.5 * (final / share - 1.0)) / warmer
    return make_scene(
        drawn,
        amps=amps,
        litres=chance.uniform(200.0, 700.0) * loss / JOULES_PER_LITRE_KELVIN,
        watts_per_kelvin=loss,
        duration_s=2700.0,
        evaporation=0.0,
    )


def _volt_steps(drawn: Draw) -> Drawn:
    chance = drawn.random
    amps = chance.uniform(0.6, 0.75) * drawn.limit_amps
    events, volts, t_s = [], drawn.volts, 120.0
    while t_s < 1800.0:
        step = chance.choice((-1.0, 1.0)) * chance.uniform(0.3, 1.2)
        volts = min(max(volts + step, 5.5), 1.1 * drawn.volts)
        events.append(make_event("set-volts", t_s, volts=volts))
        t_s += chance.uniform(60.0, 240.0)
    return make_scene(
        drawn,
        amps=amps,
        litres=400.0,
        watts_per_kelvin=50.0,
        duration_s=1800.0,
        events=tuple(events),
    )


def _short(drawn: Draw) -> Drawn:
    """Part and cathode touch; nothing announces it."""
    chance = drawn.random
    amps = chance.uniform(0.4, 0.8) * drawn.limit_amps
    return make_scene(
        drawn,
        amps=amps,
        litres=400.0,
        watts_per_kelvin=50.0,
        duration_s=900.0,
        events=(make_event("short-begins", chance.uniform(120.0, 860.0), ohms=0.01),),
    )


def _strip_finished(drawn: Draw) -> Drawn:
    """The chromium goes after 200 to 600 s, the polarisation rises, the bath warms slowly on."""
    chance = drawn.random
    amps = chance.uniform(0.7, 0.92) * drawn.limit_amps
    part = chromed_part(drawn, amps, amps * 0.3 * chance.uniform(200.0, 600.0) * GRAMS_PER_COULOMB)
    return make_scene(
        drawn,
        amps=amps,
        litres=warming_for(drawn, amps, chance.uniform(1.0, 3.0) * 1800.0),
        duration_s=1500.0,
        part=part,
        rise_volts=chance.uniform(0.3, 0.8),
    )


def _corroding_leads(drawn: Draw) -> Drawn:
    chance = drawn.random
    amps = chance.uniform(0.7, 0.93) * drawn.limit_amps
    worse = chance.uniform(0.1, 0.5)
    ohms = drawn.lead_ohms
    return make_scene(
        drawn,
        amps=amps,
        litres=400.0,
        watts_per_kelvin=50.0,
        duration_s=1800.0,
        events=tuple(
            make_event("lead-ohms", 60.0 * k, ohms=ohms * (1.0 + worse * k / 2.0))
            for k in range(1, 30)
        ),
    )


def _supply_limits(drawn: Draw) -> Drawn:
    chance = drawn.random
    amps = chance.uniform(0.72, 0.9) * drawn.limit_amps
    drawn.wander = chance.uniform(0.002, 0.005)
    return make_scene(
        drawn,
        amps=amps,
        litres=warming_for(drawn, amps, chance.uniform(200.0, 900.0)),
        duration_s=2000.0,
        at_limit="holds",
    )


def _chromate_only(drawn: Draw) -> Drawn:
    """Chromate lowers a caustic bath's conductivity: 218.4 to 182.8 mS/cm for 5 g/kg (PHREEQC)."""
    chance = drawn.random
    amps = chance.uniform(0.8, 0.96) * drawn.limit_amps
    return make_scene(
        drawn,
        amps=amps,
        litres=300.0,
        duration_s=1800.0,
        loading_per_amp_hour=-chance.uniform(0.005, 0.03) * 10.0 / amps,
        evaporation=0.0,
    )


def _operator_off(drawn: Draw) -> Drawn:
    """The operator switches off to look, every few minutes; half of the baths load up meanwhile."""
    chance = drawn.random
    rises = drawn.number % 2 == 0
    share = chance.uniform(0.75, 0.92) if rises else chance.uniform(0.6, 0.94)
    amps = share * drawn.limit_amps
    drawn.wander = chance.uniform(0.002, 0.006)
    events, t_s = [], chance.uniform(120.0, 300.0)
    while t_s < 2400.0:
        off_s = chance.uniform(5.0, 60.0)
        events += [make_event("output-off", t_s), make_event("output-on", t_s + off_s)]
        t_s += off_s + chance.uniform(120.0, 400.0)
    hours = chance.uniform(300.0, 1200.0) / 3600.0
    return make_scene(
        drawn,
        amps=amps,
        litres=300.0,
        watts_per_kelvin=50.0,
        duration_s=2400.0,
        loading_per_amp_hour=math.log(1.0 / share) / (amps * hours) if rises else 0.0,
        events=tuple(events),
    )


_FAMILIES: dict[str, Callable[[Draw], Drawn]] = {
    "tank rise": _tank_rise,
    "brush rise": _brush_rise,
    "evaporation": _evaporation,
    "even rise": _even_rise,
    "gaps": _gaps,
    "supply limits": _supply_limits,
    "operator off": _operator_off,
    "stable": _stable,
    "settles high": _settles,
    "brush stable": _brush_stable,
    "volt steps": _volt_steps,
    "strip finished": _strip_finished,
    "corroding leads": _corroding_leads,
    "chromate only": _chromate_only,
    "short": _short,
}
