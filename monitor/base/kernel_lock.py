"""An open file in, whether the kernel's lock on it is ours now out.

Such a lock goes with the process that holds it, however that ends: nothing is left behind by a
kill or a power cut.
"""

import sys


def try_lock(descriptor: int) -> bool:
    """Take the kernel lock of an open file, if nobody has it; True where it is ours now."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
