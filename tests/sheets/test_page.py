"""The printed page: everything that a step has is on it, nothing of it is markup, pictures are inside."""

from __future__ import annotations

import base64
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from sheets_command import check

from bench_voice.sheets import load_sheet, load_text
from bench_voice.sheets.page import MAX_PICTURE_BYTES, page

_TAGS = "html head meta title style body h1 h2 p pre section span strong ul li img div table thead tbody tr th td"
TAGS = set(_TAGS.split())
HERE = Path(__file__).parent
DEMO = HERE.parents[1] / "demo"
PUMP = (HERE / "good" / "pump.yaml").read_text(encoding="utf-8")
# The eight bytes of a PNG's signature (PNG specification, 5.2); what follows does not matter here.
PNG = b"\x89PNG\r\n\x1a\n" + b"picture"


class Texts(HTMLParser):
    """Text and tags, as a browser's parser sees them."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.tags: list[str] = []
        self.feed(html)

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            assert name in {"charset", "class", "content", "lang", "name", "alt", "src"}
            assert name != "src" or str(value).startswith("data:image/")

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.texts).split())


@pytest.mark.parametrize("path", [*sorted((HERE / "good").glob("*.yaml")), *sorted(DEMO.glob("*.yaml"))], ids=str)
def test_all_of_a_step_is_on_the_page(path: Path) -> None:
    sheet = load_sheet(path)
    text = Texts(page(sheet)).text
    for step in sheet.steps:
        names = [sheet.readings[r].name for r in step.readings] + [sheet.items[i].name for i in step.closes]
        cautions = [part for c in step.cautions for part in (c.hazard, c.consequence, c.avoid)]
        hold = [step.hold.phrase] if step.hold else []
        for wanted in (step.say, step.detail, step.licensed, step.follow_up, *names, *cautions, *hold):
            assert " ".join(wanted.split()) in text, wanted


def test_a_torque_stands_with_its_order_and_thread() -> None:
    text = Texts(page(load_sheet(HERE / "good" / "piston-pump.yaml"))).text
    assert (
        "Stage 2 of 3: 80 N·m (59.0 lbf·ft on the torque wrench). Thread: M twelve, clean and oiled. Source: invented"
    ) in text
    assert "In this order: one → four → two → five → three" in text
    assert "Stage 2 of 2: a further 90°" in text
    assert "by the marking: for 8.8 between 20 and 28 N·m" in text


def test_limits_of_differences_stand_with_their_reading() -> None:
    text = Texts(page(load_sheet(DEMO / "trailer-hub-brake.yaml"))).text
    assert text.count("; points differ by at most 0.3 mm") == 2, "one for each drum"
    assert text.count("; sides differ by at most 0.2 bar") == 2, "one for each tyre"
    assert text.count("differ by at most") == 4
    both = PUMP.replace("pair within: 0.1", "pair within: 0.1, points: 2, spread: 0.05")
    assert (
        "right gap, 2 points: between 0.20 and 0.40 mm, new 0.30 mm, with the feeler gauge (invented); points differ "
        "by at most 0.05 mm; sides differ by at most 0.1 mm"
    ) in Texts(page(load_text(both, "pump.yaml"))).text


def test_texts_are_no_markup() -> None:
    sheet = load_text(PUMP.replace("source: Invented for the tests.", "source: 'Book \"A\" & B'"), "pump.yaml")
    found = Texts(page(sheet))
    assert 'Book "A" & B' in found.text
    assert set(found.tags) <= TAGS


def test_pictures_are_put_into_the_page(tmp_path: Path) -> None:
    (tmp_path / "ring.png").write_bytes(PNG)
    (tmp_path / "odd.png").write_bytes(b"<svg onload=x>")
    with (tmp_path / "huge.png").open("wb") as file:
        file.write(PNG)
        file.truncate(MAX_PICTURE_BYTES + 1)
    for name, is_inside in (("ring.png", True), ("odd.png", False), ("huge.png", False)):
        path = tmp_path / "pump.yaml"
        path.write_text(PUMP.replace("    minutes: 5", f"    picture: {name}"), encoding="utf-8")
        html = page(load_sheet(path), tmp_path)
        assert (base64.b64encode(PNG).decode() in html) is is_inside
        assert (f"Picture: {name}" in html) is not is_inside


def test_the_command_writes_it(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    sheets = [str(path) for path in sorted((HERE / "good").glob("*.yaml"))]
    assert check(sheets[0], "--page", str(out)).returncode == 0
    text = out.read_text(encoding="utf-8")
    assert len(re.findall("<section>", text)) == len(load_sheet(Path(sheets[0])).steps)
    out.unlink()
    done = check(sheets[0], "--json", "--page", str(out))
    assert (done.returncode, json.loads(done.stdout)) == (0, {"sheet": sheets[0], "faults": []})
    assert out.read_text(encoding="utf-8") == text
    out.unlink()
    assert check(str(HERE / "bad" / "tab.yaml"), "--json", "--page", str(out)).returncode == 1
    assert not out.exists(), "a sheet with a fault has no page"
    for arguments, slug in (
        ((sheets[0], "--page", str(tmp_path / "none" / "x.html")), "[check-page-unwritable]"),
        ((*sheets[:2], "--page", str(out)), "[check-one-page]"),
    ):
        done = check(*arguments)
        assert done.returncode == 2
        assert slug in done.stderr
