//! Heat of a day, and running totals of it. Pure functions of temperatures and a model: no dates but in `totals`, no I/O.
