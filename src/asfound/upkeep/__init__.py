"""When work on the engine is due, how parts live, which work shares a stop, what it costs and is worth. Floor 3.

Times here are running hours or calendar days, as the trade counts them; every argument says which.
"""
