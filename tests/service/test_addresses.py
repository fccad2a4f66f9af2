"""Where this machine is found, read off what the kernel says of its networks."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller import addresses
from controller.addresses import Places, is_address, local_addresses, names, places, url

FIB_TRIE = """\
Main:
  +-- 0.0.0.0/0 3 0 5
     |-- 0.0.0.0
        /0 universe UNICAST
     +-- 127.0.0.0/8 2 0 2
        |-- 127.0.0.1
           /32 host LOCAL
     +-- 192.168.7.0/24 2 0 2
        |-- 192.168.7.0
           /24 link UNICAST
        |-- 192.168.7.31
           /32 host LOCAL
        |-- 192.168.7.255
           /32 link BROADCAST
     |-- 10.42.0.1
        /32 link UNICAST
        /32 host LOCAL
     |-- 10.99.0.1
        /32 universe UNICAST
Local:
     |-- 192.168.7.31
        /32 host LOCAL
"""
"""As Linux 6.1 writes it: two addresses, one in two tables, one with a route of its own; and a neighbour's."""
IF_INET6 = """\
00000000000000000000000000000001 01 80 10 80       lo
fe80000000000000bad0c0fffe000001 02 40 20 80     wlan0
20010db8000000000000000000000031 02 40 00 80     wlan0
fd120000000000000000000000000031 03 40 00 00      eth0
fd120000000000000000000000000032 03 40 00 40      eth0
fd120000000000000000000000000033 03 40 00 08      eth0
fd120000000000000000000000000034 03 40 00 20      eth0
fec00000000000000000000000000035 03 40 40 80      eth0
"""
"""A loopback, a link-local, a global and a unique local one; then tentative, failed, deprecated, and site-local."""


@pytest.fixture
def net(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "fib_trie").write_text(FIB_TRIE)
    (tmp_path / "if_inet6").write_text(IF_INET6)
    monkeypatch.setattr(addresses, "_leading_out", tuple)
    monkeypatch.setattr("socket.gethostname", lambda: "Pi-Two.example")
    return tmp_path


def test_every_network_counts_without_any_route(net: Path) -> None:
    """Each address of each interface is found, once; not the loopback's, a neighbour's, or one that is not in use."""
    assert local_addresses(net) == ("192.168.7.31", "10.42.0.1", "2001:db8::31", "fd12::31")


def test_the_one_that_leads_out_comes_first(net: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a route leads out of the house, the address it goes by is the first, for a picture has room for one."""
    monkeypatch.setattr(addresses, "_leading_out", lambda: ("10.42.0.1",))
    assert local_addresses(net)[:2] == ("10.42.0.1", "192.168.7.31")


def test_a_machine_without_one_kind_has_the_other(net: Path) -> None:
    """Where the kernel has no IPv6, or says nothing at all, what there is is found."""
    (net / "if_inet6").unlink()
    assert local_addresses(net) == ("192.168.7.31", "10.42.0.1")
    (net / "fib_trie").unlink()
    assert local_addresses(net) == ()


def test_a_page_is_said_to_be_where_it_listens(net: Path) -> None:
    """At every address of the kind it listens at, at the one it was given, or on this machine alone."""
    assert places("0.0.0.0", 80, net) == Places(
        local="http://localhost:80",
        name="http://pi-two.local:80",
        addresses=("http://192.168.7.31:80", "http://10.42.0.1:80"),
    )
    assert places("::", 80, net).addresses == ("http://[2001:db8::31]:80", "http://[fd12::31]:80")
    assert places("10.42.0.1", 80, net).addresses == ("http://10.42.0.1:80",)
    for here in ("localhost", "127.0.0.1", "127.0.1.1", "::1"):
        assert places(here, 80, net) == Places(local=url(here, 80), alone=True)


def test_the_best_place_is_a_number() -> None:
    """A picture holds a number where there is one, else the name, else this machine's own."""
    there = Places(local="a", name="b", addresses=("c", "d"))
    assert [there.best(), there.model_copy(update={"addresses": ()}).best(), Places(local="a").best()] == [
        "c",
        "b",
        "a",
    ]


@pytest.mark.parametrize("called", ["", "localhost", "(none)", "localhost.localdomain"])
def test_a_machine_without_a_name_is_not_sent_for(net: Path, monkeypatch: pytest.MonkeyPatch, called: str) -> None:
    """A machine that was never given a name answers to localhost, and to no name that any machine could have."""
    monkeypatch.setattr("socket.gethostname", lambda: called)
    assert names("0.0.0.0") == ("localhost",)
    assert places("0.0.0.0", 80, net).name == ""


def test_the_names_of_this_machine(net: Path) -> None:
    """The name with .local comes first, then every other it may be called by, a second machine's of one name too."""
    assert names("0.0.0.0")[:3] == ("pi-two.local", "pi-two", "pi-two.example")
    assert "pi-two-2.local" in names("0.0.0.0")
    assert names("darkroom.example")[-2:] == ("localhost", "darkroom.example")


@pytest.mark.parametrize("host", ["localhost", "1", "10.1", "010.0.0.1", "2130706433", "::1%", "[::1]", "pi.local", ""])
def test_what_is_no_number_is_a_name(host: str) -> None:
    """Only a whole address counts as a number: what a browser would have to make one of does not."""
    assert not is_address(host)
    assert is_address("10.0.0.1")
    assert is_address("fd00::1")
