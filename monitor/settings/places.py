"""Where bathvigil keeps its files when nobody says otherwise."""

from pathlib import Path

from platformdirs import user_data_path


def default_store_path() -> Path:
    """The store in the user's own data folder; the folder may not be there yet."""
    return user_data_path("bathvigil", appauthor=False) / "bathvigil.db"
