"""Clips of sound with what is truly said in them, and the programs that make and measure them."""
