"""Where a phone finds the page: the port, this machine's name, and whether the page answers at each address it has."""

from __future__ import annotations

import errno
import http.client
import json
import socket
import urllib.error
import urllib.request
from collections.abc import Iterator
from typing import Final

from controller.addresses import Places, local_addresses, url
from controller.commands.check.findings import Finding, found
from controller.commands.check.machine import Machine
from controller.words import say

_PATIENCE_S: Final = 2.0
_NAMELESS: Final = frozenset({"", "localhost", "(none)"})
_AVAHI: Final = ("/run/avahi-daemon/pid", "/run/avahi-daemon/socket", "/var/run/avahi-daemon/pid")


def look_at_port(port: int) -> Finding:
    """Look whether the port is free, or Treadle itself serves there."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind(("", port))
        except OSError as problem:
            if problem.errno != errno.EADDRINUSE:
                return found("port", "must", "check.port-refused", port=port, detail=problem.strerror)
        else:
            return found("port", "good", "check.port-free", port=port)
    return (
        found("port", "good", "check.port-served", port=port)
        if not _why_silent(url("127.0.0.1", port)) or not _why_silent(url("::1", port))
        else found("port", "must", "check.port-taken", port=port, other=port + 1)
    )


def look_at_page(where: Places) -> Iterator[Finding]:
    """Try every address at which a daemon says that its page is now."""
    for place in where.every():
        why = _why_silent(place)
        if not why:
            yield found("page", "good", "check.page", place=place)
        elif isinstance(why, socket.gaierror):
            yield found("page", "advice", "check.page-unknown", place=place)
        else:
            yield found("page", "advice", "check.page-silent", place=place, detail=why)


def _why_silent(place: str) -> object:
    """Return why a page of ours does not answer at an address; nothing where it does.

    It is asked what anyone may ask, and the answer's keys are ours alone.
    """
    ask = urllib.request.build_opener(urllib.request.ProxyHandler({}), _AnyStatus())
    try:
        with ask.open(f"{place}/health", timeout=_PATIENCE_S) as answer:
            status, body = answer.status, answer.read(4096)
    except urllib.error.URLError as problem:
        return problem.reason
    except (OSError, http.client.HTTPException) as problem:
        return problem
    try:
        told = json.loads(body)
    except ValueError:
        told = None
    ours = isinstance(told, dict) and {"ok", "keeper", "practice"} <= set(told)
    return "" if ours else say("check.page-other", status=status)


class _AnyStatus(urllib.request.HTTPErrorProcessor):
    """A daemon without a keeper answers 503, and is ours all the same."""

    def http_response(self, request: urllib.request.Request, response: object) -> object:  # noqa: ARG002
        return response


def look_at_network(machine: Machine) -> Iterator[Finding]:
    """Look whether there is a network at all, and say how this machine becomes one where it can."""
    if (addresses := local_addresses(machine.at("/proc/self/net"))) != ():
        yield found("network", "good", "check.network", addresses=", ".join(addresses))
    elif machine.run(["nmcli", "--version"]) is not None:
        yield found("network", "advice", "check.no-network")
    else:
        yield found("network", "advice", "check.no-network-manager")


def look_at_name(machine: Machine, port: int) -> Iterator[Finding]:
    """Look under which name a phone on the same network finds this machine."""
    name = machine.hostname().partition(".")[0]
    if name in _NAMELESS:
        yield found("name", "advice", "check.name-none")
    elif any(machine.at(path).exists() for path in _AVAHI):
        yield found("name", "good", "check.name", name=name, port=port)
    else:
        yield found("name", "advice", "check.name-unsaid", name=name, port=port)
