"""What the fuel gas is made of, and what it needs to burn. Floor 1."""
