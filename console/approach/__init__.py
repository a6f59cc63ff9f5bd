"""The state model: phases, authority, calls, capture; ``feed`` gives events, ``snapshot`` the rest."""
