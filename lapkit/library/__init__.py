"""What a notebook asks for, in a few words each; :mod:`lapkit` names all of it."""
