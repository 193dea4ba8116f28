"""Texts as vectors: the mean of static token vectors, read straight from an installed package, without any network.

Only two files of the package ``wordllama`` are read (source key ``static-word-vectors``): its tokenizer and its
weights. The package itself is never imported, because its own loader may ask the network.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from safetensors.numpy import load_file
from tokenizers import Tokenizer

from keyhook.errors import UnknownName

PACKAGE = "wordllama"
TOKENIZER, WEIGHTS = "tokenizers/l2_supercat_tokenizer_config.json", "weights/l2_supercat_256.safetensors"

Vectors = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class WordVectors:
    """A tokenizer and one vector a token."""

    tokenizer: Tokenizer
    table: Vectors

    def of(self, texts: Sequence[str]) -> Vectors:
        """Return one unit vector a text: the mean of its tokens' vectors; zeros for a text without tokens."""
        pooled = np.zeros((len(texts), self.table.shape[1]), dtype=np.float32)
        for row, encoded in enumerate(self.tokenizer.encode_batch(list(texts), add_special_tokens=False)):
            if encoded.ids:
                pooled[row] = self.table[np.minimum(encoded.ids, len(self.table) - 1)].mean(axis=0)
        return unit_rows(pooled)


def unit_rows(rows: Vectors) -> Vectors:
    """Return each row with length 1; rows of zeros stay."""
    lengths = np.linalg.norm(rows, axis=1, keepdims=True)
    lengths[lengths == 0] = 1
    unit: Vectors = (rows / lengths).astype(np.float32)
    return unit


@cache
def word_vectors() -> WordVectors:
    """Return the vectors of the installed package, loaded once.

    Raises
    ------
    UnknownName
        The package or one of its two files is not there.
    """
    spec = find_spec(PACKAGE)
    places = spec.submodule_search_locations if spec else None
    folder = Path(next(iter(places))) if places else Path(PACKAGE)
    for name in (TOKENIZER, WEIGHTS):
        if not (folder / name).is_file():
            raise UnknownName("The word vectors are not installed", seen=name, todo=f"Install the package {PACKAGE}")
    tokenizer = Tokenizer.from_file(str(folder / TOKENIZER))
    tokenizer.no_padding()
    tokenizer.no_truncation()
    tensors = load_file(folder / WEIGHTS)
    return WordVectors(tokenizer, next(iter(tensors.values())).astype(np.float32))
