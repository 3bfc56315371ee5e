"""A phone that lies about: pages left open, a service renewed meanwhile, a clock that is wrong."""

from collections.abc import Callable

from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from app.main import wall_clock
from app.storage.database import Database
from tests.builders import a_device, a_person, a_signed_revision
from tests.journeys.conftest import Seed
from tests.journeys.readers import sign_in
from tests.journeys.shift_phones import until
from tests.journeys.test_crew_offline import visit

HOUR_MS = 3_600_000
AHEAD = "globalThis.ahead = 0; const now = Date.now; Date.now = () => now() + globalThis.ahead;"
SEEN_AGAIN = "globalThis.ahead += 61000; document.dispatchEvent(new Event('visibilitychange'));"
KNOWS_2 = """async () => {
  const asked = ["/skerry/limits/copy.json", "/skerry/limits?age=3+y"];
  const [copy, page] = await Promise.all(asked.map(async (address) => {
    return (await fetch(address, { cache: "no-store" })).text();
  }));
  return JSON.parse(copy).revision === 2 && page.includes("Revision 2");
}"""
"""The service tells everybody of revision 2."""
LOOKED_AFTER = """async () => {
  await caches.match("/skerry/limits/copy.json", { cacheName: "kept" });
  await new Promise((done) => setTimeout(done, 300));
}"""
"""What the page does once the service has confirmed its copy, and what may come of it."""
Serve = Callable[[Seed], str]
Open = Callable[..., Page]


def seed(tx: Session) -> None:
    a_signed_revision(tx, now=wall_clock())
    a_device(tx)
    a_person(tx, Role.CREW)


def follow(url: str) -> None:
    """The next revision comes into force at the service."""
    database = Database(url)
    with database.writing() as tx:
        a_signed_revision(tx, now=wall_clock())
    database.dispose()


def test_a_page_left_open_shows_the_next_revision_when_it_is_looked_at_again(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(seed)
    page = visit(open_page(width=360), address)
    page.add_init_script(AHEAD)
    page.goto(f"{address}/skerry/limits?age=3+y")
    expect(page.locator(".signed")).to_contain_text("Revision 1")
    expect(page.locator(".kept-copy")).to_contain_text("confirmed at")
    follow(sqlite_url)
    until(page, KNOWS_2)  # another process has done it: known within a second

    page.evaluate(SEEN_AGAIN)

    expect(page.locator(".signed")).to_contain_text("Revision 2")


def test_a_page_left_open_without_signal_says_so_when_it_is_looked_at_again(
    serve: Serve, open_page: Open
) -> None:
    address = serve(seed)
    page = visit(open_page(width=360, failures=True), address)
    page.add_init_script(AHEAD)
    page.goto(f"{address}/skerry/limits?age=3+y")
    expect(page.locator(".kept-copy")).to_contain_text("confirmed at")
    page.context.set_offline(True)

    page.evaluate(SEEN_AGAIN)

    expect(page.locator(".copy-age")).to_contain_text("Without signal")
    expect(page.get_by_role("heading", level=1)).to_contain_text("3 years")

    # And back to what the service says, once there is signal.
    page.context.set_offline(False)
    page.evaluate(SEEN_AGAIN)
    expect(page.locator(".copy-age")).to_have_count(0)
    expect(page.get_by_role("heading", level=1)).to_contain_text("3 years")


def test_a_page_that_still_holds_is_left_as_it_is(serve: Serve, open_page: Open) -> None:
    address = serve(seed)
    page = visit(open_page(width=360), address)
    page.add_init_script(AHEAD)
    page.goto(f"{address}/skerry/limits?age=3+y")
    expect(page.locator(".kept-copy")).to_contain_text("confirmed at")
    page.get_by_text("All other alarms").click()

    page.locator(".kept-copy").evaluate("one => { one.textContent = ''; }")
    page.evaluate(SEEN_AGAIN)
    expect(page.locator(".kept-copy")).to_contain_text("confirmed at")
    page.evaluate(LOOKED_AFTER)

    expect(page.get_by_role("region", name="Temperature")).to_be_visible()


def test_a_page_kept_from_before_the_service_was_renewed_still_opens(
    serve: Serve, open_page: Open
) -> None:
    address = serve(seed)
    page = visit(open_page(width=360, failures=True), address)
    kept_as(page, "text.replaceAll('?v=', '?v=before')")
    page.context.set_offline(True)

    page.goto(f"{address}/skerry/limits?age=3+y")

    expect(page.locator(".signs").first).to_be_visible()
    assert page.locator(".big, .line").first.evaluate("one => getComputedStyle(one).fontWeight")


def test_the_page_that_shows_the_copy_is_renewed_though_the_copy_is_the_same(
    serve: Serve, open_page: Open
) -> None:
    address = serve(seed)
    page = visit(open_page(width=360), address)
    kept_as(page, "'an earlier edition'")

    page.goto(f"{address}/skerry/limits")

    until(
        page,
        """async () => {
          const found = await caches.match("/skerry/limits/kept", { cacheName: "kept" });
          return (await found.text()).includes('id="kept"');
        }""",
    )


def kept_as(page: Page, text: str) -> None:
    """What a phone may have from an earlier edition of the service."""
    page.evaluate(
        f"""async () => {{
          const store = await caches.open("kept");
          const text = await (await store.match("/skerry/limits/kept")).text();
          const headers = {{ "content-type": "text/html", etag: '"earlier"' }};
          await store.put("/skerry/limits/kept", new Response({text}, {{ headers }}));
        }}"""
    )


def test_a_slow_clock_of_the_phone_does_not_make_a_followed_revision_current(
    serve: Serve, open_page: Open
) -> None:
    address = serve(seed)
    page = open_page(width=360, failures=True)
    page.add_init_script(f"const now = Date.now; Date.now = () => now() - {5 * HOUR_MS};")
    visit(page, address)
    page.evaluate(
        f"""async () => {{
          const store = await caches.open("kept");
          const kept = await store.match("/skerry/limits/copy.json");
          const copy = await kept.json();
          copy.ends_at = new Date(Date.now() + {5 * HOUR_MS} - 60000).toISOString();
          await store.put("/skerry/limits/copy.json",
            new Response(JSON.stringify(copy), {{ headers: kept.headers }}));
        }}"""
    )
    page.context.set_offline(True)

    page.goto(f"{address}/skerry/limits?age=2+y")

    expect(page.locator("#kept .notice.grave")).to_contain_text("no longer current")


def test_nobody_who_was_signed_in_is_kept_with_the_label_of_a_device(
    serve: Serve, open_page: Open
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    visit(page, address)
    page.goto(f"{address}/skerry/d/boat-3")
    expect(page.get_by_role("link", name="Cruz")).to_be_visible()

    page.context.set_offline(True)
    page.reload()

    expect(page.locator("body")).to_contain_text("this is what was known of the device on")
    assert "cruz" not in page.content().lower()


def test_the_label_of_a_device_is_a_first_visit_and_two_taps_from_the_limits(
    serve: Serve, open_page: Open
) -> None:
    address = serve(seed)
    page = open_page(width=360, failures=True)
    page.goto(f"{address}/skerry/d/boat-3")
    page.wait_for_selector("html[data-kept=yes][data-check=kept]")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    page.reload()
    page.context.set_offline(True)
    page.reload()

    page.get_by_label("Age", exact=True).fill("7")
    page.get_by_role("button", name="months").click()

    expect(page.get_by_role("heading", level=1)).to_contain_text("7 months")


def test_the_theme_chosen_without_signal_stays(serve: Serve, open_page: Open) -> None:
    address = serve(seed)
    page = visit(open_page(width=360, failures=True), address)
    page.context.set_offline(True)
    page.goto(f"{address}/skerry/limits?age=2+y")

    page.get_by_role("button", name="night").click()
    page.goto(f"{address}/skerry/limits?age=3+y")

    expect(page.locator("html")).to_have_attribute("data-theme", "night")
    expect(page.get_by_role("button", name="night")).to_have_attribute("aria-pressed", "true")
