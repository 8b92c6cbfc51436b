"""Where everything of a schematic goes: rules that give every part of any circuit a place of its own.

A circuit is drawn in two sections, each of two rails: the mains (line above, neutral below) and the bus (bus
above, minus below), with the rectifier between them; without a rectifier there is one section. A part in a
rail is a cell of the rail (`rails`), a part from rail to rail a column; parts over another one in the same
rail are arches above it. Parts joined by points between the rails make a tower, every point a level of its
own (`towers`). Earth is a rail below all. What no rule covers stands at the right between two flags with the
names of its points. Columns share no x and levels no y, so nothing can meet. A drawing that is too wide goes
on in a second row (`fold`).

1 unit is the body of a resistor; y grows upwards.
"""
