"""How the files of the demonstration dossiers are made: drawn pictures, papers, traces, scan texts."""
