"""The lamp as found: its parts, their values and standings, and the readings taken on the real one."""
