"""Scans of a grey card and a print, and a phone that brings and marks them."""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import Any

import numpy as np
from PIL import Image

from tools.hidden_papers import TABLET, paper_one
from tools.shelf_phone import ORIGIN, Page, Pairs, Phone
from tools.stand_in_desk import StandInDesk
from webui.app import create_app
from webui.forms.form import Typed
from webui.forms.paper_table import read_table_form

SCALE = np.round(0.05 + 0.1 * np.arange(20), 2)
"""A grey card of 20 patches of 0.10 from 0.05 (common practice)."""


PATCH = 40


LEFT, PRINT_TOP, SCALE_TOP, TALL = 60, 40, 150, 60


WIDTH, HEIGHT = LEFT + 21 * PATCH + 60, 260


CORNERS = {
    "scale-first": f"{LEFT} {SCALE_TOP}",
    "scale-last": f"{LEFT + 20 * PATCH} {SCALE_TOP + TALL}",
    "print-first": f"{LEFT} {PRINT_TOP}",
    "print-last": f"{LEFT + 21 * PATCH} {PRINT_TOP + TALL}",
}


def level(density: np.ndarray) -> np.ndarray:
    """What a scanner makes of a density: sRGB (IEC 61966-2-1)."""
    light = 10.0 ** -np.asarray(density)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def scanned(
    light: tuple[float, float] = (80.0, 0.0),
    *,
    form: str = "PNG",
    deep: bool = False,
    labels: Iterable[int] = (),
) -> bytes:
    """The demo paper's print of the tablet above a grey card, on light grey; labels lie on the steps told."""
    page = np.full((HEIGHT, WIDTH), level(np.array(0.15)))
    for top, densities in ((PRINT_TOP, paper_one().densities(*light, TABLET)), (SCALE_TOP, SCALE)):
        for n, density in enumerate(densities):
            page[top : top + TALL, LEFT + n * PATCH : LEFT + (n + 1) * PATCH] = level(density)
    for step in labels:
        covered = slice(LEFT + (step - 1) * PATCH + 3, LEFT + step * PATCH - 3)
        page[PRINT_TOP - 2 : PRINT_TOP + TALL + 2, covered] = 0.97
        page[PRINT_TOP + 4 : PRINT_TOP + TALL - 4, covered][:, ::6] = 0.1
    most = 65535 if deep else 255
    noisy = page * most + np.random.default_rng(5).normal(0.0, most / 255, page.shape)
    picture = Image.fromarray(np.clip(noisy, 0, most).round().astype(np.uint16 if deep else np.uint8))
    file = io.BytesIO()
    picture.save(file, form, **({"quality": 95} if form == "JPEG" else {}))
    return file.getvalue()


class ScanPhone(Phone):
    """A paired phone at an app with this blueprint and the table's."""

    def __init__(self, desk: StandInDesk) -> None:
        self.desk = desk
        self.client = create_app(desk, hosts=["localhost"]).test_client()
        code = desk.pairing().new_code()
        assert self.client.post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303

    def bring(self, content: bytes, name: str = "scan.png", status: int = 200, page: Page | None = None) -> Page:
        return bring(self.client, content, name, status, page)

    def press_here(self, page: Page, do: str, status: int = 200, **typed: Any) -> Page:
        answer = self.client.post("/papers/scan", data=of_form(page, do=do, **typed), headers={"Origin": ORIGIN})
        assert answer.status_code == status, Page(answer.text).told() or Page(answer.text).words
        return Page(answer.text)


def bring(client: Any, content: bytes, name: str = "scan.png", status: int = 200, page: Page | None = None) -> Page:
    page = page or Page(client.get("/papers/scan").text)
    fields = dict(page.fields) | {"do": "bring", "file": (io.BytesIO(content), name)}
    answer = client.post("/papers/scan", data=fields, headers={"Origin": ORIGIN})
    assert answer.status_code == status, Page(answer.text).told() or Page(answer.text).words
    return Page(answer.text)


def of_form(page: Page, first: bool = True, **typed: Any) -> dict[str, Any]:
    """The page's fields (of its first form, where a name stands in several), some typed over; ticks are a list."""
    wanted: Pairs = [pair for pair in page.fields if pair[0] not in ("", "file", "day", "dark", "left-out")]
    found: dict[str, Any] = dict(reversed(wanted)) if first else dict(wanted)
    ticked = list(dict.fromkeys(value for name, value in page.fields if name == "left-out"))
    return found | {"left-out": ticked} | {name.replace("_", "-"): value for name, value in typed.items()}


def handed_on(phone: ScanPhone, page: Page) -> Page:
    """Press “to the table”."""
    answer = phone.client.post("/papers/new", data=of_form(page), headers={"Origin": ORIGIN})
    assert answer.status_code == 200, answer.text
    return Page(answer.text)


def read_off(page: Page, column: int) -> dict[int, float]:
    form = read_table_form(Typed(page.fields))
    return {step: float(text) for step, text in form.columns[column].cells if text}


def in_reach() -> dict[int, float]:
    """The true densities of the steps that lie within the grey card's reach."""
    true = paper_one().densities(80.0, 0.0, TABLET)
    return {step: float(each) for step, each in enumerate(true, 1) if each <= SCALE[-1]}


OWN_LIST = [f"{density:.2f}" for density in TABLET]


def own_list(left_out: Iterable[int]) -> str:
    return " ".join("–" if step in left_out else text for step, text in enumerate(OWN_LIST, 1))
