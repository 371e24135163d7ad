"""bench.toml in, checked settings out."""

from monitor.settings.bench import Bath, Bench, SoundSettings, Supply
from monitor.settings.limits import effective_limits_in_words
from monitor.settings.loading import load_bench
from monitor.settings.places import default_store_path

__all__ = [
    "Bath",
    "Bench",
    "SoundSettings",
    "Supply",
    "default_store_path",
    "effective_limits_in_words",
    "load_bench",
]
