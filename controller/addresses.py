"""Where this machine is found on its networks, as it stands at the moment it is asked."""

from __future__ import annotations

import re
import socket
from collections.abc import Iterator
from ipaddress import IPv6Address, ip_address
from pathlib import Path
from typing import Final

from controller.model import Frozen

_NET: Final = Path("/proc/self/net")
_LOCAL4: Final = re.compile(r"\|-- (\S+)((?:\n +/.*)+)")
"""A leaf of the kernel's table of routes, with what it says of it."""
_GLOBAL: Final = "00"
"""The scope of an address that others can reach, as /proc/net/if_inet6 writes it: unique local ones have it, too."""
_UNFIT: Final = 0x08 | 0x20 | 0x40
"""Another machine has it; it is not to be used any more; it is still being tried (IFA_F_… of linux/if_addr.h)."""
_NAMELESS: Final = frozenset({"", "localhost", "(none)"})
_SECOND: Final = range(2, 10)
"""Where two machines have one name, the later one is told to the network as NAME-2.local, and so on."""
_ANY4, _ANY6 = "0.0.0.0", "::"  # noqa: S104 - compared with, not bound to


class Places(Frozen):
    """Where the page is, each as a whole address."""

    local: str
    """For this machine itself."""
    name: str = ""
    """By the machine's name; empty where it has none, or where only this machine sees the page."""
    addresses: tuple[str, ...] = ()
    """By each of its addresses, the one that leads furthest first; empty where no network is there yet."""
    alone: bool = False
    """Only this machine sees the page, whatever network comes."""

    def best(self) -> str:
        """Return the one for a picture: a number before a name, for not every phone finds names."""
        return next(place for place in (*self.addresses, self.name, self.local) if place)

    def every(self) -> tuple[str, ...]:
        """Return all of them."""
        return tuple(dict.fromkeys(place for place in (self.local, self.name, *self.addresses) if place))


def places(host: str, port: int, net: Path = _NET) -> Places:
    """Return where a page that listens at `host` and `port` is found now."""
    if _is_alone(host):
        return Places(local=url(host if host != _ANY4 else "localhost", port), alone=True)
    name = short_name()
    return Places(
        local=url("localhost" if host in (_ANY4, _ANY6) else host, port),
        name=url(f"{name}.local", port) if name else "",
        addresses=tuple(url(address, port) for address in _listened_at(host, net)),
    )


def url(host: str, port: int, *, secure: bool = False) -> str:
    """Return the address of a page."""
    return f"{'https' if secure else 'http'}://{f'[{host}]' if ':' in host else host}:{port}"


def is_address(host: str) -> bool:
    """Tell whether a host is an address in numbers and no name: no name service can lead that astray."""
    try:
        ip_address(host)
    except ValueError:
        return False
    return True


def short_name() -> str:
    """Return what this machine is called now, as its network knows it; empty where it has no name of its own."""
    name = socket.gethostname().partition(".")[0].lower()
    return "" if name in _NAMELESS else name


def names(host: str) -> tuple[str, ...]:
    """Return the names this machine answers to now, where it was told to listen at `host`; the best one first."""
    name, whole = short_name(), socket.gethostname().lower()
    own = (f"{name}.local", name, whole, *(f"{name}-{number}.local" for number in _SECOND)) if name else ()
    return tuple(dict.fromkeys((*own, "localhost", *([] if host in (_ANY4, _ANY6) else [host]))))


def local_addresses(net: Path = _NET) -> tuple[str, ...]:
    """Return this machine's own addresses on every network, without a route anywhere; none of them of itself alone."""
    found = tuple(dict.fromkeys((*_of_version_4(net), *_of_version_6(net))))
    first = _leading_out()
    return tuple(sorted(found, key=lambda address: address not in first))


def _of_version_4(net: Path) -> Iterator[str]:
    for address, said in _LOCAL4.findall(_text(net / "fib_trie")):
        if "/32 host LOCAL" in said and not ip_address(address).is_loopback:
            yield address


def _of_version_6(net: Path) -> Iterator[str]:
    for line in _text(net / "if_inet6").splitlines():
        digits, _number, _length, scope, flags, _name = line.split()
        if scope == _GLOBAL and not int(flags, 16) & _UNFIT:
            yield str(IPv6Address(int(digits, 16)))


def _text(place: Path) -> str:
    """Return what the kernel says; where it has no such network, nothing."""
    try:
        return place.read_text(encoding="ascii")
    except OSError:
        return ""


def _leading_out() -> tuple[str, ...]:
    """Return the addresses that lead out of this network, where one does: the one a router knows."""
    found: list[str] = []
    for family, far in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        # a datagram socket that is connected sends nothing; it only tells which address would be used
        try:
            with socket.socket(family, socket.SOCK_DGRAM) as probe:
                probe.connect((far, 9))
                found.append(str(probe.getsockname()[0]))
        except OSError:
            continue
    return tuple(found)


def _listened_at(host: str, net: Path) -> tuple[str, ...]:
    """Return the addresses at which a page told to listen at `host` is heard."""
    if host not in (_ANY4, _ANY6):
        return (host,)
    version = 4 if host == _ANY4 else 6
    return tuple(address for address in local_addresses(net) if ip_address(address).version == version)


def _is_alone(host: str) -> bool:
    return host == "localhost" or (is_address(host) and ip_address(host).is_loopback)
