"""A link over Linux's own USBTMC driver, `/dev/usbtmc0`: no library is needed.

The kernel gives one whole message a reading, and makes the frames of USBTMC 1.00, 3. Its only
settings used here are the time-out and no abort after one: a question that was not answered in time
may still be answered (Linux, include/uapi/linux/usb/tmc.h).
"""

import errno
import fcntl
import os
import struct

from drivers.base.clock import Clock
from drivers.errors import DriverError, Reopen
from drivers.link.message_link import MessageLink
from drivers.link.port_troubles import port_trouble

SET_TIMEOUT = 0x40045B0A
"""_IOW(91, 10, __u32)."""
AUTO_ABORT = 0x40015B19
"""_IOW(91, 25, unsigned char)."""
LEAST_MS = 100  # the kernel's own USBTMC_MIN_TIMEOUT
MOST_BYTES = 65536


class UsbtmcLink(MessageLink):
    """One instrument.

    Parameters
    ----------
    path
        Such as "/dev/usbtmc0".
    """

    def __init__(self, path: str, clock: Clock) -> None:
        super().__init__(path, clock)
        self._file = -1

    def _connect(self, within_s: float) -> None:
        try:
            self._file = os.open(self.place, os.O_RDWR | os.O_CLOEXEC)
        except OSError as error:
            raise port_trouble(self.place, "", error, lambda: ()) from error
        self._set(AUTO_ABORT, "B", 0)

    def _disconnect(self) -> None:
        file, self._file = self._file, -1
        if file >= 0:
            os.close(file)

    def _send(self, data: bytes, within_s: float) -> None:
        self._set(SET_TIMEOUT, "I", max(int(within_s * 1000), LEAST_MS))
        try:
            sent = os.write(self._file, data)
        except OSError as error:
            raise self._lost(error) from error
        if sent != len(data):
            raise Reopen(f"{self.place}: it takes only a part of a question: is it stuck?")

    def _fetch(self, within_s: float) -> bytes:
        self._set(SET_TIMEOUT, "I", max(int(within_s * 1000), LEAST_MS))
        try:
            return os.read(self._file, MOST_BYTES)
        except OSError as error:
            if error.errno in (errno.ETIMEDOUT, errno.EAGAIN):
                return b""
            raise self._lost(error) from error

    def _set(self, request: int, form: str, value: int) -> None:
        try:
            fcntl.ioctl(self._file, request, struct.pack(form, value))
        except OSError as error:
            # An older kernel lacks one of them; a device that is gone says so when it is read.
            if error.errno not in (errno.ENOTTY, errno.EINVAL, errno.ENODEV, errno.EIO):
                raise self._lost(error) from error

    def _lost(self, error: OSError) -> DriverError:
        return Reopen(
            f"{self.place}: the connection is lost ({error.strerror}): check the instrument and "
            "its cable; it is tried again by itself"
        )
