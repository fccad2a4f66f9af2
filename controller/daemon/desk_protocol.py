"""The controller's public face: everything a page may look at or ask for, safe from any thread."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal, Protocol

if TYPE_CHECKING:
    from controller.carry.desk import CarryDesk
    from controller.contrast.split_grade import ContrastDesk
    from controller.daemon.face import Health
    from controller.daemon.pairing import Invitation
    from controller.daemon.papers import PaperShelf
    from controller.daemon.phones import Phone
    from controller.daemon.scans import ScanDrawer
    from controller.foot.acts import Act
    from controller.foot.status import Heard, Status
    from controller.lamp.history import LampView
    from controller.practice.prints import PracticePrints
    from controller.practice.view import PracticeView
    from controller.recipe.pick import PickMeaning
    from controller.recipe.plan import Plan
    from controller.store.records import SheetRecord
    from controller.store.sessions import SessionLine
    from controller.store.settings import Settings
    from controller.store.versions import Kept


class Desk(Protocol):
    """What the web room knows of the controller.

    Errors are `controller.errors` (their `str()` is the sentence to show): WrongMoment → 409,
    Unreadable and Impossible → 422, NotThere → 404, StoreTrouble → 503; `hardware.errors.KeeperAway` is
    turned into WrongMoment's sibling `controller.errors.KeeperGone` → 503.
    """

    # ---- looking

    def status(self) -> Status:
        """Return the present snapshot."""

    def wait(self, after: int, timeout_s: float) -> Status:
        """Return the present snapshot as soon as its number is above `after`, or at the timeout."""

    def heard(self, after: int) -> tuple[Heard, ...]:
        """Return the cues sounded since cue number `after`, at most the last hundred."""

    def now_ns(self) -> int:
        """Return the daemon's monotonic now, to turn a status's times into spans."""

    # ---- acting

    def stop(self) -> None:
        """Dark now: straight to the keeper, past every queue; never refuses, does nothing where nothing is lit."""

    def do(self, act: Act, number: int) -> Status:
        """Carry out one act that was decided on snapshot `number`; return the snapshot after it."""

    # ---- recipes and strips on the shelf

    def kept(self, kind: Literal["recipe", "strip"]) -> Sequence[Kept]:
        """Return the latest version of each that is not put away, last used first."""

    def fetch(self, source: str, version: int | None = None) -> Kept:
        """Return one version of a recipe or strip."""

    def versions(self, source: str) -> Sequence[Kept]:
        """Return every version, newest first."""

    def review(self, text: str) -> Plan:
        """Return the steps a recipe's or strip's text would give, without keeping it."""

    def save(self, text: str, source: str | None = None) -> Kept:
        """Keep a recipe or strip as a new version of `source`, or as a new one."""

    def put_away(self, source: str) -> None:
        """Take it off the list; its versions and sheets stay."""

    def papers(self) -> PaperShelf:
        """Return the papers on the shelf."""

    def scans(self) -> ScanDrawer:
        """Return the scans that are being read."""

    def contrast(self) -> ContrastDesk:
        """Return who finds two lights for two tones on a kept paper."""

    def carrying(self) -> CarryDesk:
        """Return who carries a recipe over to another size, aperture, paper, dry-down or flash."""

    # ---- records

    def sessions(self, limit: int = 20) -> Sequence[SessionLine]:
        """Return the sessions, newest first, each with its sheets' short lines."""

    def record(self, sheet: str) -> SheetRecord:
        """Return a sheet's record."""

    def pick_meaning(self, sheet: str, band: int, between: bool) -> PickMeaning:
        """Return what a pick from a strip's sheet would mean, or why it is not offered."""

    # ---- settings, pairing, health

    def settings(self) -> Settings:
        """Return the settings in force."""

    def change_settings(self, changes: dict[str, object]) -> Settings:
        """Keep changed settings; those of the keeper count once no sheet is open."""

    def key(self) -> bytes:
        """Return the 32 bytes that sign cookies; they outlive restarts."""

    def pairing(self) -> PairingDesk:
        """Return the keeper of pairing codes."""

    def phones(self) -> PhonesDesk:
        """Return the list of paired phones."""

    def health(self) -> Health:
        """Return what an unpaired device may know."""

    def lamp(self) -> LampDesk:
        """Return the lamp's bench: its lag, its checks, its warming up."""

    def practice(self) -> PracticeDesk | None:
        """Return the practice darkroom's switches, or None with real lines."""


class LampDesk(Protocol):
    """What can be asked of the lamp itself. Loading raises WrongMoment or Impossible, taking a lag Impossible."""

    def view(self) -> LampView:
        """Return everything the lamp's page shows."""

    def begin_paper_test(self, number: int, **figures: int) -> Status:
        """Load a paper test decided on snapshot `number`; `figures` as in `controller.lamp.check_plans.paper_test`."""

    def begin_sensor_run(self, number: int) -> Status:
        """Load lights of different length for the sensor."""

    def begin_reference(self, number: int) -> Status:
        """Load the light of a lamp check."""

    def begin_warm_up(self, number: int) -> Status:
        """Load the light that warms the lamp."""

    def take_paper(self, band: int, *, between: bool = False) -> float:
        """Take the lag of the band of the last paper test that matches band 1, or of the place after it; ms."""

    def take_found(self) -> float:
        """Take the lag that the sensor found; ms."""

    def take_typed(self, lag_s: float) -> float:
        """Take a lag that was found elsewhere, in seconds; return it in ms."""

    def new_bulb(self) -> None:
        """Let the last lamp check be the reference from here on."""


class PairingDesk(Protocol):
    """A code of 8 digits and a secret for a picture, 10 minutes, one use of the two; tries of a code are counted."""

    def invite(self) -> Invitation:
        """Make a code and a secret; those before them are void."""

    def try_code(self, code: str, address: str) -> bool:
        """Tell whether the code fits, and use it up. Raises WrongMoment when too many tries."""

    def try_secret(self, secret: str) -> bool:
        """Tell whether the secret fits, and use it up."""


class PhonesDesk(Protocol):
    """The paired phones; one that was put out counts no longer."""

    def is_out(self, mark: str) -> bool:
        """Tell whether a phone was put out; waits for nothing."""

    def add(self) -> Phone:
        """Put a phone that is just being paired on the list, under a mark and a name of its own."""

    def seen(self, mark: str) -> None:
        """Note that a phone was seen today."""

    def listed(self) -> Sequence[Phone]:
        """Return the phones, last seen first."""

    def put_out(self, name: str) -> None:
        """Let a phone's cookie count no longer. Raises NotThere, Impossible, or StoreTrouble (out, but not kept)."""


class PracticeDesk(Protocol):
    """The simulated darkroom's own switches, for the practice page."""

    def contact(self, closed: bool) -> None:
        """Close or open the foot contact."""

    def put_filter(self, name: str) -> None:
        """Put a filter into the drawer of the simulated lamphouse."""

    def lid(self, open_: bool) -> None:
        """Open or shut the paper box."""

    def prints(self) -> PracticePrints | None:
        """Return the tray, where this darkroom has one."""

    def faults(self) -> tuple[tuple[str, bool], ...]:
        """Return every fault switch by its name, and whether it is on."""

    def fault(self, name: str, on: bool) -> None:
        """Switch a fault on or off. Raises ValueError where there is none of that name."""

    def paper(self, out: bool) -> None:
        """Lay a sheet of paper on the easel, or take it away."""

    def negative(self, inside: bool) -> None:
        """Put the negative carrier in, or take it out."""

    def opal(self, inside: bool) -> None:
        """Put the opal glass under the lens, or take it out."""

    def card(self, way: str, place: int) -> None:
        """Move a strip's card over so many bands; -1 takes it off."""

    def tool(self, area: str, act: str, inside: bool) -> None:
        """Take the tool for an area into the light or out of it."""

    def phone_lies_lit(self, on: bool) -> None:
        """Lay a phone beside the easel, its screen lit, or put it away."""

    def view(self) -> PracticeView:
        """Return what can be seen in the simulated darkroom."""
