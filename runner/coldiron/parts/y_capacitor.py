"""Y capacitor: a safety capacitor to the housing or to earth, built to fail open."""

from __future__ import annotations

from typing import ClassVar

from coldiron.parts.x2_capacitor import X2Capacitor


class YCapacitor(X2Capacitor):
    """A capacitor to the housing or to earth."""

    kind: ClassVar[str] = "Y capacitor"
