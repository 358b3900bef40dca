"""Moments that come back: each is given the number of the moment that it repeats, so that a riff is
fingered the same each time.

Method
    The longest previous factor of every place in a sequence, from its suffix array (Crochemore &
    Ilie, "Computing longest previous factor in linear time and applications", Information
    Processing Letters 106(2), 2008; here the array is made by doubling).
"""

from collections.abc import Hashable, Sequence

import numpy as np
from numpy.typing import NDArray

#: Fewer moments in a row are a coincidence and no repeat.
SHORTEST = 4


def suffix_array(letters: NDArray[np.int64]) -> NDArray[np.int64]:
    """The starts of the suffixes of ``letters``, shape (n,), in order."""
    rank = np.unique(letters, return_inverse=True)[1].astype(np.int64)
    count, step = len(rank), 1
    order = np.argsort(rank, kind="stable")
    while step < count:
        later = np.full(count, -1, np.int64)
        later[:-step] = rank[step:]
        order = np.lexsort((later, rank))
        new = (np.diff(rank[order]) != 0) | (np.diff(later[order]) != 0)
        rank[order] = np.concatenate([[0], np.cumsum(new)])
        if rank[order[-1]] == count - 1:
            break
        step *= 2
    return order


def _shared(letters: list[int], order: list[int]) -> list[int]:
    """The length of what each suffix shares with the one before it in the array (Kasai's
    method).
    """
    count = len(letters)
    place = [0] * count
    for row, start in enumerate(order):
        place[start] = row
    shared = [0] * count
    length = 0
    for start in range(count):
        if place[start] == 0:
            length = 0
            continue
        other = order[place[start] - 1]
        while max(start, other) + length < count and letters[start + length] == letters[other + length]:
            length += 1
        shared[place[start]] = length
        length = max(length - 1, 0)
    return shared


def longest_previous(letters: Sequence[int]) -> tuple[list[int], list[int]]:
    """For each place: the longest stretch from there that also begins earlier, and where it does
    (-1: nowhere).
    """
    count = len(letters)
    order = suffix_array(np.asarray(letters, np.int64)).tolist()
    shared = _shared(list(letters), order)
    length, source = [0] * count, [-1] * count
    # The nearest suffix above and below in the array that begins earlier; a stack walks each way
    # once.
    for rows, meet in ((range(count), 0), (range(count - 1, -1, -1), 1)):
        stack: list[tuple[int, int]] = []
        for row in rows:
            link = shared[row] if meet == 0 else (shared[row + 1] if row + 1 < count else 0)
            while stack and stack[-1][0] > order[row]:
                link = min(link, stack.pop()[1])
            if stack and link > length[order[row]]:
                length[order[row]], source[order[row]] = link, stack[-1][0]
            stack.append((order[row], link))
    return length, source


def classes(keys: Sequence[Hashable]) -> list[int]:
    """For each of n things the first one that it repeats as part of a stretch of ``SHORTEST`` or
    more; itself if none.
    """
    numbers: dict[Hashable, int] = {}
    letters = [numbers.setdefault(key, len(numbers)) for key in keys]
    same = list(range(len(keys)))
    if len(keys) <= SHORTEST:
        return same
    length, source = longest_previous(letters)
    at = 0
    while at < len(keys):
        if length[at] >= SHORTEST:
            for step in range(length[at]):
                same[at + step] = same[source[at] + step]
            at += length[at]
        else:
            at += 1
    return same
