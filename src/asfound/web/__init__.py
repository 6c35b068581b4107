"""The browser's door: pages made on this laptop, for this laptop. It holds no formula and no rule of the trade."""
