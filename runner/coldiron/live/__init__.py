"""The live page: a value is moved, real ngspice answers. A server on loopback, and the page it serves."""
