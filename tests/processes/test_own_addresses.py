"""The page at the machine's own addresses, whichever come and go: a real daemon in networks of its own."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest
from tools.patience import line_from

pytestmark = pytest.mark.usefixtures("by_real_time")

ROOT = Path(__file__).resolve().parents[2]
PORT = 18710
_ASK = """
import http.client, json, sys
to, verb, path, body, headers = json.loads(sys.argv[1])
line = http.client.HTTPConnection(to, int(sys.argv[2]), timeout=10)
line.request(verb, path, body, headers)
answer = line.getresponse()
print(json.dumps([answer.status, answer.read().decode(), answer.getheader("Set-Cookie") or ""]))
"""


class Machine:
    """A machine with a name and networks of its own, and a daemon that was started before any network was there."""

    def __init__(self, folder: Path) -> None:
        self.data = folder / "data"
        begun = "ip link set lo up && hostname first-name && echo ready && exec cat"
        self._holder = self._popen(["unshare", "--net", "--uts", "sh", "-c", begun])
        assert line_from(self._holder) == "ready\n"
        try:
            self.serving = self._popen([*self._inside, *self._treadle("serve"), "--port", str(PORT)])
            self.greeting = [line_from(self.serving) for _ in range(3)]
        except BaseException:
            self.close()
            raise

    @staticmethod
    def _popen(words: list[str]) -> subprocess.Popen[str]:
        return subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    @property
    def _inside(self) -> list[str]:
        return ["nsenter", "--net", "--uts", "--target", str(self._holder.pid)]

    def _treadle(self, command: str) -> list[str]:
        return [sys.executable, str(ROOT / "treadle.py"), command, "--simulate", "--data", str(self.data)]

    def do(self, *words: str) -> str:
        """Do something within the machine."""
        done = subprocess.run([*self._inside, *words], capture_output=True, text=True, timeout=60, check=False)
        assert done.returncode == 0, (words, done.stderr)
        return done.stdout

    def treadle(self, *words: str) -> str:
        """Give a command beside the daemon."""
        return self.do(*self._treadle(words[0]), *words[1:])

    def join(self, interface: str, address: str) -> None:
        """Join a network: an interface with an address, and no route but to its neighbours."""
        self.do("ip", "link", "add", interface, "type", "veth", "peer", "name", f"{interface}-far")
        self.do("ip", "link", "set", f"{interface}-far", "up")
        self.do("ip", "addr", "add", address, "dev", interface)
        self.do("ip", "link", "set", interface, "up")

    def leave(self, interface: str) -> None:
        """Leave a network again."""
        self.do("ip", "link", "del", interface)

    def refused(self, *words: str) -> str:
        """Give a command beside the daemon that is refused, and return the sentence."""
        asked = [*self._inside, *self._treadle(words[0]), *words[1:]]
        done = subprocess.run(asked, capture_output=True, text=True, timeout=60, check=False)
        assert done.returncode == 2, done.stdout
        return done.stderr

    def ask(
        self, to: str, host: str = "", *, body: dict[str, str] | None = None, path: str = "/health", cookie: str = ""
    ) -> tuple[int, str, str]:
        """Return the status of an answer, its body and its cookie; what goes to an address comes from it, too."""
        headers = {"Host": f"{host or to}:{PORT}", "Origin": f"http://{host or to}:{PORT}", "Cookie": cookie}
        form = {**headers, "Content-Type": "application/x-www-form-urlencoded"}
        asked = (to, "GET", path, None, headers) if body is None else (to, "POST", path, urlencode(body), form)
        status, text, cookie = json.loads(self.do(sys.executable, "-I", "-S", "-c", _ASK, json.dumps(asked), str(PORT)))
        return status, text, cookie

    def close(self) -> None:
        """End the daemon, and the machine with it."""
        for process, number in ((getattr(self, "serving", None), signal.SIGTERM), (self._holder, signal.SIGKILL)):
            if process is not None:
                process.send_signal(number)
                process.communicate(timeout=30)


def _why_not() -> str:
    """Return why no machine can be made here; empty where one can."""
    if lacking := [tool for tool in ("unshare", "nsenter", "ip", "hostname") if shutil.which(tool) is None]:
        return f"{', '.join(lacking)} is not installed"
    tried = "ip link set lo up && ip link add try type veth peer name try-far && hostname try"
    done = subprocess.run(["unshare", "--net", "--uts", "sh", "-c", tried], capture_output=True, text=True, check=False)
    return f"no network of its own can be made here, as user {os.geteuid()}: {done.stderr.strip()}" * bool(
        done.returncode
    )


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machine]:
    if why := _why_not():
        pytest.skip(why)
    made = Machine(tmp_path_factory.mktemp("machine"))
    yield made
    made.close()


@pytest.fixture
def networks(machine: Machine) -> Iterator[Machine]:
    """The machine on two networks that it joined after the daemon began, neither with a route that leads out."""
    machine.join("lan", "192.168.77.5/24")
    machine.join("hot", "10.42.0.1/24")
    yield machine
    machine.leave("lan")
    machine.leave("hot")


def test_a_daemon_that_began_without_a_network_says_what_stays_true(machine: Machine) -> None:
    """The greeting names the address that will count, with .local and port, and not this machine alone."""
    words = "".join(machine.greeting)
    assert f"Once it is on a network: http://first-name.local:{PORT}" in words
    assert "alone" not in words


def test_addresses_that_came_later_are_answered(networks: Machine) -> None:
    """By each address of each network, without a default route, and after another lease, the page answers."""
    assert [networks.ask(to)[0] for to in ("127.0.0.1", "192.168.77.5", "10.42.0.1")] == [200] * 3
    networks.do("ip", "addr", "del", "192.168.77.5/24", "dev", "lan")
    networks.do("ip", "addr", "add", "192.168.77.6/24", "dev", "lan")
    assert networks.ask("192.168.77.6")[0] == 200


def test_a_new_name_counts_at_once(machine: Machine) -> None:
    """After the machine was given another name, the page is at that, and no more at the old one, which it says."""
    assert machine.ask("127.0.0.1", "first-name.local")[0] == 200
    machine.do("hostname", "second-name")
    try:
        assert [machine.ask("127.0.0.1", name)[0] for name in ("second-name.local", "second-name")] == [200] * 2
        status, words, _ = machine.ask("127.0.0.1", "first-name.local")
        assert (status, f"http://second-name.local:{PORT}" in words) == (403, True)
    finally:
        machine.do("hostname", "first-name")


def test_a_name_led_astray_is_refused(networks: Machine) -> None:
    """A name of somebody else's that leads to this machine is refused at each of its addresses."""
    assert [networks.ask(to, "evil.example")[0] for to in ("127.0.0.1", "192.168.77.5")] == [403, 403]


def test_pair_prints_where_the_page_is_now(networks: Machine) -> None:
    """`treadle pair` prints the code, the name, every address of the moment, and a picture for a phone's camera."""
    words = networks.treadle("pair")
    assert words.startswith("Pairing code: ")
    for place in ("first-name.local", "192.168.77.5", "10.42.0.1"):
        assert f"http://{place}:{PORT}" in words
    assert "\u2580" in words or "\u2584" in words
    told = json.loads(networks.treadle("pair", "--json"))
    assert (len(told["code"]), told["minutes"]) == (8, 10)
    assert set(told["where"]["addresses"]) == {f"http://192.168.77.5:{PORT}", f"http://10.42.0.1:{PORT}"}


def test_a_stranger_does_not_keep_the_owner_out(networks: Machine) -> None:
    """While a stranger tries codes, the right one from another address is taken, and the picture from the same one."""
    for owner, way in (("10.42.0.1", "code"), ("192.168.77.5", "key")):
        told = json.loads(networks.treadle("pair", "--json"))
        right = {"code": told["code"], "key": told["link"].partition("?key=")[2]}[way]
        wrong = {"code": f"{(int(told['code']) + 1) % 10**8:08d}"}
        tries = [networks.ask("192.168.77.5", body=wrong, path="/pair")[0] for _ in range(7)]
        assert tries[-1] == 429
        assert networks.ask(owner, body={way: right}, path="/pair")[::2][0] == 303


def test_a_phone_is_put_out_by_command(networks: Machine) -> None:
    """`treadle phones` lists who is paired; put out by its name, a phone is refused from the next moment on."""
    told = json.loads(networks.treadle("pair", "--json"))
    status, _, cookie = networks.ask("10.42.0.1", body={"code": told["code"]}, path="/pair")
    assert status == 303
    before = json.loads(networks.treadle("phones", "--json"))["phones"]
    name = max((phone["name"] for phone in before), key=lambda name: int(name.split()[1]))
    mine = cookie.partition(";")[0]
    assert networks.ask("10.42.0.1", body={}, path="/stop", cookie=mine)[0] in {200, 303}
    assert f"{name}: paired on" in networks.treadle("phones")
    assert f"{name}:" not in networks.treadle("phones", "--out", name)
    assert networks.ask("10.42.0.1", body={}, path="/stop", cookie=mine)[0] == 403
    refused = networks.refused("phones", "--out", name)
    assert f"called “{name}”" in refused


def test_check_tries_every_address(networks: Machine) -> None:
    """`treadle check` says of each address and of the name whether the page answers there, having tried it."""
    findings = json.loads(networks.treadle("check", "--port", str(PORT), "--json"))["findings"]
    told = {found["words"]: found["level"] for found in findings if found["name"] == "page"}
    for place in ("localhost", "192.168.77.5", "10.42.0.1"):
        assert [level for words, level in told.items() if f"http://{place}:{PORT}" in words] == ["good"]
    assert any(f"http://first-name.local:{PORT}" in words for words in told)
