"""
Prints how long a tap takes to be durable and a cold start takes offline, at full and at a quarter of the speed.

``python tests/benchmarks/bench_phone.py`` on a quiet machine; with an empty book, and with one of 5,000 facts. Beside
the times stands the page's own processor time per cold start, which a busy machine distorts less.
"""

import shutil
import sys
import tempfile
from pathlib import Path
from statistics import median, quantiles

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from playwright.sync_api import Page, sync_playwright
from support.live import LiveServer
from support.pages import Phone
from support.team import make_team, rider_link

CHROMIUM = shutil.which("chromium") or "chromium"
N_TAPS, N_STARTS, BOOK = 40, 7, 5000
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


SEEN = """(() => {
  const look = () => {
    if (document.querySelector(".band") === null) requestAnimationFrame(look);
    else requestAnimationFrame(() => setTimeout(() => { window.bandsMs = performance.now(); }));
  };
  requestAnimationFrame(look);
})();"""
"""From the navigation's start to the frame after the bands stand; the page keeps the time, so nobody disturbs it."""
FILL = """async (n) => {
  const told = (asked) => new Promise((ok, no) => { asked.onsuccess = () => ok(asked.result); asked.onerror = no; });
  const db = await told(indexedDB.open("brinebook"));
  const who = await told(db.transaction("meta").objectStore("meta").get("session"));
  const tx = db.transaction("ev", "readwrite");
  const levels = { bottle: "down_tube", level_before_frac: 1, level_after_frac: 0.75 };
  const body = { volume_l: 0.125, how: "level", drink_id: "d", ...levels };
  const { member, deviceId: device_id } = who;
  for (let i = 0; i < n; i += 1) {
    const id = `01930000-0000-7000-8000-${String(i).padStart(12, "0")}`;
    const event = {
      id, kind: "drank", v: 1, n: i, lamport: i, subject_id: member.rider_id, by: member.id, device_id,
      at_ms: 1780000000000 + i * 60000, tz_min: 120, stage_id: `old-${i % 20}`, body,
    };
    tx.objectStore("ev").put({ id, hash: "0000000000000000", event });
  }
  await new Promise((ok) => { tx.oncomplete = ok; });
  db.close();
}"""


def start(launch, base_url: str, factor: int) -> tuple[float, float]:
    """Return the time [ms] of one cold start without a server, and the main thread's processor time [ms]."""
    context = launch()
    page = context.pages[0]
    page.add_init_script(SEEN)
    slow_down(page, factor)
    cdp = context.new_cdp_session(page)
    cdp.send("Performance.setTimeDomain", {"timeDomain": "threadTicks"})
    cdp.send("Performance.enable")
    page.goto(f"{base_url}/#/road", wait_until="commit")
    page.wait_for_timeout(2500)
    told = {one["name"]: one["value"] for one in cdp.send("Performance.getMetrics")["metrics"]}
    took = float(page.evaluate("window.bandsMs"))
    context.close()
    return took, 1000 * told["TaskDuration"]


def tap_lines(page: Page, book: int) -> None:
    """Print the taps' lines, at each speed."""
    for factor, (bar_ms, _) in BARS_MS.items():
        page.reload()
        Phone(page).expect_road()
        took = taps(page, factor)
        said = f"median {median(took):.0f} ms, p95 {quantiles(took, n=20)[-1]:.0f} ms of {bar_ms} ({len(took)} taps)"
        print(f"tap to durable, {factor}x, {book} facts: {said}")


def start_lines(launch, base_url: str, book: int) -> None:
    """Print the cold starts' lines, at each speed."""
    for factor, (_, bar_ms) in BARS_MS.items():
        start(launch, base_url, factor)
        found = [start(launch, base_url, factor) for _ in range(N_STARTS)]
        took, cpu = [ms for ms, _ in found], [ms for _, ms in found]
        said = f"median {median(took):.0f} ms, worst {max(took):.0f} ms of {bar_ms}; main thread {median(cpu):.0f} ms"
        print(f"cold start offline, {factor}x, {book} facts: {said}")


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
        page = context.pages[0]
        Phone(page).join(rider_link(admin, server))
        Phone(page).expect_linked()
        tap_lines(page, 0)
        server.kill()
        context.close()
        start_lines(launch, server.base_url, 0)
        context = launch()
        page = context.pages[0]
        page.goto(f"{server.base_url}/#/road")
        page.evaluate(FILL, BOOK)
        tap_lines(page, BOOK)
        context.close()
        start_lines(launch, server.base_url, BOOK)


if __name__ == "__main__":
    main()
