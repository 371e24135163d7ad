"""What the commands turn into one clear line; the message always says the cure."""


class BathvigilError(Exception):
    """Something could not be done: exit code 1."""


class WrongUse(BathvigilError):
    """The user must change what was asked: exit code 2."""


class StoreError(BathvigilError):
    """The store cannot be read or written."""


class NoSuchRun(StoreError):
    """The store holds no such run."""


class StoreFromNewerVersion(StoreError):
    """A newer bathvigil wrote this store."""


class StoreDamaged(StoreError):
    """The file is not a sound store."""


class BadSettings(WrongUse):
    """bench.toml holds something that is not understood."""


class BadTable(WrongUse):
    """A CSV file lacks columns or holds something that is not a number."""
