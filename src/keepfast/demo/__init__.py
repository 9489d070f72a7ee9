"""An invented spring survey, for trying everything out. No person, place name or number in it is real."""
