"""Make the README's pictures again from the pages of the sample event: python notebooks/pictures.py

It needs what the pages' own tests need: Chromium with chromedriver, and the test extra.
"""

import base64
import io
import shutil
import tempfile
from pathlib import Path

from PIL import Image
from selenium import webdriver

from lapkit import event, sample_event, write_results

HERE = Path(__file__).parent
COLORS = 24

# Page, picture, width in px, and from where to where: the page's top or an element.
SHOTS = (
    ("rider-marlo", "rider-page", 1000, "body", "main > nav"),
    ("rider-marlo", "rider-corner", 1120, "#corner-6", "#corner-6 .reader"),
    ("event", "event-page", 1000, "body", "#exits"),
)


def browser():
    """Chromium without a window."""
    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium") or shutil.which("google-chrome") or ""
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"):
        options.add_argument(argument)
    return webdriver.Chrome(options, webdriver.ChromeService(shutil.which("chromedriver")))


def shoot(driver, page, picture, width, top, end):
    """One picture, in few colours so that it stays small."""
    size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    driver.get(page.as_uri())
    # Sections off the screen are laid out only when asked for.
    driver.execute_script(
        "document.querySelectorAll('.corner').forEach(e => e.style.contentVisibility = 'visible')"
    )
    place = "return document.querySelector(arguments[0]).getBoundingClientRect().top + scrollY"
    low, high = (max(driver.execute_script(place, at) - 8, 0) for at in (top, end))
    clip = {"x": 0, "y": low, "width": width, "height": high - low, "scale": 1}
    asked = {"format": "png", "captureBeyondViewport": True, "clip": clip}
    raw = base64.b64decode(driver.execute_cdp_cmd("Page.captureScreenshot", asked)["data"])
    image = Image.open(io.BytesIO(raw)).convert("RGB")
    image = image.quantize(COLORS, dither=Image.Dither.NONE)
    image.save(HERE / f"{picture}.png", optimize=True)


def main():
    """Every picture in turn."""
    with tempfile.TemporaryDirectory() as name:
        out = Path(name) / "out"
        write_results(event(sample_event()), out)
        driver = browser()
        try:
            for page, *shot in SHOTS:
                shoot(driver, out / f"{page}.html", *shot)
        finally:
            driver.quit()


if __name__ == "__main__":
    main()
