"""Says in one message what is wrong with the image library, when something is.

`opencv-python` and `opencv-python-headless` put the same files in the same
place. Installed together, or one removed after the other, they leave a cv2
that does not import, or imports with nothing in it.
"""

from importlib.metadata import PackageNotFoundError, version

BUILDS = (
    "opencv-python",
    "opencv-contrib-python",
    "opencv-python-headless",
    "opencv-contrib-python-headless",
)
CURE = (
    "pip uninstall -y "
    + " ".join(BUILDS)
    + "\n      pip install --no-cache-dir opencv-python-headless"
)


def builds_installed() -> list[str]:
    """The OpenCV builds pip knows of, with their versions."""
    found = []
    for name in BUILDS:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            continue
    return found


def check_cv2() -> str:
    """Raise ImportError when cv2 cannot be used; "" or a warning when it can."""
    import cv2

    if not hasattr(cv2, "imdecode"):
        raise ImportError("cv2 is there but empty", name="cv2")
    builds = builds_installed()
    if len(builds) > 1:
        return f"warning: several OpenCV builds overwrite each other here: {', '.join(builds)}"
    return ""


def speaks_of_cv2(error: ImportError) -> bool:
    """Whether an import failed because of cv2 or a system library it wants."""
    return error.name == "cv2" or "cv2" in str(error) or str(error).startswith("lib")


def mended_by(error: ImportError) -> str:
    """The message for a cv2 that cannot be used: what is wrong, and the cure."""
    builds = builds_installed()
    return (
        f"the image library cv2 cannot be used: {error}\n"
        f"  - installed: {', '.join(builds) or 'no OpenCV build'}\n"
        f"  -> keep the build without window code only:\n      {CURE}"
    )
