"""A circuit as plain text, for a terminal and for lines about what is wrong."""

from __future__ import annotations

from coldiron.parts.circuit import SUPPLY, Circuit
from coldiron.parts.part import Part


def drawn(circuit: Circuit) -> str:
    """Rails as lines with their parts in series; below, one row for each pair of points.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> print(drawn(load_lamp("kerbside-flood").circuit).splitlines()[0])
    line --[line_fusing]-- line_f --> bridge
    """
    rectifiers = [part for part in circuit if len(part.at) > 2]
    starts = [*SUPPLY, *(part.at[2] for part in rectifiers)]
    lines, shown = [], {id(part) for part in rectifiers}
    for start in dict.fromkeys(starts):
        rail = [(part, point) for part, point in circuit.chain(start) if not part.hidden]
        shown |= {id(part) for part, _ in rail}
        last = rail[-1][1] if rail else start
        into = next((part.name for part in rectifiers if last in part.at[:2]), "")
        line = start + "".join(f" --[{_said(part)}]-- {point}" for part, point in rail)
        lines.append(f"{line} --> {into}" if into else line)
    pairs: dict[tuple[str, ...], list[str]] = {}
    for part in circuit:
        if id(part) not in shown and not part.hidden:
            pairs.setdefault(part.at, []).append(_said(part))
    lines += [f"  {plus} to {minus}: {', '.join(names)}" for (plus, minus), names in pairs.items()]
    return "\n".join(lines)


def _said(part: Part) -> str:
    return part.name if part.works else f"{part.name}, {part.state}"
