"""An invented school, made from the shipped files and a seed, so that the main job can be seen.

Everything here is invented; whatever is printed from it says so.
"""
