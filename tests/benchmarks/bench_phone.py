"""Prints how long a tap takes to be durable and a cold start takes offline, at full and at a quarter of the speed."""

import shutil
import sys
import tempfile
import time
from pathlib import Path
from statistics import median, quantiles

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from playwright.sync_api import Page, sync_playwright
from support.live import LiveServer
from support.pages import Phone
from support.team import make_team, rider_link

CHROMIUM = shutil.which("chromium") or "chromium"
N_TAPS, N_STARTS = 40, 5
BARS_MS = {1: (50, 1500), 4: (150, 1500)}
PHONE = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True, "reduced_motion": "reduce"}
TIMED = """() => {
  window.taps = [];
  let down = 0;
  addEventListener("click", () => { down = performance.now(); }, true);
  const figure = document.querySelector(".main-figure b");
  new MutationObserver(() => window.taps.push(performance.now() - down))
    .observe(figure, { characterData: true, subtree: true, childList: true });
}"""
"""The figure ticks only after the strict transaction is complete, so its change is the durable moment plus a paint."""
TAP = """(level) => {
  const band = [...document.querySelectorAll(".bottle-down_tube .band")][level];
  band.click();
}"""
SWAP = "() => [...document.querySelectorAll('.bar-button')].find((b) => b.textContent.startsWith('Swap'))?.click()"


def slow_down(page: Page, factor: int) -> None:
    """Let the page run at a fraction of the speed."""
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": factor})


def taps(page: Page, factor: int) -> list[float]:
    """Return the times [ms] from a tap to its durable entry."""
    slow_down(page, factor)
    page.evaluate(TIMED)
    for n in range(N_TAPS):
        page.evaluate(TAP, n % 4)
        page.wait_for_timeout(1100)
        if n % 4 == 3:
            page.evaluate(TAP, 3)
            page.wait_for_timeout(900)
            page.evaluate(SWAP)
            page.wait_for_timeout(900)
    return [float(ms) for ms in page.evaluate("window.taps")]


def start(launch, base_url: str, factor: int) -> float:
    """Return the time [ms] of one cold start without a server, from the address to the bands."""
    context = launch()
    page = context.pages[0]
    slow_down(page, factor)
    began = time.perf_counter()
    page.goto(f"{base_url}/#/road", wait_until="commit")
    page.locator(".band").first.wait_for(state="visible", timeout=60_000)
    took = 1000 * (time.perf_counter() - began)
    context.close()
    return took


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server = LiveServer(Path(folder) / "data", dist=ROOT / "pwa" / "dist")
        server.start()
        admin = make_team(server)

        def launch():
            return playwright.chromium.launch_persistent_context(
                f"{folder}/profile", executable_path=CHROMIUM, args=["--no-sandbox"], headless=True, **PHONE,
            )

        context = launch()
        Phone(context.pages[0]).join(rider_link(admin, server))
        Phone(context.pages[0]).expect_road()
        for factor, (bar_ms, _) in BARS_MS.items():
            context.pages[0].reload()
            Phone(context.pages[0]).expect_road()
            took = taps(context.pages[0], factor)
            p95 = quantiles(took, n=20)[-1]
            said = f"median {median(took):.0f} ms, p95 {p95:.0f} ms of {bar_ms} ({len(took)} taps)"
            print(f"tap to durable, {factor}x: {said}")
        context.close()
        server.kill()
        for factor, (_, bar_ms) in BARS_MS.items():
            took = [start(launch, server.base_url, factor) for _ in range(N_STARTS)]
            print(f"cold start offline, {factor}x: median {median(took):.0f} ms, worst {max(took):.0f} ms of {bar_ms}")


if __name__ == "__main__":
    main()
