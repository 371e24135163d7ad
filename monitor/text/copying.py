"""How to copy a store: which file, and how."""

from pathlib import Path

COPY = "copy"
"""Name of the status that carries it."""
BESIDE = "NEWEST ROWS LIE BESIDE THE FILE"
"""What is said of a run looked at again while the file alone does not hold everything."""


def what_to_copy(path: Path, stands_alone: bool) -> str:
    """One sentence for the end of a run.

    Examples
    --------
    >>> print(what_to_copy(Path("runs.db"), True))
    runs.db holds everything: copy this one file
    >>> print(what_to_copy(Path("runs.db"), False))
    runs.db is not complete by itself, its newest rows are in runs.db-wal: copy it with \
`bathvigil backup COPY.db --store runs.db`
    """
    if stands_alone:
        return f"{path} holds everything: copy this one file"
    return (
        f"{path} is not complete by itself, its newest rows are in {path.name}-wal: copy it with "
        f"`bathvigil backup COPY.db --store {path}`"
    )
