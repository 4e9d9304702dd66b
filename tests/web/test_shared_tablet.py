"""What comes in otherwise than from one's own phone: a shared tablet, a copy as a file."""

from __future__ import annotations

import re
import secrets
from pathlib import Path

from tests.web.browser import TABLET
from tests.web.conftest import NOW, Sent, Served, filled_in
from tests.web.mat import mat, ready

from standfast.desk.access import change_account
from standfast.desk.opening import Moment, open_desk


def test_who_signed_on_a_shared_tablet_confirms_with_her_pin(
    tmp_path: Path, house: Served, server: Sent
) -> None:
    with open_desk(house.folder, Moment(NOW, "test", secrets.token_bytes)) as desk:
        change_account(desk, "hana", pin="4711")
    told = filled_in(house.visitor("office"), "/book/devices", name="Tablet 1").text
    (word,) = re.findall(r'<code class="word">([^<]+)</code>', told)

    with mat(tmp_path / "tablet", house, TABLET) as lesson:
        page = lesson.page
        page.goto(f"{house.address}/mat")
        ready(page)
        page.click("summary")
        page.fill("#token", word)
        page.click("#keep-token")
        lesson.begin(students=2)
        lesson.found.context.clear_cookies()  # nobody is signed in any more
        page.tap("#all-yes")
        page.tap("#stop")
        page.tap("#over")
        page.wait_for_url(re.compile("/mat/review#"))
        ready(page)
        page.fill("#reason", "short lesson")
        page.click("#do-sign")
        page.get_by_text("Signed, to be confirmed with your PIN.").wait_for()
        assert len(server.records) == len(lesson.records())

        page.fill("#pin", "0000")
        page.click("#confirm button")
        page.get_by_text("this is not the PIN").wait_for()
        page.fill("#pin", "4711")
        page.click("#confirm button")
        page.get_by_text("The office has the sheet.").wait_for()
        assert page.is_hidden("#confirm")
    with open_desk(house.folder, Moment(NOW, "test", secrets.token_bytes)) as desk:
        kept = desk.book.find_sheet(lesson.sheet)
    assert kept is not None
    assert kept.sheet.assessor == "hana-dvorakova"


def test_what_save_a_copy_writes_is_what_the_office_hands_in(
    tmp_path: Path, house: Served, server: Sent
) -> None:
    with mat(tmp_path / "phone", house) as lesson:
        page = lesson.page
        lesson.begin(students=2)
        lesson.found.context.set_offline(True)
        page.tap("#all-yes")
        page.tap("#stop")
        page.tap("#over")
        page.wait_for_url(re.compile("/mat/review#"))
        ready(page)
        with page.expect_download() as saved:
            page.click("#copy")
        file = tmp_path / saved.value.suggested_filename
        saved.value.save_as(file)
        kept = {one["id"] for one in lesson.records()}
    assert len(kept) > len(server.records)
    answer = house.visitor("office").post("/book/copies", files={"file": file.read_bytes()})

    assert answer.status_code == 200
    assert server.records.keys() == kept
