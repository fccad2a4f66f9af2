"""Where a phone finds the page: the port, and this machine's name."""

from __future__ import annotations

import errno
import json
import socket
import urllib.request
from collections.abc import Iterator
from typing import Final

from controller.commands.check.findings import Finding, found
from controller.commands.check.machine import Machine

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
        if _is_ours(port)
        else found("port", "must", "check.port-taken", port=port, other=port + 1)
    )


def _is_ours(port: int) -> bool:
    """Ask what anyone may ask; the answer's keys are ours alone."""
    ask = urllib.request.build_opener(urllib.request.ProxyHandler({}), _AnyStatus())
    try:
        with ask.open(f"http://127.0.0.1:{port}/health", timeout=_PATIENCE_S) as answer:
            told = json.loads(answer.read(4096))
    except (OSError, ValueError):
        return False
    return isinstance(told, dict) and {"ok", "keeper", "practice"} <= set(told)


class _AnyStatus(urllib.request.HTTPErrorProcessor):
    """A daemon without a keeper answers 503, and is ours all the same."""

    def http_response(self, request: urllib.request.Request, response: object) -> object:  # noqa: ARG002
        return response


def look_at_name(machine: Machine, port: int) -> Iterator[Finding]:
    """Look under which name a phone on the same network finds this machine."""
    name = machine.hostname().partition(".")[0]
    if name in _NAMELESS:
        yield found("name", "advice", "check.name-none")
    elif any(machine.at(path).exists() for path in _AVAHI):
        yield found("name", "good", "check.name", name=name, port=port)
    else:
        yield found("name", "advice", "check.name-unsaid", name=name, port=port)
