"""The settings of a bench: what bench.toml may say."""

from monitor.settings.alarms import SoundSettings
from monitor.settings.bench import Bath, Bench, Supply
from monitor.settings.limits import effective_limits_in_words
from monitor.settings.loading import default_store_path, load_bench

__all__ = [
    "Bath",
    "Bench",
    "SoundSettings",
    "Supply",
    "default_store_path",
    "effective_limits_in_words",
    "load_bench",
]
