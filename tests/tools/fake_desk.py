"""A desk without a darkroom: statuses are set by hand, and what is asked of it is written down."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import Any, Literal

from controller.carry.desk import CarryDesk
from controller.contrast.split_grade import ContrastDesk
from controller.daemon.face import Health
from controller.daemon.pairing import Invitation
from controller.daemon.papers import PaperShelf
from controller.daemon.phones import Phone
from controller.daemon.scans import ScanDrawer
from controller.errors import NotThere, WrongMoment
from controller.foot.acts import Act
from controller.foot.status import Heard, NextStep, Status, StepLine
from controller.lamp.history import LampView
from controller.practice.view import PracticeView
from controller.recipe.plan import Plan, Step, StepKind
from controller.store.records import SheetRecord
from controller.store.sessions import SessionLine
from controller.store.settings import Settings, changed
from controller.store.shelf import Shelf
from controller.store.versions import Kept

KEY = bytes(range(32))
CODE = "12345678"
SECRET = "a-secret-of-22-letters"

STEPS = (
    Step(number=1, name="soft base", act=StepKind.BASE, filter="soft", planned_ms=10100),
    Step(
        number=2,
        name="A sky, burn",
        act=StepKind.BURN,
        filter="soft",
        planned_ms=10100,
        area="A",
        what="sky",
        stops="+1",
    ),
    Step(number=3, name="hard base", act=StepKind.BASE, filter="hard", planned_ms=8000),
)
PLAN = Plan(source="crane", version=1, kind="recipe", title="Harbour crane", steps=STEPS)


def next_step(number: int = 2, **changes: Any) -> NextStep:
    """Return a step of the plan as a status shows it."""
    step = STEPS[number - 1]
    values: dict[str, Any] = {
        "number": number,
        "of": len(STEPS),
        "name": step.name,
        "verb": "burn" if step.act is StepKind.BURN else "base",
        "area": step.area,
        "what": step.what,
        "filter": step.filter,
        "planned_ms": step.planned_ms,
        "remaining_ms": step.planned_ms,
    }
    return NextStep(**{**values, **changes})


def step_lines() -> tuple[StepLine, ...]:
    """Return the plan's list with the first step given."""
    return tuple(
        StepLine(
            number=step.number,
            name=step.name,
            filter=step.filter,
            planned_ms=step.planned_ms,
            given_least_ms=step.planned_ms if step.number == 1 else 0,
            given_most_ms=step.planned_ms if step.number == 1 else 0,
            state="given" if step.number == 1 else "to come",
        )
        for step in STEPS
    )


class FakeLamp:
    """A lamp's bench that shows a view set by hand and writes down what is asked of it."""

    def __init__(self) -> None:
        self.shown = LampView(lag_ms=0.0, operate_ms=0.0, release_ms=0.0, sensor="none")
        self.asked: list[tuple[Any, ...]] = []

    def view(self) -> LampView:
        return self.shown

    def begin_paper_test(self, number: int, **figures: int) -> Status:
        self.asked.append(("paper", figures))
        raise WrongMoment("It cannot be loaded here.")

    def begin_sensor_run(self, number: int) -> Status:
        raise WrongMoment("It cannot be loaded here.")

    begin_reference = begin_warm_up = begin_sensor_run

    def take_paper(self, band: int, *, between: bool = False) -> float:
        self.asked.append(("take paper", band, between))
        return 120.0

    def take_found(self) -> float:
        return 120.0

    def take_typed(self, lag_s: float) -> float:
        self.asked.append(("take typed", lag_s))
        return lag_s * 1000

    def new_bulb(self) -> None:
        self.asked.append(("new bulb",))


class FakePairing:
    """Knows one code and one secret; the sixth try is one too many."""

    def __init__(self) -> None:
        self.code: str | None = CODE
        self.tries = 0
        self.tried_from: list[str] = []

    def invite(self) -> Invitation:
        self.code = "87654321"
        return Invitation(self.code, SECRET)

    def try_secret(self, secret: str) -> bool:
        if self.code is None or secret != SECRET:
            return False
        self.code = None
        return True

    def try_code(self, code: str, address: str) -> bool:
        self.tries += 1
        self.tried_from.append(address)
        if self.tries > 5:
            raise WrongMoment("Five codes were tried within a minute. Wait a minute, then try again.")
        if code != self.code:
            return False
        self.code = None
        return True


class FakePhones:
    """A list of phones that lies nowhere."""

    def __init__(self) -> None:
        self.known: dict[str, Phone] = {}
        self.out: set[str] = set()

    def is_out(self, mark: str) -> bool:
        return mark in self.out

    def add(self) -> Phone:
        number = len(self.known) + len(self.out) + 1
        phone = Phone(mark=f"mark{number}", name=f"phone {number}", paired="2026-03-01", seen="2026-03-01")
        self.known[phone.mark] = phone
        return phone

    def seen(self, mark: str) -> None:
        if mark not in self.known and mark not in self.out:
            self.known[mark] = Phone(mark=mark, name=f"phone {len(self.known) + 1}", seen="2026-03-02")

    def listed(self) -> Sequence[Phone]:
        return tuple(self.known.values())

    def put_out(self, name: str) -> None:
        phone = next((phone for phone in self.known.values() if phone.name == name), None)
        if phone is None:
            raise NotThere("There is no such phone.")
        del self.known[phone.mark]
        self.out.add(phone.mark)


class FakePractice:
    """A simulated darkroom that only remembers."""

    def __init__(self) -> None:
        self.contacts: list[bool] = []
        self.filter = ""
        self.open = False
        self.lit = False
        self.broken: set[str] = set()
        self.hands: list[tuple[object, ...]] = []

    def contact(self, closed: bool) -> None:
        self.contacts.append(closed)

    def put_filter(self, name: str) -> None:
        self.filter = name

    def lid(self, open_: bool) -> None:
        self.open = open_

    def prints(self) -> None:
        return None

    def faults(self) -> tuple[tuple[str, bool], ...]:
        return tuple((name, name in self.broken) for name in ("bulb_dead", "contact_stuck"))

    def fault(self, name: str, on: bool) -> None:
        (self.broken.add if on else self.broken.discard)(name)

    def paper(self, out: bool) -> None:
        self.hands.append(("paper", out))

    def negative(self, inside: bool) -> None:
        self.hands.append(("negative", inside))

    def opal(self, inside: bool) -> None:
        self.hands.append(("opal", inside))

    def card(self, way: str, place: int) -> None:
        self.hands.append(("card", way, place))

    def tool(self, area: str, act: str, inside: bool) -> None:
        self.hands.append(("tool", area, act, inside))

    def phone_lies_lit(self, on: bool) -> None:
        self.hands.append(("phone", on))

    def view(self) -> PracticeView:
        return PracticeView(
            lit=self.lit,
            contact_closed=bool(self.contacts and self.contacts[-1]),
            filter_in_drawer=self.filter,
            lid_open=self.open,
            light_s=0.0,
        )


class FakeDesk:
    """Implements `controller.daemon.desk_protocol.Desk` from memory; `show` sets what is going on."""

    def __init__(self, *, practice: bool = False) -> None:
        self._changed = threading.Condition()
        self._status = Status(
            number=1,
            at_ns=0,
            place="nothing chosen",
            headline="Choose on the page.",
            keeper="ready",
            practice=practice,
            can=("load", "paper away"),
        )
        self.clock_ns = 1_000_000_000
        self.clock: Callable[[], int] | None = None
        self.acts: list[tuple[Act, int]] = []
        self.stops = 0
        self.stopped_at: list[int] = []
        self.refuse: Exception | None = None
        self.shelf: list[Kept] = [
            Kept(
                id="crane", version=1, kind="recipe", title="Harbour crane", body="{}", made="2024-01-01T00:00:00+00:00"
            ),
            Kept(
                id="thirds",
                version=2,
                kind="strip",
                title="Strip by thirds",
                body="{}",
                made="2024-01-01T00:00:00+00:00",
            ),
        ]
        self.records: dict[str, SheetRecord] = {}
        self.cues: list[Heard] = []
        self.kept_settings = Settings()
        self._pairing = FakePairing()
        self._phones = FakePhones()
        self._practice = FakePractice() if practice else None
        self.waiting = 0
        self._paper_shelf: PaperShelf | None = None
        self._scan_drawer: ScanDrawer | None = None

    # ---- for tests

    def show(self, **changes: Any) -> Status:
        """Change the status; its number rises."""
        with self._changed:
            values = {**{k: getattr(self._status, k) for k in Status.model_fields}, **changes}
            values["number"] = self._status.number + 1
            self._status = Status(**values)
            self._changed.notify_all()
            return self._status

    def say_day(self, seconds: float = 900) -> Status:
        """All paper is away."""
        return self.show(day_until_ns=self.now_ns() + int(seconds * 1e9), open=False)

    def sound(self, cue: str, count: int = 0) -> None:
        """Sound a cue."""
        self.cues.append(Heard(number=len(self.cues) + 1, cue=cue, count=count, at_ns=self.now_ns()))

    # ---- the desk

    def status(self) -> Status:
        return self._status

    def wait(self, after: int, timeout_s: float) -> Status:
        with self._changed:
            self.waiting += 1
            self._changed.wait_for(lambda: self._status.number > after, timeout_s)
            self.waiting -= 1
            return self._status

    def heard(self, after: int) -> tuple[Heard, ...]:
        return tuple(cue for cue in self.cues if cue.number > after)[-100:]

    def now_ns(self) -> int:
        return self.clock() if self.clock else self.clock_ns

    def stop(self) -> None:
        self.stops += 1
        self.stopped_at.append(self.now_ns())
        if self._status.stop_possible:
            self.show(lit=None, stop_possible=False)

    def phones(self) -> FakePhones:
        return self._phones

    def do(self, act: Act, number: int) -> Status:
        if self.refuse is not None:
            raise self.refuse
        if number != self._status.number:
            raise WrongMoment("Something has changed since. This is how things stand now.")
        self.acts.append((act, number))
        return self.show()

    def kept(self, kind: Literal["recipe", "strip"]) -> Sequence[Kept]:
        return [kept for kept in self.shelf if kept.kind == kind]

    def fetch(self, source: str, version: int | None = None) -> Kept:
        return next(kept for kept in self.shelf if kept.id == source)

    def versions(self, source: str) -> Sequence[Kept]:
        return [self.fetch(source)]

    def review(self, text: str) -> Plan:
        return PLAN

    def save(self, text: str, source: str | None = None) -> Kept:
        raise NotImplementedError

    def put_away(self, source: str) -> None:
        self.shelf = [kept for kept in self.shelf if kept.id != source]

    def papers(self) -> PaperShelf:
        if self._paper_shelf is None:
            raise NotThere("This desk has no shelf for papers.")
        return self._paper_shelf

    def scans(self) -> ScanDrawer:
        if self._scan_drawer is None:
            raise NotThere("This desk has no drawer for scans.")
        return self._scan_drawer

    def lay_scans(self, drawer: ScanDrawer) -> None:
        """Give the desk a real drawer of scans; the test closes it."""
        self._scan_drawer = drawer

    def contrast(self) -> ContrastDesk:
        return ContrastDesk(self.papers, lambda: 180_000)

    def carrying(self) -> CarryDesk:
        raise NotThere("This desk has no shelf to carry from.")

    def lay_papers(self, shelf: Shelf) -> PaperShelf:
        """Give the desk a real shelf of papers; the test closes it."""
        self._paper_shelf = PaperShelf(lambda: shelf)
        return self._paper_shelf

    def sessions(self, limit: int = 20) -> Sequence[SessionLine]:
        return []

    def record(self, sheet: str) -> SheetRecord:
        if sheet not in self.records:
            raise NotThere("No sheet of that name is in the journal. Choose one from the list of sheets.")
        return self.records[sheet]

    def pick_meaning(self, sheet: str, band: int, between: bool) -> Any:
        raise NotImplementedError

    def settings(self) -> Settings:
        return self.kept_settings

    def change_settings(self, changes: dict[str, object]) -> Settings:
        self.kept_settings = changed(self.kept_settings, changes)
        return self.kept_settings

    def key(self) -> bytes:
        return KEY

    def pairing(self) -> FakePairing:
        return self._pairing

    def health(self) -> Health:
        return Health(ok=self._status.keeper == "ready", keeper=self._status.keeper, practice=self._status.practice)

    def lamp(self) -> FakeLamp:
        if self.bench is None:
            self.bench = FakeLamp()
        return self.bench

    bench: FakeLamp | None = None

    def practice(self) -> FakePractice | None:
        return self._practice
