"""Thin a mesh to what a phone can show at ten metres: vertices of one small cell become one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def thin(
    vertices_m: Floats, faces: NDArray[np.int64], cell_m: Floats
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the vertices to keep and the faces over them.

    Parameters
    ----------
    vertices_m : array (n_vertices, 3)
    faces : int array (n_faces, 3)
    cell_m : array (n_vertices,)
        Edge of the cell around each vertex; neighbours with another edge never merge.

    Returns
    -------
    kept : int array (n_kept,)
        Rows of ``vertices_m``, of each cell the vertex nearest to the cell's mean.
    thinned : int array (n_thinned, 3)
        Faces as rows of ``kept``; faces that collapsed are gone.
    """
    key = np.column_stack([np.floor(vertices_m / cell_m[:, None]), np.round(cell_m * 1e4)])
    _, cell = np.unique(key, axis=0, return_inverse=True)
    cell = cell.ravel()
    n_cells = int(cell.max()) + 1
    mean = np.zeros((n_cells, 3))
    np.add.at(mean, cell, vertices_m)
    mean /= np.bincount(cell, minlength=n_cells)[:, None]
    off = np.linalg.norm(vertices_m - mean[cell], axis=1)
    order = np.lexsort((off, cell))
    kept = order[np.concatenate([[True], np.diff(cell[order]) > 0])]
    thinned = cell[faces]
    a, b, c = thinned.T
    thinned = thinned[(a != b) & (b != c) & (a != c)]
    return kept, thinned
