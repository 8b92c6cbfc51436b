"""Topologies: which parts a lamp of a class has, where they sit, and how a first state is guessed."""
