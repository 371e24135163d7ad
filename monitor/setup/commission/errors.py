"""What ends a commissioning; the message says why, and what would help."""

from monitor.base.errors import BathvigilError


class NotCommissioned(BathvigilError):
    """No description was made: nothing fits, or more than one thing does."""


class Ambiguous(NotCommissioned):
    """Several readings of the registers or of an answer fit what the panel showed."""
