"""Ask a small trained network that the package carries.

In:    the file of its weights (ONNX) and one picture as the network takes it.
Out:   its answer, as an array.
Fails: never for the package's own files.
"""

from __future__ import annotations

import threading
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

SURE_LOGIT = 30.0  # beyond it single precision knows no other chance; far beyond, exp overflows
_ONE_AT_A_TIME = threading.Lock()  # a network keeps its input between two calls


@cache
def _network(weights: Path) -> Any:
    return cv2.dnn.readNetFromONNX(np.frombuffer(weights.read_bytes(), dtype=np.uint8))


def chance_of(logits: NDArray[np.float32]) -> NDArray[np.float32]:
    """Chances 0..1 of a network's logits, of any shape."""
    return np.asarray(1 / (1 + np.exp(-np.clip(logits, -SURE_LOGIT, SURE_LOGIT))), dtype=np.float32)


def ask(weights: Path, picture: NDArray[np.float32]) -> NDArray[np.float32]:
    """The network's answer to (1, channels, H, W) numbers; it is loaded once and asked one at a time."""
    with _ONE_AT_A_TIME:
        network = _network(weights)
        network.setInput(picture)
        return np.asarray(network.forward(), dtype=np.float32)
