"""Model: the numbers that a grid's frames are fitted with, as one vector, and what they predict.

Each frame shows the grid lying somewhere: turned and shifted. Where it lies in the web's
plane in every frame, one plane (pixel sizes, shear, keystone) serves them all; where it
was held askew, each frame has its own plane and only the lens is shared.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from regscan.camera.camera import Camera
from regscan.camera.lens import Lens

PLANE = 5  # numbers of a plane: two sizes, shear, keystone (row, col)
POSE = 3  # angle of the grid, place of its middle (row, col)


@dataclass(frozen=True, slots=True)
class Terms:
    """Which numbers of the lens are free."""

    radial: int = 1
    tangential: bool = False
    centre: bool = False

    @property
    def count(self) -> int:
        """How many numbers that is."""
        return self.radial + 2 * self.tangential + 2 * self.centre


@dataclass(frozen=True)
class Layout:
    """How the vector is laid out: lens terms, then plane(s), then poses.

    start       lens of the right frame size, its centre mid-frame.
    facing      the web's axes in the frame: rows of a signed permutation, (circumferential,
                lateral) = facing @ (row, col).
    one_plane   the grid lies in the web's plane in every frame.
    """

    start: Lens
    facing: np.ndarray
    terms: Terms
    frames: int
    one_plane: bool

    @property
    def planes(self) -> int:
        """How many planes there are."""
        return 1 if self.one_plane else self.frames

    @property
    def size(self) -> int:
        """Length of the vector."""
        return self.terms.count + PLANE * self.planes + POSE * self.frames

    def plane_at(self, frame: int) -> int:
        """Where a frame's plane begins."""
        return self.terms.count + PLANE * (0 if self.one_plane else frame)

    def pose_at(self, frame: int) -> int:
        """Where a frame's pose begins."""
        return self.terms.count + PLANE * self.planes + POSE * frame

    def numbers_of(self, frame: int) -> list[int]:
        """The numbers that a frame's nodes hang on."""
        plane, pose = self.plane_at(frame), self.pose_at(frame)
        return [*range(self.terms.count), *range(plane, plane + PLANE), *range(pose, pose + POSE)]

    def carried(self, plainer: "Layout", vector: np.ndarray) -> np.ndarray:
        """The vector of a plainer lens in this layout, the terms it had not at nothing."""
        own = np.zeros(self.size)
        own[: plainer.terms.radial] = vector[: plainer.terms.radial]
        if plainer.terms.tangential:
            at, from_ = self.terms.radial, plainer.terms.radial
            own[at : at + 2] = vector[from_ : from_ + 2]
        own[self.terms.count :] = vector[plainer.terms.count :]
        return own

    def lens(self, vector: np.ndarray, frame: int = 0) -> Lens:
        """The lens as a frame's plane is seen through it."""
        terms, at = self.terms, self.terms.radial
        plane = vector[self.plane_at(frame) :]
        lens = replace(
            self.start,
            radial_px=tuple(float(v) for v in vector[:at]),
            shear_px=float(plane[2]),
            keystone_px=(float(plane[3]), float(plane[4])),
        )
        if terms.tangential:
            lens = replace(lens, tangential_px=(float(vector[at]), float(vector[at + 1])))
            at += 2
        if terms.centre:
            row, col = self.start.centre_px
            lens = replace(lens, centre_px=(row + float(vector[at]), col + float(vector[at + 1])))
        return lens

    def px_per_mm(self, vector: np.ndarray, frame: int = 0) -> tuple[float, float]:
        """Pixels per mm along rows and along columns."""
        plane, size = vector[self.plane_at(frame) :], self.start.radius_px
        return math.exp(-plane[0] / size), math.exp(-plane[1] / size)

    def angle(self, vector: np.ndarray, frame: int) -> float:
        """Angle in rad from the web's nominal axes to the grid's, as Camera.rotation_deg turns."""
        return float(vector[self.pose_at(frame)]) / self.start.radius_px

    def predicted(self, vector: np.ndarray, frame: int, grid_mm: np.ndarray) -> np.ndarray:
        """N x 2 straight places of a frame's nodes, given in mm about the grid's middle."""
        angle = self.angle(vector, frame)
        cos, sin = math.cos(angle), math.sin(angle)
        # web = facing @ turn @ sizes @ straight, so straight is the same backwards.
        turn = np.array([[cos, -sin], [sin, cos]])
        in_frame = grid_mm @ self.facing @ turn
        at = self.pose_at(frame)
        return np.asarray(in_frame * self.px_per_mm(vector, frame) + vector[at + 1 : at + 3])

    def camera(self, vector: np.ndarray, like: Camera) -> Camera:
        """The camera that the first frame's plane and pose describe."""
        row, col = self.px_per_mm(vector)
        return replace(
            like,
            row_mm_per_px=1.0 / row,
            col_mm_per_px=1.0 / col,
            rotation_deg=math.degrees(self.angle(vector, 0)),
            lens=self.lens(vector),
        )


def facing_of(camera: Camera) -> np.ndarray:
    """The web's axes in a frame of this camera before its small turn: 2 x 2."""
    plain = replace(camera, row_mm_per_px=1.0, col_mm_per_px=1.0, rotation_deg=0.0, lens=None)
    return np.rint(np.array(plain.matrix))
