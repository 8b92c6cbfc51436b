"""In which order parts come along two rails: what hangs on the present points, then what is next in one."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.pictures.layout.rails import RAILS, Rail, Section
from coldiron.pictures.layout.sides import Chain, towers
from coldiron.pictures.layout.towers import build
from coldiron.pictures.wiring import Drawn


class Sweep:
    """Places parts along the two rails of a section; `loose` is what no rule covers."""

    def __init__(
        self, section: Section, parts: Sequence[Drawn], top: Chain, bottom: Chain, ground: str
    ) -> None:
        self.section, self.ground = section, ground
        self.order = list(parts)
        self.rails: dict[Rail, Chain] = {"top": top, "bottom": bottom}
        self.done: dict[Rail, int] = {"top": 0, "bottom": 0}
        self.short = 0.0
        self.towers, self.loose = towers(
            [part for part in parts if part not in top.parts + bottom.parts],
            top.points,
            bottom.points,
            ground,
        )
        taken = {part for tower in self.towers for part in tower.parts} | set(self.loose)
        taken |= {*top.parts, *bottom.parts}
        self.arches: dict[Drawn, list[Drawn]] = {}
        self.columns: list[Drawn] = []
        for part in parts:
            if part not in taken:
                self._sorted_in(part)

    def _sorted_in(self, part: Drawn) -> None:
        """From rail to rail, or over one part of a rail."""
        for chain in self.rails.values():
            if set(part.at) <= set(chain.points):
                i, j = sorted(chain.points.index(point) for point in part.at)
                if j == i + 1:
                    self.arches.setdefault(chain.parts[i], []).append(part)
                else:
                    self.loose.append(part)
                return
        self.columns.append(part)

    def here(self, rail: Rail) -> str:
        """Point that a rail has come to."""
        return self.rails[rail].points[self.done[rail]]

    def run(self) -> list[Drawn]:
        """Place everything; returns what no rule covers."""
        for rail in RAILS:
            self.section.label(rail, self.here(rail))
        while True:
            self._hanging()
            onward = [rail for rail in RAILS if self.done[rail] < len(self.rails[rail].parts)]
            if not onward:
                break
            # Nothing is waited for on a rail that goes on.
            free = [rail for rail in onward if not self._waited_for(self.here(rail))] or onward
            rail = min(free, key=lambda rail: self.order.index(self._next(rail)))
            part = self._next(rail)
            self.section.series(rail, part, self.arches.get(part, []), self.here(rail))
            self.done[rail] += 1
            self.section.label(rail, self.here(rail))
        left = [part for tower in self.towers for part in tower.parts]
        return [*self.loose, *self.columns, *left]

    def _next(self, rail: Rail) -> Drawn:
        return self.rails[rail].parts[self.done[rail]]

    def _waited_for(self, point: str) -> bool:
        return any(point in part.at for part in self.columns) or any(
            point in (tower.top, tower.low) for tower in self.towers
        )

    def _hanging(self) -> None:
        """Columns and towers between the present points; towers that make light come last."""
        top, bottom = self.here("top"), self.here("bottom")
        for part in [part for part in self.columns if set(part.at) == {top, bottom}]:
            self.section.shunt(part, top)
            self.columns.remove(part)
        for part in [
            part for part in self.columns if self.ground in part.at and {top, bottom} & set(part.at)
        ]:
            self.section.to_earth(part, "top" if top in part.at else "bottom", self.ground)
            self.columns.remove(part)
        ready = [tower for tower in self.towers if (tower.top, tower.low) == (top, bottom)]
        for tower in sorted(ready, key=lambda tower: any(part.symbol == "string" for part in tower.parts)):
            self.short = max(self.short, build(self.section, tower))
            self.towers.remove(tower)
