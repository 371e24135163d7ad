"""The addresses of this machine in its own networks. No other machine is asked."""

import socket
import struct
import sys
from collections.abc import Iterator
from contextlib import suppress
from ipaddress import IPv4Address, IPv6Address, ip_address

SIOCGIFADDR = 0x8915
"""Linux, netdevice(7): the IPv4 address of an interface."""

UNUSED = ("192.0.2.1", 9)
"""RFC 5737, for documents: asking for the way there sends nothing."""


def lan_addresses() -> list[str]:
    """Addresses at which a phone may reach this machine, the likeliest first.

    A shop's network may have no way out, so the interfaces are asked, too.
    """
    found = [*_way_out(), *_of_interfaces()]
    return list(dict.fromkeys(text for text in found if _is_of_a_network(text)))


def is_near(peer: str) -> bool:
    """Whether an address belongs to this machine or a private network, not to the internet.

    >>> is_near("192.168.1.20"), is_near("::ffff:10.0.0.7"), is_near("8.8.8.8"), is_near("fe80::1")
    (True, True, False, True)
    """
    try:
        address: IPv4Address | IPv6Address = ip_address(peer.partition("%")[0])
    except ValueError:
        return False
    mapped = getattr(address, "ipv4_mapped", None)
    return not (mapped or address).is_global


def _is_of_a_network(text: str) -> bool:
    address = ip_address(text)
    return not (address.is_loopback or address.is_unspecified or address.is_link_local)


def _way_out() -> Iterator[str]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked, suppress(OSError):
        asked.connect(UNUSED)
        yield asked.getsockname()[0]


def _of_interfaces() -> Iterator[str]:
    if sys.platform != "linux":
        return
    import fcntl

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for _, name in socket.if_nameindex():
            with suppress(OSError):
                request = struct.pack("256s", name.encode()[:15])
                answer = fcntl.ioctl(asked.fileno(), SIOCGIFADDR, request)
                yield socket.inet_ntoa(answer[20:24])
