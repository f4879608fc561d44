"""How large pages are, how long they take to make and to open; run by hand, on invented riders.

Usage: python tests/benchmarks/pages.py. It should print a rider's page of 8 corners × 20 laps of at most
1.5 MB that opens within 2 s on a processor slowed down four times, the summary of 40 riders × 16 corners of
at most 1 MB, and no more than 20 µs of processor time for a fix.
"""

import runpy
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from lapkit import event, sample_event
from lapkit.findings import RiderReview
from lapkit.measuring.reviews import EventReview
from lapkit.reporter.event_page import event_page
from lapkit.reporter.rider_page import rider_page
from lapkit.units import Units

GROW = runpy.run_path(str(Path(__file__).parents[1] / "reporter" / "grow.py"))
FIXES_A_RUN, ROUNDS = 12_000, 3
SLOW = 4


def cpu_s(make: Callable[[], object]) -> float:
    """Processor time of the quickest of a few rounds, seconds."""
    times = []
    for _ in range(ROUNDS):
        begun = time.process_time()
        make()
        times.append(time.process_time() - begun)
    return min(times)


def opened_s(page: Path, width: int) -> float:
    """From the call to the first frame in Chromium slowed down, seconds; NaN without a Chromium."""
    if not shutil.which("chromedriver"):
        return float("nan")
    from selenium import webdriver

    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium") or shutil.which("google-chrome") or ""
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu"):
        options.add_argument(argument)
    driver = webdriver.Chrome(options, webdriver.ChromeService(shutil.which("chromedriver")))
    try:
        size = {"width": width, "height": 800, "deviceScaleFactor": 2, "mobile": True}
        driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        driver.execute_cdp_cmd("Emulation.setCPUThrottlingRate", {"rate": SLOW})
        driver.get(page.as_uri())
        return 1e-3 * driver.execute_async_script(
            "const done = arguments[0];"
            "requestAnimationFrame(() => setTimeout(() => done(performance.now())))"
        )
    finally:
        driver.quit()


def rider_line(name: str, whole: EventReview, rider: RiderReview, folder: Path) -> str:
    """Size, opening time and making time of a rider's page."""
    page = folder / "rider.html"
    page.write_text(rider_page(whole, rider, units=Units.METRIC).html, encoding="utf-8")
    made = cpu_s(lambda: rider_page(whole, rider, units=Units.METRIC))
    a_fix = 1e6 * made / (FIXES_A_RUN * len(rider.runs))
    size = page.stat().st_size / 1e6
    return f"{name:34s}{size:7.2f} MB {opened_s(page, 360):6.2f} s{made:7.2f} s{a_fix:7.1f} µs"


def main() -> None:
    """Print a line for each kind of page."""
    whole = event(sample_event(), workers=1)
    print(f"{'':34s}{'size':>10s} {'opened':>8s}{'made':>9s}{'a fix':>10s}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        rider = whole.riders[1]
        long = GROW["grown"](rider, 20)
        print(rider_line("rider, 8 corners × 20 laps", whole, long, folder))
        print(rider_line(f"rider, {len(rider.runs)} runs", whole, rider, folder))
        many = GROW["with_runs"](rider, 6)
        print(rider_line("rider, 6 runs", whole, many, folder))
        crowd = GROW["crowd"](whole, 40, 16)
        page = folder / "event.html"
        page.write_text(event_page(crowd, units=Units.METRIC, links={}), encoding="utf-8")
        made = cpu_s(lambda: event_page(crowd, units=Units.METRIC, links={}))
        size = page.stat().st_size / 1e6
        shown = f"{size:7.2f} MB {opened_s(page, 360):6.2f} s{made:7.2f} s"
        print(f"{'event, 40 riders × 16 corners':34s}{shown}")


if __name__ == "__main__":
    main()
