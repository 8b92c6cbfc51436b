"""The vectors of one run as a frame."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from coldiron.engine.waves import Array


def waves_frame(vectors: Mapping[str, Array], label: str = "") -> pd.DataFrame:
    """One row a time point, which is the index, one column a vector, the unit in each heading.

    Parameters
    ----------
    vectors : mapping
        "time" [s] and vectors by the name the deck saved them under.
    label : str
        Which run; a sweep over rooms has their temperature in the place of time.

    Examples
    --------
    >>> import numpy as np
    >>> frame = waves_frame({"time": np.zeros(2), "v(bus)": np.ones(2), "i(vinput)": np.ones(2)})
    >>> frame.index.name, list(frame)
    ('time [s]', ['v(bus) [V]', 'i(vinput) [A]'])
    """
    time = "ambient [°C]" if label == "ambient sweep" else "time [s]"
    units = {"v": " [V]", "i": " [A]"}
    columns = {
        f"{name}{units[name[0]]}" if name[1:2] == "(" else name: values
        for name, values in vectors.items()
        if name != "time"
    }
    return pd.DataFrame(columns, index=pd.Index(vectors["time"], name=time))
