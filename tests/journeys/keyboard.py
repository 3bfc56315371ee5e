"""A person without a mouse: Tab, Enter, Space, arrows and what is typed."""

from datetime import date

from playwright.sync_api import Locator, Page, expect

FAR = 120  # stops; whoever has to press Tab more often has lost the way
RING = """() => {
  const at = document.activeElement, seen = getComputedStyle(at), box = at.getBoundingClientRect();
  const ring = seen.outlineStyle !== "none" && parseFloat(seen.outlineWidth) >= 2;
  const reach = at.matches(".grip") && at.querySelector(".reach");
  const drawn = reach && getComputedStyle(reach).stroke !== "none";
  return (ring || drawn) && box.bottom > 0 && box.top < innerHeight;
}"""


class Keyboard:
    """`to` walks by Tab until the one control has the focus, and expects it in sight, ringed."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def type(self, text: str) -> None:
        self.page.keyboard.type(text)

    def to(self, wanted: Locator, *, most: int = FAR) -> None:
        self.page.wait_for_load_state()
        for _ in range(most):
            if self._at(wanted):
                break
            self.press("Tab")
        assert self._at(wanted), f"Not reached within {most} stops: {wanted}"
        assert self.page.evaluate(RING), f"Nobody sees that this has the focus: {wanted}"

    def _at(self, wanted: Locator) -> bool:
        held: bool = wanted.evaluate("one => one === document.activeElement")
        return held

    def follow(self, name: str, *, exact: bool = False) -> None:
        self.to(self.page.get_by_role("link", name=name, exact=exact))
        self.press("Enter")

    def push(self, name: str, *, exact: bool = False) -> None:
        """Waits for the next page, if the button leads to one, as the next step looks for it."""
        self.to(self.page.get_by_role("button", name=name, exact=exact))
        self.press("Enter")

    def write(self, label: str, text: str, within: str = "body") -> None:
        """In place of what stood there."""
        self.to(self.page.locator(within).get_by_label(label, exact=True))
        self.press("Control+a")
        self.type(text)

    def choose(self, label: str, option: str) -> None:
        """Typing the first letters of an option chooses it, as browsers have it; one that was busy
        for a second in the middle takes the rest for a new word."""
        box = self.page.get_by_label(label, exact=True)
        self.to(box)
        for _ in range(5):
            self.type(option)
            chosen = box.evaluate("box => box.selectedOptions[0].text")
            if chosen.startswith(option):
                break
            self.page.wait_for_timeout(1_500)  # the next letter begins a word
        assert chosen.startswith(option), chosen

    def day(self, label: str, day: date) -> None:
        """The field has its parts in the order of the browser's tongue."""
        field = self.page.get_by_label(label, exact=True)
        self.to(field)
        self.type(f"{day:%m%d%Y}")
        expect(field).to_have_value(day.isoformat())
