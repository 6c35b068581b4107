"""Where every figure comes from: the register of sources, tables that refuse a row without one, and the proof."""
