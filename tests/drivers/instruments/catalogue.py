"""All instruments: every module `text_*`, `modbus_*` or `pair_*` of this folder lists its own."""

import pkgutil
from importlib import import_module
from pathlib import Path

from tests.drivers.instruments.instrument import Instrument

PREFIXES = ("text_", "modbus_", "visa_")


def all_instruments() -> tuple[Instrument, ...]:
    """Those of all modules, by name."""
    names = [module.name for module in pkgutil.iter_modules([str(Path(__file__).parent)])]
    found = [
        instrument
        for name in sorted(names)
        if name.startswith(PREFIXES)
        for instrument in getattr(import_module(f"{__package__}.{name}"), "INSTRUMENTS", ())
    ]
    known = [instrument.name for instrument in found]
    assert len(set(known)) == len(known), "two instruments have one name"
    return tuple(found)
