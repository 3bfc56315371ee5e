"""A new revision is said to be seen where there is no signal: kept, sent once, told."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session, select

from app.main import wall_clock
from app.storage.acknowledgements import AcknowledgementRow
from app.storage.database import Database
from tests.builders import a_document, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in
from tests.journeys.shift_phones import check, kept, seed

API = "**/api/v1/skerry/revisions/2/acknowledgements"
Serve = Callable[[Seed], str]
Open = Callable[..., Page]


def with_news(tx: Session) -> None:
    seed(tx)
    after = a_document()
    after["settings"]["adult"]["spo2-low"]["limit"] = 92
    a_signed_revision(tx, document=after, now=wall_clock())


def stations(url: str) -> list[str]:
    """Whoever said it to the service, by the station named."""
    database = Database(url)
    with database.reading() as tx:
        found = [row.station for row in tx.exec(select(AcknowledgementRow))]
    database.dispose()
    return found


def say(page: Page) -> None:
    page.get_by_label("The station at which you work now").fill("North")
    page.get_by_role("button", name="I have seen what changes").click()


@pytest.mark.parametrize(("width", "theme"), [(360, "day"), (320, "night")])
def test_without_signal_it_is_kept_and_sent_once_later(
    serve: Serve, open_page: Open, sqlite_url: str, width: int, theme: str
) -> None:
    address = serve(with_news)
    page = sign_in(open_page(width=width, theme=theme, failures=True), address, "cruz")
    page.goto(f"{address}/skerry/news/2")
    page.wait_for_function("() => globalThis.MarchstoneQueue")
    page.context.set_offline(True)

    say(page)

    expect(page.locator("main > .notice")).to_contain_text("Kept on this phone")
    expect(page.locator("#queue")).to_contain_text("1 acknowledgement is kept on this phone")
    assert stations(sqlite_url) == []
    assert axe(page) == []
    assert not overflows(page)

    page.context.set_offline(False)

    expect(page.locator("#queue")).to_contain_text("Revision 2 seen, at North")
    expect(page.locator("#queue")).to_contain_text("sent; it counts as seen.")
    assert stations(sqlite_url) == ["North"]
    page.get_by_role("button", name="Done").click()
    expect(page.locator("#queue")).to_be_empty()
    page.reload()
    expect(page.locator("main")).to_contain_text("You said on")


def test_an_answer_that_is_lost_doubles_nothing(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(with_news)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    page.goto(f"{address}/skerry/news/2")
    page.wait_for_function("() => globalThis.MarchstoneQueue")

    def cut(route: object) -> None:
        route.fetch()  # type: ignore[attr-defined]
        route.abort()  # type: ignore[attr-defined]

    page.route(API, cut)
    say(page)
    expect(page.locator("main > .notice")).to_contain_text("Kept on this phone")
    assert stations(sqlite_url) == ["North"]

    page.unroute(API)
    page.get_by_role("button", name="Send now").click()

    expect(page.locator("#queue")).to_contain_text("sent; it counts as seen.")
    assert stations(sqlite_url) == ["North"]


def test_it_goes_out_in_the_order_in_which_it_was_locked(serve: Serve, open_page: Open) -> None:
    address = serve(with_news)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    sent: list[str] = []
    page.route("**/api/v1/skerry/**", lambda route: route.abort())
    page.goto(f"{address}/skerry/news/2")
    page.wait_for_function("() => globalThis.MarchstoneQueue")
    say(page)
    expect(page.locator("#queue")).to_contain_text("1 acknowledgement is kept")
    check(page, address)
    expect(page.locator("#queue")).to_contain_text("2 messages are kept on this phone")
    assert kept(page) == [(1, "waiting"), (2, "waiting")]

    page.on("request", lambda one: sent.append(one.url) if one.method == "POST" else None)
    page.unroute("**/api/v1/skerry/**")
    page.get_by_role("button", name="Send now").click()

    expect(page.locator("#queue")).to_contain_text("sent; it counts as seen.")
    expect(page.locator("#queue")).not_to_contain_text("kept on this phone")
    assert [url.rsplit("/", 1)[1] for url in sent] == ["acknowledgements", "checks"]


def test_with_signal_it_is_told_at_once_and_nothing_is_left(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(with_news)
    page = sign_in(open_page(width=360), address, "cruz")
    page.goto(f"{address}/skerry/news/2")
    page.wait_for_function("() => globalThis.MarchstoneQueue")

    say(page)

    expect(page.locator("main")).to_contain_text("You said on")
    expect(page.locator("#queue")).to_be_empty()
    assert stations(sqlite_url) == ["North"]
