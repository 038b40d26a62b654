"""The words people type: one lexer, one finder of names, one vocabulary; sentence, scene and moment of a ride."""
