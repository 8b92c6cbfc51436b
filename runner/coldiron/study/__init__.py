"""A study: one lamp, the changes worth weighing, the benches to try them on, and under which conditions."""
