"""The engine: ngspice in worker processes, a store of finished cases, and what can go wrong with both."""
