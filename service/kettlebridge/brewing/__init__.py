"""The trade's arithmetic, pure: water, mash, gravity, bitterness, yeast, heat, and the brew sheet made of them.

Litres are litres at 20 °C unless a name says otherwise. Each formula names its published source, or "from memory".
"""
