"""Who may come in: each rule of the guard fails closed, and says how to go on."""

from __future__ import annotations

import re
from hashlib import sha256

import pytest
from flask import Flask
from flask.testing import FlaskClient
from itsdangerous import URLSafeSerializer
from tools.phone import ORIGIN, Paired, words_of
from tools.stand_in_desk import CODE, KEY, StandInDesk
from werkzeug.test import TestResponse

import treadle
from controller.words import say
from webui.app import create_app
from webui.frame import device
from webui.frame.device import TOKEN_HEADER, cookie_name
from webui.frame.guard import ACTS_AT_MOST, ACTS_AT_ONCE, Counter, plain_host

OPEN_TO_ALL = {
    *(("GET", "/pair"), ("HEAD", "/pair"), ("POST", "/pair"), ("GET", "/health"), ("HEAD", "/health")),
    *(("GET", "/favicon.ico"), ("HEAD", "/favicon.ico")),
}
PAGES = ["/", "/now", "/choose", "/sheets", "/sheets/x", "/phone", "/settings", "/live", "/status.json", "/nowhere"]


def _close(phone: Paired, number: int = 1, **headers: str) -> TestResponse:
    return phone.send("/act/close", {"number": number}, **headers)


@pytest.mark.parametrize("address", PAGES)
def test_a_stranger_sees_only_the_pairing_page(stranger: FlaskClient, address: str) -> None:
    """An unpaired phone is answered 403 with the pairing page, whatever it asks for, and nothing of the darkroom."""
    answer = stranger.get(address)
    assert answer.status_code == 403
    assert say("page.refused-unpaired") in words_of(answer)
    assert 'action="/pair"' in answer.text
    assert "Harbour crane" not in answer.text
    assert 'name="token"' not in answer.text


def test_every_address_but_three_is_shut_to_a_stranger(
    practice_desk: StandInDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of all that is served, by day too, an unpaired phone gets the pairing page, health and no icon, and nothing else.

    No address takes a method but looking and POST, so that nothing can be done past the rules for posts.
    """
    served: list[Flask] = []

    class Door:
        def __init__(self, app: Flask, host: str, port: int) -> None:
            served.append(app)

        def start(self) -> None:
            return None

    monkeypatch.setattr("webui.server.Server", Door)
    treadle._open_page(practice_desk, ["localhost"], "localhost", 80)
    practice_desk.say_day()
    stranger = served[0].test_client()
    every = list(served[0].url_map.iter_rules())
    assert len(every) > 60
    for rule in every:
        methods = (rule.methods or set()) - {"OPTIONS"}
        assert methods <= {"GET", "HEAD", "POST"}
        address = re.sub("<[^>]*>", "1", rule.rule)
        for method in methods:
            answer = stranger.open(address, method=method, headers={"Origin": ORIGIN})
            open_to_all = (method, address) in OPEN_TO_ALL
            assert (answer.status_code != 403) is open_to_all, (method, address, answer.status_code)
            assert open_to_all or method == "HEAD" or say("page.refused-unpaired") in words_of(answer)
    assert {(method, rule.rule) for rule in every for method in rule.methods or ()} >= OPEN_TO_ALL


def test_a_strangers_script_is_told_nothing_else(app: Flask, stranger: FlaskClient, phone: Paired) -> None:
    """To a script a stranger's refusal is one sentence with 403, and no number of the darkroom's, whatever it lacks."""
    answer = stranger.get("/status.json", headers={"Accept": "application/json"})
    assert answer.status_code == 403
    assert answer.get_json() == {"refusal": say("page.refused-unpaired")}
    elsewhere = {"Accept": "application/json", "Host": "evil.example"}
    assert stranger.get("/status.json", headers=elsewhere).get_json()["number"] is None
    paired = {**elsewhere, "Cookie": phone.cookie()}
    answer = app.test_client(use_cookies=False).get("/status.json", headers=paired)
    assert answer.get_json()["number"] is not None


def test_a_stranger_may_pair_and_ask_for_health(stranger: FlaskClient) -> None:
    """The pairing page and /health are open to anyone, and /health tells no more than whether light could be given."""
    assert stranger.get("/pair").status_code == 200
    assert stranger.get("/health").get_json() == {"ok": True, "keeper": "ready", "practice": False, "room": True}


@pytest.mark.parametrize("ok", [True, False])
def test_a_person_who_asks_for_health_is_told_in_the_dark(stranger: FlaskClient, desk: StandInDesk, ok: bool) -> None:
    """A browser gets a page of the dark face with a sentence, since figures alone would be shown on white."""
    desk.show(keeper="ready" if ok else "away")
    answer = stranger.get("/health", headers={"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"})
    assert answer.status_code == (200 if ok else 503)
    assert say("page.health-ok" if ok else "page.health-not") in words_of(answer)
    assert '<meta name="color-scheme" content="dark">' in answer.text


def test_health_says_that_there_is_no_room(stranger: FlaskClient, desk: StandInDesk) -> None:
    """With a card too full to file a light no light can be given: the status code says so, and a person is told why."""
    desk.room = False
    answer = stranger.get("/health")
    assert answer.status_code == 503
    assert answer.get_json() == {"ok": False, "keeper": "ready", "practice": False, "room": False}
    assert say("page.health-room") in words_of(stranger.get("/health", headers={"Accept": "text/html"}))


def test_health_is_503_when_the_keeper_is_away(stranger: FlaskClient, desk: StandInDesk) -> None:
    """A watcher from outside sees by the status code alone that no light can be given."""
    desk.show(keeper="away")
    assert stranger.get("/health").status_code == 503


def test_a_stranger_gets_no_file(stranger: FlaskClient, phone: Paired) -> None:
    """Styles and scripts are for paired phones; the pairing page needs none of them."""
    address = phone.look("/").text.split('href="')[1].split('"')[0]
    assert phone.look(address).status_code == 200
    assert stranger.get(address).status_code == 403
    page = stranger.get("/pair").text
    assert "/static/" not in page
    assert "<script" not in page


@pytest.mark.parametrize("cookie", ["", "x", "forged", "unsigned", "a list", "no mark", "a number for a mark"])
def test_a_cookie_that_was_not_signed_here_counts_as_none(app: Flask, cookie: str) -> None:
    """A missing, broken or foreign signature does not let anyone in, nor does a signed value of another shape."""
    ours = URLSafeSerializer(KEY, salt="treadle paired device", signer_kwargs={"digest_method": sha256})
    values = {
        "forged": URLSafeSerializer(b"another key", salt="treadle paired device").dumps({"mark": "a", "name": "b"}),
        "unsigned": "eyJtYXJrIjoiYSJ9",
        "a list": ours.dumps(["a", "b"]),
        "no mark": ours.dumps({"mark": "", "name": "b"}),
        "a number for a mark": ours.dumps({"mark": 1, "name": "b"}),
    }
    client = app.test_client()
    client.set_cookie(cookie_name(KEY), values.get(cookie, cookie))
    assert client.get("/").status_code == 403
    client.set_cookie(cookie_name(KEY), ours.dumps({"mark": "a", "name": "b"}))
    assert client.get("/").status_code == 200


def test_pairing_outlives_a_restart(phone: Paired, desk: StandInDesk, app: Flask) -> None:
    """Another app around the same key takes the cookie; one with another key does not."""
    cookie = phone.client.get_cookie(cookie_name(KEY))
    assert cookie is not None
    again = create_app(desk, hosts=["localhost"]).test_client()
    again.set_cookie(cookie_name(KEY), cookie.value)
    assert again.get("/").status_code == 200
    desk.key = lambda: b"\x09" * 32  # type: ignore[method-assign]
    other = create_app(desk, hosts=["localhost"]).test_client()
    other.set_cookie(cookie_name(desk.key()), cookie.value)
    assert other.get("/").status_code == 403


# ---- the address


@pytest.mark.parametrize("host", ["localhost", "LocalHost:8123", "treadle.LOCAL", "treadle.local.", "localhost:80"])
def test_its_own_names_are_taken_in_any_case(stranger: FlaskClient, host: str) -> None:
    """Names count without case, port and closing dot."""
    assert stranger.get("/pair", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        *("evil.example", "localhost.evil.example", "evillocalhost", "evil.localhost", "treadle"),
        *("treadle.local..", "192.0.2.7.evil.example", "192.0.2", "2130706433", "0x7f000001", "[evil.example]"),
    ],
)
def test_any_other_name_is_refused(phone: Paired, stranger: FlaskClient, host: str) -> None:
    """A name that is not the machine's own is refused even to a paired phone, and the sentence says which to use."""
    for client in (phone.client, stranger):
        answer = client.get("/pair", headers={"Host": host})
        assert answer.status_code == 403
        assert "treadle.local" in words_of(answer)


@pytest.mark.parametrize(
    "host",
    [
        *("192.0.2.7", "192.0.2.7:80", "10.1.2.3:8090", "127.0.0.1:8090", "[::1]", "[2001:db8::1]:8090"),
        *("[fd12:3456::789A]", "[fe80::1%eth0]:8090", "[fe80::1%25wlan0]"),
    ],
)
def test_any_number_is_taken(phone: Paired, stranger: FlaskClient, host: str) -> None:
    """An address in numbers is never refused, whichever it is and whenever it came: only a name can be led astray."""
    for client in (phone.client, stranger):
        assert client.get("/health", headers={"Host": host}).status_code == 200


def test_a_name_counts_from_the_moment_the_machine_has_it(desk: StandInDesk) -> None:
    """What the machine is called is asked for at every request: a new name counts at once, and the old one no more."""
    called = ["old.local"]
    client = create_app(desk, hosts=lambda: called).test_client()

    def answers() -> list[int]:
        return [client.get("/health", headers={"Host": host}).status_code for host in ("old.local", "new.local:8090")]

    assert answers() == [200, 403]
    called[:] = ["new.local"]
    assert answers() == [403, 200]


def test_the_refusal_names_a_whole_address(desk: StandInDesk) -> None:
    """The address to use instead can be typed as it stands: with .local, and with the port that the page is at."""
    client = create_app(desk, hosts=["pi.local", "pi", "localhost"]).test_client()
    answer = client.get("/", base_url="http://evil.example:8090")
    assert (answer.status_code, "http://pi.local:8090" in words_of(answer)) == (403, True)


def test_a_name_led_astray_posts_nothing(phone: Paired, desk: StandInDesk, app: Flask) -> None:
    """A page under another name that was led to this machine is of one origin with it, and yet refused.

    It is the name that is wrong: with the very same cookie and token under the machine's own name each is taken.
    """
    desk.pairing().code = CODE
    client, cookie = app.test_client(use_cookies=False), phone.cookie()
    body = {"token": phone.token, "number": desk.status().number, "code": CODE}
    for name, status in (("evil.example", 403), ("localhost", 303)):
        headers = {"Host": name, "Origin": f"http://{name}", "Cookie": cookie}
        answers = [client.post(address, data=body, headers=headers) for address in ("/act/close", "/stop", "/pair")]
        assert [answer.status_code for answer in answers] == [status] * 3
        done = (len(desk.acts), desk.stops, desk.pairing().code is None)
        assert done == ((0, 0, False) if status == 403 else (1, 1, True))


@pytest.mark.parametrize("host", ["", "local host", "localhost:99999", "a/b", "[::1"])
def test_a_host_that_is_none_is_refused(stranger: FlaskClient, host: str) -> None:
    """An unreadable Host is refused with a page of our own, never let through."""
    answer = stranger.get("/pair", headers={"Host": host})
    assert answer.status_code in {400, 403}
    assert "background:#000" in answer.text


def test_hosts_are_compared_in_one_form() -> None:
    """Case, port, brackets, zones and long forms of IPv6 do not matter; the address does."""
    assert plain_host("[::1]:80") == plain_host("0:0:0:0:0:0:0:1") == "::1"
    assert plain_host("[FE80::1%eth0]") == plain_host("fe80::1") == "fe80::1"
    assert plain_host("Treadle.Local:8123") == "treadle.local"
    assert plain_host("[::2]") != "::1"


# ---- Origin


@pytest.mark.parametrize(
    "origin",
    ["http://evil.example", "null", "https://localhost", "http://localhost:81", "http://localhost.evil.example", ""],
)
def test_a_post_from_elsewhere_is_refused(phone: Paired, desk: StandInDesk, origin: str) -> None:
    """An Origin that is not this very page is refused: acts, pairing and STOP alike."""
    assert _close(phone, Origin=origin).status_code == 403
    assert phone.send("/stop", Origin=origin).status_code == 403
    assert phone.send("/pair", {"code": CODE}, Origin=origin).status_code == 403
    assert desk.acts == []
    assert desk.stops == 0


def test_a_post_without_origin_needs_the_browsers_word(phone: Paired, desk: StandInDesk) -> None:
    """Without Origin only Sec-Fetch-Site: same-origin lets a post in."""
    body = {"token": phone.token, "number": 1}
    for site in (None, "cross-site", "same-site", "none"):
        headers = {"Sec-Fetch-Site": site} if site else {}
        assert phone.client.post("/act/close", data=body, headers=headers).status_code == 403
    assert desk.acts == []
    assert phone.client.post("/act/close", data=body, headers={"Sec-Fetch-Site": "same-origin"}).status_code == 303
    assert len(desk.acts) == 1


# ---- token, number, rate, size


def test_a_form_without_its_phones_token_is_refused(phone: Paired, desk: StandInDesk, app: Flask) -> None:
    """No token, a wrong one and another phone's are all refused; the token may come in a header."""
    desk.pairing().code = CODE
    other = app.test_client()
    other.post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    strange = Paired(other).token
    assert strange != phone.token
    for token in ("", "x", "é", strange):
        assert phone.send("/act/close", {"number": 1, "token": token}).status_code == 403
    assert desk.acts == []
    answer = phone.client.post("/act/close", data={"number": 1}, headers={"Origin": ORIGIN, TOKEN_HEADER: phone.token})
    assert answer.status_code == 303


def test_a_token_is_of_this_darkroom(desk: StandInDesk) -> None:
    """The token follows from the key, not from the phone's mark alone, which stands readable in its cookie."""
    of_one_phone = set()
    for key in (KEY, b"\x09" * 32):
        desk.key = lambda key=key: key  # type: ignore[method-assign,misc]
        with create_app(desk, hosts=["localhost"]).test_request_context():
            of_one_phone.add(device.token(device.Device("a", "b")))
    assert len(of_one_phone) == 2


def test_a_phone_that_taps_too_often_waits(phone: Paired, desk: StandInDesk) -> None:
    """The 41st post within ten seconds is refused with 429; STOP never; and ten seconds later all is well again."""
    for _ in range(ACTS_AT_MOST):
        assert _close(phone, desk.status().number).status_code == 303
    answer = _close(phone, desk.status().number)
    assert answer.status_code == 429
    assert answer.headers["Retry-After"]
    assert say("page.refused-often") in words_of(answer)
    assert phone.send("/stop").status_code == 303
    assert desk.stops == 1
    desk.clock_ns += 10_000_000_001
    assert _close(phone, desk.status().number).status_code == 303


def test_a_tap_that_was_refused_does_not_lengthen_the_waiting() -> None:
    """Forty posts may come within ten seconds, and however often a phone taps on, it is let in when those are over."""
    counter, second = Counter(), 1_000_000_000
    assert sum(counter.one_more("a", tap) for tap in range(100)) == 40
    assert not any(counter.one_more("a", 9 * second + tap) for tap in range(100))
    assert counter.one_more("a", 10 * second + 100)


def test_one_phones_taps_do_not_count_for_another() -> None:
    """Each phone has its own count, and a count that has run out of time is forgotten."""
    counter = Counter()
    for _ in range(ACTS_AT_MOST):
        assert counter.one_more("a", 0)
    assert not counter.one_more("a", 1)
    assert counter.one_more("b", 1)
    assert counter.one_more("a", 10_000_000_001)


def test_too_much_writing_at_once_is_refused(phone: Paired, desk: StandInDesk) -> None:
    """While four posts are under way a fifth is told to come again; looking and STOP go on; then it is taken."""
    told: list[int] = []

    def busy(number: int) -> None:
        if number:
            desk.do = lambda act, at: busy(number - 1) or StandInDesk.do(desk, act, at)  # type: ignore[method-assign]
            told.append(_close(phone, desk.status().number).status_code)

    busy(ACTS_AT_ONCE + 1)
    assert told[0] == 503
    assert phone.look("/").status_code == 200
    assert told.count(503) == 1
    desk.do = lambda act, at: StandInDesk.do(desk, act, at)  # type: ignore[method-assign]
    assert _close(phone, desk.status().number).status_code == 303


@pytest.mark.parametrize("more", ["", '; filename="a.png"'], ids=["field", "file"])
@pytest.mark.parametrize("address", ["/papers/scan", "/papers/new", "/act/close"])
def test_a_part_without_a_name_is_no_form(phone: Paired, address: str, more: str) -> None:
    """A form in parts one of which has no name is refused in a sentence, wherever it is sent."""
    token = f"--b\r\nContent-Disposition: form-data; name=token\r\n\r\n{phone.token}\r\n"
    body = f"{token}--b\r\nContent-Disposition: form-data; odd=name{more}\r\n\r\nx\r\n--b--\r\n"
    kind = "multipart/form-data; boundary=b"
    answer = phone.client.post(address, data=body.encode(), content_type=kind, headers={"Origin": ORIGIN})
    assert answer.status_code == 400
    assert say("page.refused-400") in words_of(answer)


@pytest.mark.parametrize("size", [300_001, 400_000])
def test_what_is_too_large_is_refused(phone: Paired, desk: StandInDesk, size: int) -> None:
    """More than 300 kB is a 413 with a sentence, in a form and out of one, and nothing of it is taken in."""
    answer = phone.send("/act/remark", {"number": 1, "sheet": "s", "text": "x" * size})
    assert answer.status_code == 413
    assert "300 kB" in words_of(answer)
    raw = phone.client.post("/act/remark", data=b"x" * size, headers={"Origin": ORIGIN, TOKEN_HEADER: phone.token})
    assert raw.status_code in {413, 422}
    assert desk.acts == []


# ---- STOP


def test_stop_asks_for_the_cookie_and_origin_alone(phone: Paired, stranger: FlaskClient, desk: StandInDesk) -> None:
    """STOP is done without token and number, whatever is going on; a stranger's is refused."""
    answer = phone.client.post("/stop", headers={"Origin": ORIGIN})
    assert answer.status_code == 303
    assert answer.headers["Location"] == "/"
    assert phone.client.post("/stop", headers={"Origin": ORIGIN, "Accept": "application/json"}).get_json() == {
        "stopped": True
    }
    assert desk.stops == 2
    assert stranger.post("/stop", headers={"Origin": ORIGIN}).status_code == 403
    assert desk.stops == 2


def test_stop_is_never_counted_or_held_up(phone: Paired, desk: StandInDesk) -> None:
    """A thousand STOPs in a row are all done, and none looks at the snapshot first."""
    desk.status = lambda: pytest.fail("STOP looked first")  # type: ignore[method-assign]
    for _ in range(1000):
        answer = phone.client.post("/stop", headers={"Origin": ORIGIN, "Accept": "application/json"})
        assert answer.status_code == 200
    assert desk.stops == 1000


def test_get_changes_nothing(phone: Paired, desk: StandInDesk) -> None:
    """No address does anything on GET or HEAD, with a pairing code in it neither."""
    before = desk.status()
    desk.pairing().code = CODE
    for address in [*PAGES[:-3], "/stop", "/act/close?number=1", "/pair?code=12345678", "/settings/pair"]:
        phone.client.get(address)
        phone.client.head(address)
    assert desk.status() == before
    assert desk.acts == []
    assert desk.stops == 0
    assert desk.pairing().code == CODE
