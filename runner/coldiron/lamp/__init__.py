"""The lamp as found: its parts, their values and provenances, and the readings taken on the real one."""
