"""Page models: what a person reads and taps, by the words on the screen."""

from playwright.sync_api import Locator, Page, expect

SYNC_LIMIT_MS = 45_000
CONTROLLED = """new Promise((resolve) => {
  if (navigator.serviceWorker.controller) resolve(1);
  else navigator.serviceWorker.addEventListener("controllerchange", () => resolve(1));
})"""
"""The page's policy forbids eval, so nothing here may poll with a string of code."""
PASTE = """(text) => {
  const data = new DataTransfer();
  data.setData("text/plain", text);
  const options = {clipboardData: data, bubbles: true, cancelable: true};
  document.activeElement.dispatchEvent(new ClipboardEvent("paste", options));
}"""
TURN = """(state) => {
  Object.defineProperty(document, "visibilityState", {value: state, configurable: true});
  document.dispatchEvent(new Event("visibilitychange"));
}"""
"""Leave the app for the list of open ones, or come back."""


class Phone:
    """A rider's phone, on the road."""

    def __init__(self, page: Page):
        self.page = page

    def join(self, link: str) -> None:
        """Open an invitation and take it."""
        self.page.goto(link)
        self.page.get_by_role("button", name="Join").click()
        self.page.wait_for_url(lambda url: "#/join/" not in url)
        self.page.evaluate(CONTROLLED)

    def reload(self) -> None:
        """Load the page again, whatever the network."""
        self.page.reload()
        self.expect_road()

    def expect_road(self) -> None:
        """The two bottles stand ready."""
        expect(self.page.get_by_role("button", name="Down tube: drunk down to ½")).to_be_visible(timeout=SYNC_LIMIT_MS)

    def drink_down_to(self, level: str, *, cage: str = "Down tube") -> None:
        """Tap where the liquid now stands."""
        self.page.get_by_role("button", name=f"{cage}: drunk down to {level}").click(delay=90)

    def expect_held(self, n: int) -> None:
        """The phone says how many facts wait on it."""
        expect(self.page.get_by_text(f"{n} held on this phone")).to_be_visible(timeout=SYNC_LIMIT_MS)

    def expect_linked(self) -> None:
        """The server has confirmed everything."""
        linked(self.page)

    def noted_l(self) -> float:
        """Read the main figure: what this stage holds already."""
        return float(self.page.locator(".main-figure b").inner_text())

    def expect_noted_litres(self, litres: str) -> None:
        """The main figure reads so."""
        expect(self.page.locator(".main-figure b")).to_have_text(litres)


def sign_in(page: Page, link: str) -> None:
    """Take an invitation in any browser."""
    page.goto(link)
    page.get_by_role("button", name="Join").click()
    page.wait_for_url(lambda url: "#/join/" not in url)
    linked(page)


def linked(page: Page) -> None:
    """The server has confirmed everything."""
    expect(page.get_by_text("Linked", exact=True)).to_be_visible(timeout=SYNC_LIMIT_MS)


def paste(page: Page, text: str) -> None:
    """Paste where the cursor stands, as from a spreadsheet."""
    page.evaluate(PASTE, text)


def cell(page: Page, rider_id: str, column: str) -> Locator:
    """One figure of the evening table."""
    return page.locator(f"#cell-{rider_id}-{column}")


def give_a_reason_where_asked(page: Page, rider_id: str, typed: str, reason: str = "Missed bottle") -> None:
    """Far from the proposed figure a reason is asked for; either the question or the settled state comes."""
    why = page.get_by_role("group", name=f"Why {typed}")
    settled = cell(page, rider_id, "state").filter(has_text="settled by")
    expect(why.or_(settled).first).to_be_visible(timeout=SYNC_LIMIT_MS)
    if why.count():
        page.get_by_text(reason, exact=True).click()
        page.get_by_role("button", name=f"Agree on {typed} L").click()
