"""A person without a mouse: Tab, Enter, Space, arrows and what is typed."""

from datetime import date

from playwright.sync_api import ElementHandle, Locator, Page

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
        control = wanted.element_handle()
        for _ in range(most):
            if self._at(control):
                break
            self.press("Tab")
        assert self._at(control), f"Not reached within {most} stops: {wanted}"
        assert self.page.evaluate(RING), f"Nobody sees that this has the focus: {wanted}"

    def _at(self, control: ElementHandle) -> bool:
        held: bool = control.evaluate("one => one === document.activeElement")
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
        """Typing the first letters of an option chooses it, as browsers have it."""
        box = self.page.get_by_label(label, exact=True)
        self.to(box)
        self.type(option)
        chosen = box.evaluate("box => box.selectedOptions[0].text")
        assert chosen.startswith(option), chosen

    def day(self, label: str, day: date) -> None:
        """The field has its parts in the order of the browser's tongue."""
        field = self.page.get_by_label(label, exact=True)
        self.to(field)
        self.type(f"{day:%m%d%Y}")
        assert field.input_value() == day.isoformat()
