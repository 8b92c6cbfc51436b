"""Single faults of a lamp: which there are, by what word a person names them, and the lamp that has them."""

from __future__ import annotations

from coldiron.faults.catalogue import EVERY, Fault, UnknownFault, fault_named, faults_named, single_faults

__all__ = ["EVERY", "Fault", "UnknownFault", "fault_named", "faults_named", "single_faults"]
