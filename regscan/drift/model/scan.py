"""How much each shape, with each pattern over stations, would explain of what is left."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.drift.model.field import Field
from regscan.drift.model.fit import Model, Scale
from regscan.drift.model.menu import Item
from regscan.drift.model.movement import own_at


@dataclass(frozen=True)
class Library:
    """Shapes with their whitened columns, to be scanned again and again.

    own, reference   moments x (stations but the reference) x shapes: each station's own
                     column, and the reference's as it enters that station's offsets.
    """

    items: tuple[Item, ...]
    own: np.ndarray
    reference: np.ndarray

    def __len__(self) -> int:
        """How many shapes."""
        return len(self.items)


def library_of(field: Field, scale: Scale, items: Sequence[Item]) -> Library:
    """The items as columns at the field's moments, whitened as the data are."""
    columns = np.stack([own_at(field, item.shape, item.web) for item in items], axis=2)
    return _whitened(field, scale, items, columns)


def kept_library(field: Field, scale: Scale, items: Sequence[Item]) -> Library:
    """The same for items that come again in every round and channel."""
    key = (len(field.starts), *items)
    if key not in field.shelf:
        columns = [own_at(field, item.shape, item.web) for item in items]
        field.shelf[key] = np.stack(columns, axis=2)
    return _whitened(field, scale, items, field.shelf[key])


def _whitened(field: Field, scale: Scale, items: Sequence[Item], columns: np.ndarray) -> Library:
    own = scale.whiten(columns[:, field.columns])
    reference = np.repeat(columns[:, [field.reference]], len(field.columns), axis=1)
    return Library(tuple(items), own, scale.whiten(reference))


@dataclass(frozen=True)
class Products:
    """For every shape: products of the stations' columns with what is left, and with each other.

    onto    shapes x stations.
    gram    shapes x stations x stations; what the model explains is taken out of both.
    columns index in the scene of each station here: those of the field, then the reference.
    """

    onto: np.ndarray
    gram: np.ndarray
    columns: np.ndarray

    def gains(self, shares: np.ndarray) -> np.ndarray:
        """Gain of every shape with every pattern of one size; shares are patterns x stations."""
        ordered = shares[:, self.columns]
        onto = self.onto @ ordered.T
        spread = np.einsum("pk,ckl,pl->cp", ordered, self.gram, ordered, optimize=True)
        whole = np.einsum("pk,ckk,pk->cp", ordered, self.gram, ordered, optimize=True)
        told = spread > LEAST * np.maximum(whole, 1e-12)
        return np.asarray(np.where(told, onto**2 / np.where(told, spread, 1.0), 0.0))

    def joint_gain(self, shares: np.ndarray) -> np.ndarray:
        """Gain of every shape with one pattern of several sizes (sizes x stations)."""
        ordered = shares[:, self.columns]
        gram = np.einsum("pk,ckl,ql->cpq", ordered, self.gram, ordered, optimize=True)
        return _explained(self.onto @ ordered.T, gram)


LEAST = 1e-5
"""A column of which the model explains all but this share says nothing new."""


def _explained(onto: np.ndarray, gram: np.ndarray) -> np.ndarray:
    """onto' gram^-1 onto for each of many, on a scale where every column has size one."""
    size = np.sqrt(np.maximum(np.einsum("cpp->cp", gram), 1e-12))
    scaled = gram / size[:, :, None] / size[:, None, :] + LEAST * np.eye(gram.shape[1])
    onto = onto / size
    return np.asarray((onto * np.linalg.solve(scaled, onto[:, :, None])[:, :, 0]).sum(axis=1))


def products(library: Library, field: Field, model: Model, left: np.ndarray) -> Products:
    """The products of a library with whitened residuals `left` under a model."""
    own, ref, q = library.own, library.reference, model.precision
    count, stations = len(library), left.shape[1]
    weighed = left @ q
    onto = np.empty((count, stations + 1))
    onto[:, :stations] = np.einsum("njc,nj->cj", own, weighed, optimize=True)
    onto[:, stations] = -np.einsum("njc,nj->c", ref, weighed, optimize=True)
    gram = np.empty((count, stations + 1, stations + 1))
    gram[:, :stations, :stations] = np.einsum("njc,nkc->cjk", own, own, optimize=True) * q
    cross = np.einsum("njc,nkc,kj->cj", own, ref, q, optimize=True)
    gram[:, :stations, stations] = gram[:, stations, :stations] = -cross
    gram[:, stations, stations] = np.einsum("njc,nkc,jk->c", ref, ref, q, optimize=True)
    known = _onto_model(own, ref, model)
    gram -= np.einsum("cam,mk,cbk->cab", known, model.covariance, known, optimize=True)
    return Products(onto, gram, np.append(field.columns, field.reference))


def _onto_model(own: np.ndarray, ref: np.ndarray, model: Model) -> np.ndarray:
    """shapes x stations x model columns: levels first, then movements."""
    count, stations = own.shape[2], own.shape[1]
    known = np.empty((count, stations + 1, stations + model.moves.shape[2]))
    levels = np.einsum("njc,nk->cjk", own, model.levels, optimize=True)
    known[:, :stations, :stations] = levels * model.precision
    reference = np.einsum("njc,nk->cjk", ref, model.levels, optimize=True) * model.precision
    known[:, stations, :stations] = -reference.sum(axis=1)
    known[:, :stations, stations:] = np.einsum("njc,njm->cjm", own, model.weighed, optimize=True)
    known[:, stations, stations:] = -np.einsum("njc,njm->cm", ref, model.weighed, optimize=True)
    return known
