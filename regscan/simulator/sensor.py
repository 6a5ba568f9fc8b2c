"""Sensor: from light to pixel values. Exposure, tone curve, mosaic, noise, rounding."""

import numpy as np

from regscan.camera.camera import Camera, Mosaic, Tone
from regscan.simulator.chance import stream
from regscan.simulator.jpeg import jpeg_round_trip
from regscan.simulator.look import Sensor

# Rec. 709 luminance: how a mono sensor behind a daylight-like filter weighs the light.
_GREY = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)


def encoded(light: np.ndarray, tone: Tone) -> np.ndarray:
    """Pixel values (0..1) of linear light (0..1); sRGB is IEC 61966-2-1."""
    if tone == "linear":
        return light
    import cv2

    light = np.maximum(np.asarray(light, dtype=np.float32), 0.0)
    curved = 1.055 * cv2.pow(light, 1.0 / 2.4).reshape(light.shape) - 0.055
    return np.asarray(np.where(light <= 0.0031308, 12.92 * light, curved))


def decoded(value: np.ndarray, tone: Tone) -> np.ndarray:
    """Linear light (0..1) of pixel values (0..1)."""
    if tone == "linear":
        return value
    value = np.asarray(value)
    return np.asarray(np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4))


def to_pixels(light: np.ndarray, camera: Camera, sensor: Sensor, seed: int) -> np.ndarray:
    """uint8 or uint16 pixels: rows x cols x 3, or rows x cols for mono and mosaic.

    light is rows x cols x 3, linear, as a share of full scale.
    """
    light = gathered(light, camera, sensor)
    if sensor.full_well > 0.0:
        rng = stream(seed, "shot noise")
        spread = np.sqrt(np.maximum(light, 0.0) / sensor.full_well)
        light = light + spread * rng.standard_normal(light.shape, dtype=np.float32)
    values = encoded(light, camera.tone)
    if sensor.noise_grey > 0.0:
        rng = stream(seed, "read noise")
        noise = rng.standard_normal(light.shape, dtype=np.float32)
        values = values + np.float32(sensor.noise_grey / 255.0) * noise
    full = 255.0 if sensor.bits == 8 else 65535.0
    kind = np.uint8 if sensor.bits == 8 else np.uint16
    pixels = np.asarray(np.rint(np.clip(values, 0.0, 1.0) * full).astype(kind))
    return jpeg_round_trip(pixels, sensor.jpeg) if sensor.jpeg else pixels


def gathered(light: np.ndarray, camera: Camera, sensor: Sensor) -> np.ndarray:
    """The light each pixel counts: rows x cols x 3, or rows x cols for mono and mosaic.

    A mosaic's pattern begins at the top-left pixel.
    """
    if sensor.mono:
        return np.asarray(light @ _GREY)
    return _mosaic(light, camera.mosaic) if camera.mosaic else light


def _mosaic(light: np.ndarray, pattern: Mosaic) -> np.ndarray:
    """One channel per pixel, as the pattern of the top-left 2 x 2 says."""
    raw = np.empty(light.shape[:2], dtype=light.dtype)
    for place, channel in enumerate(pattern):
        row, col = divmod(place, 2)
        raw[row::2, col::2] = light[row::2, col::2, "rgb".index(channel)]
    return raw
