"""The program's version, from what is installed."""

from importlib.metadata import PackageNotFoundError, version

try:
    VERSION = version("bathvigil")
except PackageNotFoundError:
    VERSION = "not installed"
