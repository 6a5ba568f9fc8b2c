"""A page as PDF, printed by a browser without a window where one is installed."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

BROWSERS = ("chromium", "chromium-browser", "headless-shell", "chrome-headless-shell")
SECONDS = 120


def print_pdf(page: Path, pdf: Path) -> str:
    """Print an HTML file as PDF; "" when done, else why not, in words. Nothing is raised."""
    browser = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if browser is None:
        return "no headless Chromium is installed; print the HTML page instead"
    with tempfile.TemporaryDirectory(prefix="regscan-") as scratch:
        part = Path(scratch) / "page.pdf"
        command = [
            browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
            f"--user-data-dir={scratch}/profile", f"--print-to-pdf={part}", page.resolve().as_uri(),
        ]  # fmt: skip
        try:
            done = subprocess.run(command, capture_output=True, timeout=SECONDS, check=False)
        except (OSError, subprocess.TimeoutExpired) as fault:
            return f"{Path(browser).name} could not print it ({type(fault).__name__})"
        if done.returncode or not part.exists():
            return f"{Path(browser).name} could not print it (it left with {done.returncode})"
        draft = pdf.with_name(f".{pdf.name}.{os.getpid()}.part")
        try:
            shutil.copyfile(part, draft)
            os.replace(draft, pdf)
        except OSError as fault:
            draft.unlink(missing_ok=True)
            return f"it could not be written ({fault.strerror})"
    return ""
