"""Exceedances: the transition table, the streaming judge, the register of what stands."""
